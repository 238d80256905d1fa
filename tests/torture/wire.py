"""A wire between a station and its server that can be cut after any byte, or go silent; for tests."""

from __future__ import annotations

import contextlib
import socket
import threading


class Wire:
    """Passes bytes on to a port of this machine until it is told not to."""

    def __init__(self, to_port: int) -> None:
        self._to = to_port
        self._door = socket.create_server(("127.0.0.1", 0))
        self.port = int(self._door.getsockname()[1])
        self._ends: list[socket.socket] = []
        self._left: int | None = None
        self.silent = threading.Event()
        self.cuts = 0
        self._threads: list[threading.Thread] = []
        self._begin(self._let_in)

    def _begin(self, work: object, *what: object) -> None:
        one = threading.Thread(target=work, args=what, daemon=True)  # type: ignore[arg-type]
        self._threads.append(one)
        one.start()

    def cut_after(self, count: int | None) -> None:
        """Cut once so many further bytes have gone from the station to the server; None: never."""
        self._left = count

    def _let_in(self) -> None:
        with contextlib.suppress(OSError):
            while True:
                near, _ = self._door.accept()
                try:
                    far = socket.create_connection(("127.0.0.1", self._to))
                except OSError:  # nobody answers there
                    near.close()
                    continue
                self._ends += [near, far]
                self._begin(self._pass_on, near, far, True)
                self._begin(self._pass_on, far, near, False)

    def _pass_on(self, source: socket.socket, target: socket.socket, outward: bool) -> None:
        with contextlib.suppress(OSError):
            while data := source.recv(1 << 16):
                if self.silent.is_set():
                    continue
                if outward and self._left is not None:
                    if len(data) >= self._left:
                        target.sendall(data[: self._left])
                        self._left = None
                        self.cuts += 1
                        break
                    self._left -= len(data)
                target.sendall(data)
        for end in (source, target):
            with contextlib.suppress(OSError):
                end.shutdown(socket.SHUT_RDWR)

    def close(self) -> None:
        """The end; no thread stays behind."""
        for end in [self._door, *self._ends]:
            with contextlib.suppress(OSError):
                end.shutdown(socket.SHUT_RDWR)
            end.close()
        for one in self._threads:
            one.join(10)
