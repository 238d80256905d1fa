"""A radio made of software: controllers on one link, each with a host in this process or behind a TCP port."""

from __future__ import annotations

import asyncio
import contextlib
from types import TracebackType

from bumble import core
from bumble.transport.common import PacketParser

from simulated_sensor.virtual_controller import VirtualController, VirtualLink

_CLOSE_WITHIN_S = 3.0


class RadioPort(asyncio.Protocol):
    """A controller behind a TCP connection: it lives as long as the host is connected to it."""

    def __init__(self, virtual_link: VirtualLink, name: str) -> None:
        self._link, self._name = virtual_link, name
        self._transport: asyncio.WriteTransport | None = None
        self._parser: PacketParser | None = None
        self.controller: VirtualController | None = None

    def connection_made(self, transport: asyncio.BaseTransport) -> None:
        """A host has come: give it a new controller."""
        assert isinstance(transport, asyncio.WriteTransport)
        self._transport = transport
        self.controller = VirtualController(self._name, self._link, host_sink=self)
        self._parser = PacketParser(self.controller)

    def data_received(self, data: bytes) -> None:
        """HCI from the host."""
        assert self._parser is not None
        assert self._transport is not None
        try:
            self._parser.feed_data(data)
        except core.InvalidPacketError:
            self._transport.abort()

    def connection_lost(self, _error: Exception | None) -> None:
        """The host is gone, and with it the controller."""
        if self.controller is not None:
            self.controller.remove()

    def on_packet(self, packet: bytes) -> None:
        """HCI to the host (bumble's name for what a packet sink does)."""
        if self._transport is not None and not self._transport.is_closing():
            self._transport.write(packet)


class VirtualRadio:
    """The link and its ports, on this machine's loopback alone. Used in an `async with` statement.

    Attributes:
        link: the link; faults are injected there.
    """

    def __init__(self) -> None:
        self.link = VirtualLink()
        self.ports: list[RadioPort] = []
        self._servers: list[asyncio.Server] = []

    async def __aenter__(self) -> VirtualRadio:
        return self

    async def __aexit__(
        self, _kind: type[BaseException] | None, _error: BaseException | None, _trace: TracebackType | None
    ) -> None:
        await self.close()

    async def open_port(self, name: str = "port", port: int = 0) -> str:
        """Open a TCP port; every host that connects to it gets a controller of its own.

        Args:
            name: for messages.
            port: TCP port number; 0 takes a free one.

        Returns:
            The transport by which a bumble host reaches it, such as `tcp-client:127.0.0.1:40123`.
        """

        def accept() -> RadioPort:
            opened = RadioPort(self.link, name)
            self.ports = [*(old for old in self.ports if old.controller in self.link.controllers), opened]
            return opened

        server = await asyncio.get_running_loop().create_server(accept, "127.0.0.1", port)
        self._servers.append(server)
        return f"tcp-client:127.0.0.1:{server.sockets[0].getsockname()[1]}"

    async def close(self) -> None:
        """Take the radio away from everybody."""
        for server in self._servers:
            server.close()
        for port in self.ports:
            if port._transport is not None:
                port._transport.abort()
        with contextlib.suppress(TimeoutError):  # nothing is left to wait for
            async with asyncio.timeout(_CLOSE_WITHIN_S):
                for server in self._servers:
                    await server.wait_closed()
        self._servers = []
