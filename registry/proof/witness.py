"""A small witness after C2SP `tlog-witness`, for a machine of somebody else than the book's keeper.

    python -m registry.proof.witness FOLDER --name witness.example/w1 --log KEY [--port 8047]

It cosigns a checkpoint of a log that it knows when that goes on from all it cosigned before, and
remembers the last one in FOLDER, beside its own key. It sees no record, only what they hash to.
"""

import argparse
import fcntl
import os
import sys
import time
from base64 import b64decode, b64encode
from collections.abc import Callable, Iterator, Sequence
from contextlib import contextmanager
from dataclasses import dataclass
from hashlib import sha256
from http.server import BaseHTTPRequestHandler, ThreadingHTTPServer
from pathlib import Path

from registry.proof.checkpoints import MOST_HASHES, NUMBER, Checkpoint
from registry.proof.notes import (
    COSIGNATURE,
    LONGEST,
    Note,
    NoteError,
    Signer,
    Verifier,
    from_base64,
    parse_note,
)
from registry.proof.tree import EMPTY_ROOT, ProofError, check_consistency

ADD, SIZE_TYPE, TEXT_TYPE = "/add-checkpoint", "text/x.tlog.size", "text/plain; charset=utf-8"
PORT = 8047
NAME_OF_KEY = "witness.key"


@dataclass(frozen=True)
class Answer:
    status: int
    body: str = ""
    content_type: str = TEXT_TYPE


class Refused(Exception):
    """A request that is not cosigned, and the answer that says why."""

    def __init__(self, status: int, body: str = "", content_type: str = TEXT_TYPE):
        self.answer = Answer(status, body, content_type)
        super().__init__(body)


@dataclass(frozen=True)
class Request:
    """What a log asks: to cosign a checkpoint that goes on from the one of size `old`."""

    old: int
    proof: tuple[bytes, ...]
    note: Note
    checkpoint: Checkpoint

    @classmethod
    def from_text(cls, text: str) -> "Request":
        head, _, note = text.partition("\n\n")
        first, *lines = head.split("\n")
        old = first.removeprefix("old ")
        if not first.startswith("old ") or not NUMBER.fullmatch(old) or len(lines) > MOST_HASHES:
            raise NoteError("A request begins with the old size, a proof and an empty line.")
        parsed = parse_note(note)
        checkpoint = Checkpoint.from_text(parsed.text)
        return cls(int(old), tuple(map(from_base64, lines)), parsed, checkpoint)

    def __str__(self) -> str:
        proof = "".join(f"{b64encode(one).decode()}\n" for one in self.proof)
        return f"old {self.old}\n{proof}\n{self.note}"


@dataclass(frozen=True)
class Witness:
    folder: Path
    signer: Signer
    logs: Sequence[Verifier]

    def add_checkpoint(self, text: str, now: int) -> Answer:
        """The cosignature, once the checkpoint is on the disk; or what is wrong."""
        try:
            request = self._known(text)
            with self._alone():
                self._check_goes_on(request)
                cosigned = self.signer.cosign(request.note.text, now)
                self._keep(request, request.note.signed(cosigned))
        except Refused as refused:
            return refused.answer
        return Answer(200, cosigned.line)

    def latest(self, origin_hash: str) -> Answer:
        """The last checkpoint that was cosigned for a log."""
        is_hash = len(origin_hash) == 64 and origin_hash.isalnum()
        path = self.folder / f"{origin_hash}.checkpoint"
        if not is_hash or not path.exists():
            return Answer(404)
        return Answer(200, path.read_text(encoding="utf-8"))

    def _known(self, text: str) -> Request:
        try:
            request = Request.from_text(text)
        except NoteError as error:
            raise Refused(400, f"{error}\n") from error
        keys = [key for key in self.logs if key.name == request.checkpoint.origin]
        if not keys:
            raise Refused(404, "This witness does not know the log.\n")
        try:
            request.note.verified(keys)
        except NoteError as error:
            raise Refused(403, f"{error}\n") from error
        if request.old > request.checkpoint.size:
            raise Refused(400, "The old size is above the size of the checkpoint.\n")
        return request

    def _check_goes_on(self, request: Request) -> None:
        before = self._before(request.checkpoint.origin)
        if request.old != before.size:
            raise Refused(409, f"{before.size}\n", SIZE_TYPE)
        new = request.checkpoint
        if new.size == 0 and new.root != EMPTY_ROOT:
            raise Refused(422, "An empty log has another root.\n")
        try:
            check_consistency(before.size, new.size, request.proof, before.root, new.root)
        except ProofError as error:
            raise Refused(422, f"{error}\n") from error

    def _before(self, origin: str) -> Checkpoint:
        path = self._path(origin)
        if not path.exists():
            return Checkpoint(origin, 0, EMPTY_ROOT)
        return Checkpoint.from_text(parse_note(path.read_text(encoding="utf-8")).text)

    def _path(self, origin: str) -> Path:
        return self.folder / f"{sha256(origin.encode()).hexdigest()}.checkpoint"

    def _keep(self, request: Request, note: Note) -> None:
        """On the disk before anybody is told: a witness that forgets would cosign a second past."""
        path = self._path(request.checkpoint.origin)
        own = {self.signer.name, request.checkpoint.origin}
        kept = Note(note.text, tuple(one for one in note.signatures if one.name in own))
        part = path.with_suffix(".part")
        with part.open("w", encoding="utf-8") as file:
            file.write(str(kept))
            file.flush()
            os.fsync(file.fileno())
        part.replace(path)
        folder = os.open(self.folder, os.O_RDONLY)
        try:
            os.fsync(folder)
        finally:
            os.close(folder)

    @contextmanager
    def _alone(self) -> Iterator[None]:
        """One request at a time, whichever process or thread it came to."""
        with (self.folder / "lock").open("w") as lock:
            fcntl.flock(lock, fcntl.LOCK_EX)
            yield


