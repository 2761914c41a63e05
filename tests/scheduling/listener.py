"""A small HTTP server that takes webhooks, and answers as a test wants."""

import ssl
from contextlib import contextmanager
from http.server import BaseHTTPRequestHandler, ThreadingHTTPServer
from threading import Thread


class Listener(ThreadingHTTPServer):
    daemon_threads = True

    def __init__(self, context: ssl.SSLContext | None = None):
        super().__init__(("127.0.0.1", 0), _Handler)
        self.taken: list[tuple[dict[str, str], bytes]] = []
        self.answers: list[int] = []
        self.location = ""
        if context:
            self.socket = context.wrap_socket(self.socket, server_side=True)

    @property
    def port(self) -> int:
        return self.server_address[1]

    @property
    def url(self) -> str:
        return f"http://127.0.0.1:{self.port}/news?of=book"

    def handle_error(self, request, client_address) -> None:
        """A caller that hangs up is what some tests are about."""


class _Handler(BaseHTTPRequestHandler):
    server: Listener

    def do_POST(self) -> None:
        body = self.rfile.read(int(self.headers["Content-Length"]))
        self.server.taken.append(({"path": self.path, **self.headers}, body))
        status = self.server.answers.pop(0) if self.server.answers else 204
        self.send_response(status)
        if self.server.location:
            self.send_header("Location", self.server.location)
        self.end_headers()

    def log_message(self, *args) -> None:
        """Quiet."""


@contextmanager
def listening(context: ssl.SSLContext | None = None):
    with Listener(context) as server:
        Thread(target=server.serve_forever, args=[0.05], daemon=True).start()
        yield server
        server.shutdown()
