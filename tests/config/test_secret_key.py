import multiprocessing
import stat

import pytest
from django.core.exceptions import ImproperlyConfigured

from config.secret_key import NAME, PUBLISHED, secret_key


def test_a_key_is_made_once_and_kept_for_its_owner_alone(tmp_path):
    first = secret_key("", tmp_path)
    assert len(first) > 80
    assert secret_key("", tmp_path) == first
    assert stat.S_IMODE((tmp_path / NAME).stat().st_mode) == 0o600
    assert [path.name for path in tmp_path.iterdir()] == [NAME]


def test_two_books_have_two_keys(tmp_path):
    folders = [tmp_path / name for name in ("one", "two")]
    for folder in folders:
        folder.mkdir()
    assert len({secret_key("", folder) for folder in folders}) == 2


def test_processes_that_start_at_once_agree(tmp_path):
    with multiprocessing.get_context("fork").Pool(4) as pool:
        keys = pool.starmap(secret_key, [("", tmp_path)] * 16)
    assert len(set(keys)) == 1


def test_a_key_that_is_given_is_taken_and_nothing_is_kept(tmp_path):
    assert secret_key("x" * 60, tmp_path) == "x" * 60
    assert not list(tmp_path.iterdir())


def test_the_key_that_was_published_is_refused(tmp_path):
    with pytest.raises(ImproperlyConfigured, match="published"):
        secret_key(PUBLISHED, tmp_path)


def test_a_file_that_lost_its_key_is_not_taken_for_one(tmp_path):
    (tmp_path / NAME).write_text("\n")
    with pytest.raises(ImproperlyConfigured, match="from a backup"):
        secret_key("", tmp_path)


def test_a_folder_that_cannot_be_written_says_what_to_do(tmp_path):
    with pytest.raises(ImproperlyConfigured, match="set SECRET_KEY"):
        secret_key("", tmp_path / "missing")
