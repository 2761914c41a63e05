"""The file: a tar with a manifest that says what belongs in it and the SHA-256 of each part."""

import hashlib
import io
import json
import os
import tarfile
from collections.abc import Iterator
from contextlib import contextmanager
from dataclasses import dataclass
from pathlib import Path
from typing import IO, Any

MANIFEST = "manifest.json"
FORMAT = 1
CHUNK = 1 << 20


class BackupError(Exception):
    """Said to whoever asked for it, in words that say what to do."""


@dataclass(frozen=True)
class Manifest:
    made_at: str
    engine: str
    migrations: list[list[str]]
    records: int
    parts: dict[str, str]

    def to_json(self) -> bytes:
        return json.dumps({"format": FORMAT, **self.__dict__}, indent=1, sort_keys=True).encode()

    @classmethod
    def from_json(cls, text: bytes) -> "Manifest":
        found: dict[str, Any] = json.loads(text)
        if found.pop("format", None) != FORMAT:
            raise BackupError("This backup was made by another version of the program.")
        return cls(**found)


class Writer:
    """Written beside its place, made durable, and put there whole."""

    def __init__(self, path: Path):
        self.path, self.draft = path, path.with_name(f".{path.name}-{os.getpid()}")
        self.parts: dict[str, str] = {}

    def __enter__(self) -> "Writer":
        self.path.parent.mkdir(parents=True, exist_ok=True)
        self.file = os.fdopen(os.open(self.draft, os.O_WRONLY | os.O_CREAT, 0o600), "wb")
        self.tar = tarfile.open(fileobj=self.file, mode="w")
        return self

    def add(self, name: str, source: Path) -> None:
        """Read once: what is written is what was summed."""
        with source.open("rb") as file:
            info = tarfile.TarInfo(name)
            info.size, info.mode = os.fstat(file.fileno()).st_size, 0o600
            summing = _Summing(file)
            self.tar.addfile(info, summing)  # type: ignore[arg-type]
        self.parts[name] = summing.sum.hexdigest()

    def end(self, manifest: Manifest) -> None:
        content = manifest.to_json()
        info = tarfile.TarInfo(MANIFEST)
        info.size, info.mode = len(content), 0o600
        self.tar.addfile(info, io.BytesIO(content))

    def __exit__(self, kind, error, trace) -> None:
        try:
            self.tar.close()
            self.file.flush()
            os.fsync(self.file.fileno())
            self.file.close()
            if kind is None:
                os.replace(self.draft, self.path)
                _sync_folder(self.path.parent)
        finally:
            self.draft.unlink(missing_ok=True)


class _Summing:
    def __init__(self, file: IO[bytes]):
        self.file, self.sum = file, hashlib.sha256()

    def read(self, size: int = -1) -> bytes:
        content = self.file.read(size)
        self.sum.update(content)
        return content


def _sync_folder(folder: Path) -> None:
    handle = os.open(folder, os.O_RDONLY)
    try:
        os.fsync(handle)
    finally:
        os.close(handle)


@contextmanager
def opened(path: Path) -> Iterator[tuple[tarfile.TarFile, Manifest]]:
    try:
        with tarfile.open(path, "r:") as tar:
            last = tar.getmembers()[-1]
            if last.name != MANIFEST:
                raise BackupError(f"{path} ends before its end; it was not written to the end.")
            manifest = tar.extractfile(last)
            assert manifest is not None
            yield tar, Manifest.from_json(manifest.read())
    except FileNotFoundError as error:
        raise BackupError(f"There is no file {path}.") from error
    except (tarfile.TarError, IndexError, ValueError, TypeError) as error:
        raise BackupError(f"{path} is no backup of a book, or is damaged ({error}).") from error


def unpack(path: Path, folder: Path) -> Manifest:
    """Every part beside each other in `folder`, each held to its sum."""
    with opened(path) as (tar, manifest):
        if {member.name for member in tar.getmembers()} != {MANIFEST, *manifest.parts}:
            raise BackupError(f"{path} does not hold what its manifest says.")
        for name, digest in manifest.parts.items():
            target = _within(folder, name)
            target.parent.mkdir(parents=True, exist_ok=True)
            source = tar.extractfile(name)
            if source is None:
                raise BackupError(f"{path}: {name} is no file.")
            _copy(source, target, f"{path}: {name}", digest)
        (folder / MANIFEST).write_bytes(manifest.to_json())
    return manifest


def _within(folder: Path, name: str) -> Path:
    target = (folder / name).resolve()
    if not target.is_relative_to(folder.resolve()):
        raise BackupError(f"A part of this backup would lie outside its folder: {name}")
    return target


def _copy(source: IO[bytes], target: Path, said: str, digest: str) -> None:
    summing = _Summing(source)
    with target.open("wb") as file:
        while content := summing.read(CHUNK):
            file.write(content)
        file.flush()
        os.fsync(file.fileno())
    if summing.sum.hexdigest() != digest:
        raise BackupError(f"{said} is damaged: it has not the sum that was written with it.")
