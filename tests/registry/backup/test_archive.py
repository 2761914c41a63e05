"""The file of a backup is whole or refused, and what goes out of date goes."""

import io
import os
import tarfile

import pytest

from registry.backup.archive import BackupError, Manifest, Writer, unpack
from registry.backup.making import keep_latest


@pytest.fixture
def file(tmp_path):
    part = tmp_path / "part"
    part.write_bytes(b"twenty bytes of book" * 50)
    with Writer(tmp_path / "book.tar") as writer:
        writer.add("files/imports/part.csv", part)
        writer.end(
            Manifest("2026-06-01", "sqlite", [["registry", "0001_initial"]], 7, writer.parts)
        )
    return tmp_path / "book.tar"


def test_what_was_put_in_comes_out(file, tmp_path):
    manifest = unpack(file, tmp_path / "out")
    assert (manifest.records, manifest.engine) == (7, "sqlite")
    assert (tmp_path / "out/files/imports/part.csv").read_bytes()[:6] == b"twenty"
    assert oct(file.stat().st_mode)[-3:] == "600"


def test_a_changed_byte_is_found(file, tmp_path):
    content = bytearray(file.read_bytes())
    content[600] ^= 1  # within the part, behind its header of 512
    file.write_bytes(content)
    with pytest.raises(BackupError, match="part.csv is damaged"):
        unpack(file, tmp_path / "out")


@pytest.mark.parametrize("kept", [0, 100, 700, 2000])
def test_a_file_that_ends_too_early_is_refused(file, tmp_path, kept):
    file.write_bytes(file.read_bytes()[:kept])
    with pytest.raises(BackupError):
        unpack(file, tmp_path / "out")


def test_a_part_may_not_lie_outside_its_folder(tmp_path):
    part = tmp_path / "part"
    part.touch()
    with Writer(tmp_path / "b.tar") as writer:
        writer.add("../outside", part)
        writer.end(Manifest("2026-06-01", "sqlite", [], 0, writer.parts))
    with pytest.raises(BackupError, match="outside"):
        unpack(tmp_path / "b.tar", tmp_path / "out")


def test_a_part_that_the_manifest_does_not_name_is_refused(file, tmp_path):
    (tmp_path / "more").write_text("x")
    with tarfile.open(file) as tar:
        members = [(member, tar.extractfile(member).read()) for member in tar.getmembers()]
    with tarfile.open(file, "w") as tar:
        tar.add(tmp_path / "more", arcname="files/more")
        for member, content in members:
            tar.addfile(member, io.BytesIO(content))
    with pytest.raises(BackupError, match="what its manifest says"):
        unpack(file, tmp_path / "out")


def test_a_backup_that_fails_leaves_no_file(tmp_path):
    with pytest.raises(RuntimeError), Writer(tmp_path / "b.tar"):
        raise RuntimeError("the disk is full")
    assert list(tmp_path.iterdir()) == []


def test_the_latest_stay_and_what_a_killed_one_left_goes(tmp_path):
    for day in range(1, 6):
        (tmp_path / f"riserbook-2026060{day}-023000.tar").touch()
    (tmp_path / "notes.txt").touch()
    old, young = tmp_path / ".riserbook-20260601-023000.tar-7", tmp_path / ".backup-young"
    old.touch()
    os.utime(old, (0, 0))
    young.mkdir()
    assert keep_latest(tmp_path, 2) == 3
    assert sorted(path.name for path in tmp_path.iterdir()) == [
        ".backup-young", "notes.txt", "riserbook-20260604-023000.tar",
        "riserbook-20260605-023000.tar",
    ]  # fmt: skip