def open_witness(folder: Path, name: str, logs: Sequence[Verifier]) -> Witness:
    """A witness with the key in its folder; made there, for nobody else to read, the first time."""
    folder.mkdir(parents=True, exist_ok=True)
    path = folder / NAME_OF_KEY
    if not path.exists():
        made = Signer.generate(name, COSIGNATURE)
        seed = b64encode(made.key.private_bytes_raw())
        descriptor = os.open(path, os.O_WRONLY | os.O_CREAT | os.O_EXCL, 0o600)
        with os.fdopen(descriptor, "wb") as file:
            file.write(name.encode() + b"\n" + seed + b"\n")
    kept, seed = path.read_bytes().split(b"\n")[:2]
    if kept.decode() != name:
        raise NoteError(f"The key in {path} is that of {kept.decode()}.")
    return Witness(folder, Signer.from_seed(name, b64decode(seed), COSIGNATURE), logs)


def handler(witness: Witness, clock: Callable[[], float]) -> type[BaseHTTPRequestHandler]:
    class Handler(BaseHTTPRequestHandler):
        timeout = 30

        def do_POST(self) -> None:
            size = self.headers.get("Content-Length", "")
            if self.path != ADD or not size.isdigit() or int(size) > LONGEST:
                self._send(Answer(404 if self.path != ADD else 400))
                return
            try:
                text = self.rfile.read(int(size)).decode()
            except UnicodeDecodeError:
                self._send(Answer(400, "This is not UTF-8.\n"))
                return
            self._send(witness.add_checkpoint(text, int(clock())))

        def do_GET(self) -> None:
            parts = self.path.split("/")
            is_checkpoint = len(parts) == 3 and parts[2] == "checkpoint"
            self._send(witness.latest(parts[1]) if is_checkpoint else Answer(404))

        def _send(self, answer: Answer) -> None:
            content = answer.body.encode()
            self.send_response(answer.status)
            self.send_header("Content-Type", answer.content_type)
            self.send_header("Content-Length", str(len(content)))
            self.end_headers()
            self.wfile.write(content)

    return Handler


def main(arguments: Sequence[str] | None = None) -> int:
    parser = argparse.ArgumentParser(description="Cosign the checkpoints of logs.")
    parser.add_argument("folder", type=Path, help="where it keeps its key and what it cosigned")
    parser.add_argument("--name", required=True, help="its name, as witness.example/w1")
    parser.add_argument("--log", action="append", required=True, help="key of a log to watch")
    parser.add_argument("--host", default="127.0.0.1")
    parser.add_argument("--port", type=int, default=PORT)
    given = parser.parse_args(arguments)
    try:
        logs = [Verifier.from_vkey(text) for text in given.log]
        witness = open_witness(given.folder, given.name, logs)
    except NoteError as error:
        print(error, file=sys.stderr)
        return 1
    server = ThreadingHTTPServer((given.host, given.port), handler(witness, time.time))
    print(f"{witness.signer.verifier.vkey} on port {server.server_port}", flush=True)
    try:
        server.serve_forever()
    except KeyboardInterrupt:
        return 0
    finally:
        server.server_close()
    return 0


if __name__ == "__main__":
    sys.exit(main())
