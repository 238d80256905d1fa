"""The door of this machine's own PostgreSQL for other machines: TLS, since the PostgreSQL from PyPI is built without.

A process of its own that listens on one address and passes on to the server on this machine. As the protocol has it
(postgresql.org/docs/current/protocol-flow.html) a client asks for TLS first; whoever does not is turned away before a
password is spoken of, and so is the administrator. It ends when its file no longer names it.
"""

from __future__ import annotations

import os
import select
import socket
import socketserver
import ssl
import struct
import sys
from contextlib import suppress
from pathlib import Path

_SSL_REQUEST, _GSS_REQUEST, _CANCEL = 80877103, 80877104, 80877102
_MOST_STARTUP = 10_000  # bytes, as PostgreSQL has it
PATIENCE_S = 60.0
LOOKS_EVERY_S = 0.2
ADMIN = "postgres"
OPEN = "open"


class _Refused(Exception):
    """Not let in; the words go to the client."""


class TlsDoor(socketserver.ThreadingTCPServer):
    """Listens until its file names another process.

    Args:
        address: this machine's, and the port.
        server_port: where PostgreSQL listens on this machine.
        context: with certificate and key.
        file: holds the id of the process that is the door.
    """

    daemon_threads = True
    allow_reuse_address = True

    def __init__(
        self, address: tuple[str, int], server_port: int, context: ssl.SSLContext, file: Path
    ) -> None:
        self.server_port, self.context, self._file = server_port, context, file
        super().__init__(address, _Visit)

    def service_actions(self) -> None:
        """Several times a second: still wanted?"""
        if named_in(self._file) != os.getpid():
            raise SystemExit(0)


class _Visit(socketserver.BaseRequestHandler):
    server: TlsDoor
    request: socket.socket

    def handle(self) -> None:
        self.request.settimeout(PATIENCE_S)
        with suppress(OSError, ssl.SSLError, struct.error):
            self._ask_for_tls()
            with self.server.context.wrap_socket(self.request, server_side=True) as client:
                self._let_in(client)

    def _ask_for_tls(self) -> None:
        """Answer the request for TLS, and nothing else."""
        length, code = struct.unpack("!ii", _exactly(self.request, 8))
        if (length, code) == (8, _GSS_REQUEST):
            self.request.sendall(b"N")
            length, code = struct.unpack("!ii", _exactly(self.request, 8))
        if (length, code) != (8, _SSL_REQUEST):
            self.request.sendall(_no("this server takes connections over TLS alone: sslmode=require"))
            raise ConnectionError
        self.request.sendall(b"S")

    def _let_in(self, client: ssl.SSLSocket) -> None:
        try:
            first = _startup(client)
        except _Refused as error:
            client.sendall(_no(str(error)))
            return
        with socket.create_connection(("127.0.0.1", self.server.server_port), PATIENCE_S) as server:
            server.sendall(first)
            _pass_on(client, server)


def _startup(client: ssl.SSLSocket) -> bytes:
    """The client's first message, if it may come in."""
    head = _exactly(client, 4)
    (length,) = struct.unpack("!i", head)
    if not 8 <= length <= _MOST_STARTUP:
        raise ConnectionError
    rest = _exactly(client, length - 4)
    if struct.unpack("!i", rest[:4]) != (_CANCEL,):
        words = rest[4:].split(b"\0")
        if dict(zip(words[::2], words[1::2], strict=False)).get(b"user", b"") == ADMIN.encode():
            raise _Refused("the administrator comes in on the server's own machine alone")
    return head + rest


def _pass_on(client: ssl.SSLSocket, server: socket.socket) -> None:
    """Both ways, until one of them has gone."""
    while True:
        ready = [client] if client.pending() else select.select([client, server], [], [])[0]
        for one in ready:
            data = one.recv(65536)
            if not data:
                return
            (server if one is client else client).sendall(data)


def _exactly(one: socket.socket, count: int) -> bytes:
    found = b""
    while len(found) < count:
        part = one.recv(count - len(found))
        if not part:
            raise ConnectionError
        found += part
    return found


def _no(words: str) -> bytes:
    """An error message of the protocol; 28000: invalid authorization."""
    body = b"SFATAL\0VFATAL\0C28000\0M" + words.encode() + b"\0\0"
    return b"E" + struct.pack("!i", len(body) + 4) + body


def named_in(file: Path) -> int:
    """The process that a door's file names; 0: none."""
    try:
        return int(file.read_text(encoding="ascii"))
    except (OSError, ValueError):
        return 0


def main(address: str, port: str, server_port: str, certificate: str, key: str, file: str) -> None:
    """Be the door; says "open" when it is, and why not when it cannot be."""
    context = ssl.SSLContext(ssl.PROTOCOL_TLS_SERVER)
    context.minimum_version = ssl.TLSVersion.TLSv1_2
    try:
        context.load_cert_chain(certificate, key)
        door = TlsDoor((address, int(port)), int(server_port), context, Path(file))
    except (OSError, ssl.SSLError) as error:
        sys.exit(f"{address}, {Path(certificate).name}: {error}")
    Path(file).write_text(str(os.getpid()), encoding="ascii")
    print(OPEN, flush=True)
    with door:
        door.serve_forever(LOOKS_EVERY_S)


if __name__ == "__main__":
    main(*sys.argv[1:])
