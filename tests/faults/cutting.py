"""A line between a phone and the book that can be cut anywhere: before a request, in the middle of
it, after it and before the answer, in the middle of the answer."""

import socket
import threading
from contextlib import suppress

UP = "up"
CUTS = ("refused", "in the request", "before the answer", "in the answer")


class Line:
    """Passes bytes to a port; `cut` says what becomes of the connections from now on."""

    def __init__(self, to_port: int):
        self.to_port, self.mode, self.after, self.count = to_port, UP, 0, 0
        self.open: set[socket.socket] = set()
        self.lock = threading.Lock()
        self.listener = socket.create_server(("127.0.0.1", 0))
        self.port = self.listener.getsockname()[1]
        threading.Thread(target=self._accept, daemon=True).start()

    def cut(self, how: str, after: int) -> None:
        """`after` so many bytes of the request or of the answer, on each connection."""
        self.mode, self.after = how, after
        self._drop_all()

    def mend(self) -> None:
        self.mode = UP
        self._drop_all()

    def close(self) -> None:
        self.listener.close()
        self._drop_all()

    def _drop_all(self) -> None:
        with self.lock:
            dropped, self.open = self.open, set()
        for line in dropped:
            _shut(line)

    def _accept(self) -> None:
        while True:
            try:
                phone, _ = self.listener.accept()
            except OSError:
                return
            if self.mode == "refused":
                self.count += 1
                _shut(phone)
                continue
            threading.Thread(target=self._carry, args=(phone,), daemon=True).start()

    def _carry(self, phone: socket.socket) -> None:
        try:
            book = socket.create_connection(("127.0.0.1", self.to_port), timeout=60)
        except OSError:
            return _shut(phone)
        with self.lock:
            self.open |= {phone, book}
        mode, after = self.mode, self.after
        there = after if mode == "in the request" else None
        back = {"before the answer": 0, "in the answer": after}.get(mode)
        ends = threading.Thread(target=self._pass, args=(phone, book, there), daemon=True)
        ends.start()
        self._pass(book, phone, back)
        ends.join()
        with self.lock:
            self.open -= {phone, book}

    def _pass(self, source: socket.socket, target: socket.socket, most: int | None) -> None:
        passed = 0
        with suppress(OSError):
            while data := source.recv(65_536):
                if most is not None and passed + len(data) > most:
                    target.sendall(data[: most - passed])
                    self.count += 1
                    break
                target.sendall(data)
                passed += len(data)
        _shut(source)
        _shut(target)


def _shut(line: socket.socket) -> None:
    with suppress(OSError):
        line.shutdown(socket.SHUT_RDWR)
    with suppress(OSError):
        line.close()
