"""A mail server of a few commands, which can fall silent at the moment a test is about."""

from contextlib import contextmanager
from email import message_from_bytes
from email.message import Message
from socketserver import StreamRequestHandler, ThreadingTCPServer
from threading import Event, Lock, Thread


class Mailbox(ThreadingTCPServer):
    """`hold` is "before" or "after" taking the mail: there the server says nothing more, once."""

    daemon_threads = True
    allow_reuse_address = True

    def __init__(self):
        super().__init__(("127.0.0.1", 0), _Session)
        self.taken: list[Message] = []
        self.hold = ""
        self.is_held, self.lock = Event(), Lock()

    @property
    def url(self) -> str:
        return f"smtp://127.0.0.1:{self.server_address[1]}"

    def holds(self, where: str) -> bool:
        with self.lock:
            if self.hold != where:
                return False
            self.hold = ""
        self.is_held.set()
        return True

    def keys(self) -> list[tuple[str, str]]:
        """(recipient, Message-ID) of everything taken."""
        return [(mail["To"], mail["Message-ID"]) for mail in self.taken]


class _Session(StreamRequestHandler):
    server: Mailbox

    def handle(self) -> None:
        self.say(b"220 ready")
        while line := self.rfile.readline():
            verb = line[:4].upper()
            if verb == b"DATA":
                if not self.take():
                    return
            elif verb == b"QUIT":
                self.say(b"221 bye")
                return
            else:
                self.say(b"250 ok")

    def take(self) -> bool:
        if self.server.holds("before"):
            self.rfile.read()  # until the client is gone
            return False
        self.say(b"354 go on")
        lines = []
        while (line := self.rfile.readline()) != b".\r\n":
            if not line:
                return False
            lines.append(line)
        self.server.taken.append(message_from_bytes(b"".join(lines)))
        if self.server.holds("after"):
            self.rfile.read()
            return False
        self.say(b"250 taken")
        return True

    def say(self, line: bytes) -> None:
        self.wfile.write(line + b"\r\n")


@contextmanager
def mailbox():
    with Mailbox() as server:
        Thread(target=server.serve_forever, args=[0.05], daemon=True).start()
        yield server
        server.shutdown()
