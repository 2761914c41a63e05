"""The program of the charts: built here from the installed package, once, and only when needed."""

from io import StringIO

import pytest
from django.contrib.staticfiles import finders
from django.core.management import call_command
from django.test import override_settings

from reports import bundle

pytestmark = pytest.mark.thorough


@pytest.fixture(scope="module")
def built(tmp_path_factory):
    """The bundle in a folder of its own where one of another version stood, built by the command,
    which was then asked once more."""
    said = StringIO()
    with override_settings(BUILT_STATIC_DIR=tmp_path_factory.mktemp("bundle")):
        path = bundle.bundle_path()
        path.parent.mkdir()
        path.write_text("/* vl-convert 0.1 */\n", encoding="utf-8")
        call_command("build_chart_bundle", stdout=said)
        call_command("build_chart_bundle", stdout=said)
        return path, said.getvalue()


def test_it_is_built_again_when_it_is_of_another_version_and_only_then(built):
    path, said = built
    assert [line.split()[0] for line in said.splitlines()] == ["Built", "Up"]
    text = path.read_bytes()
    assert text.startswith(bundle.STAMP.encode()) and b"vegaEmbed" in text
    assert [each.name for each in path.parent.iterdir()] == [path.name]


def test_there_need_be_none_before(tmp_path, settings):
    settings.BUILT_STATIC_DIR = tmp_path
    assert not bundle.is_current()


def test_it_names_no_address_it_could_be_fetched_from(built):
    text = built[0].read_text(encoding="utf-8")
    assert "sourceMappingURL" not in text
    assert not any(word in text for word in ("jsdelivr", "unpkg", "cdnjs", "googleapis"))


def test_the_static_files_are_looked_for_where_it_is_built(settings):
    call_command("build_chart_bundle", verbosity=0)
    assert finders.find(bundle.NAME) == str(bundle.bundle_path())


def test_where_it_was_never_collected_the_page_offers_nothing_it_cannot_do(tmp_path, settings):
    """With hashed names a file that was not collected has no address."""
    manifest = {"staticfiles": {"BACKEND": MANIFEST}}
    with override_settings(
        STORAGES=settings.STORAGES | manifest, STATIC_ROOT=tmp_path, DEBUG=False
    ):
        assert bundle.bundle_url() == ""
    assert bundle.bundle_url().endswith(bundle.NAME)


MANIFEST = "django.contrib.staticfiles.storage.ManifestStaticFilesStorage"
