"""Controllers in software and the link between them: bumble's own, with the gaps closed that a station would notice.

A connection attempt can be cancelled, data carry the address the connection was made with, packets are as long as a
real radio's, scan responses are real ones, signal strength is settable, and a controller that vanishes is missed
after the supervision time-out.
"""

from __future__ import annotations

import asyncio
from typing import Any

from bumble import controller as bumble_controller
from bumble import core, hci, link, ll

SUPERVISION_TIMEOUT_S = 0.72
_SIGNAL_DBM = -50
_UNHEARD_S = 0.1  # a request is repeated for six connection intervals (Bluetooth Core, Vol 6, Part B, 4.5)


class VirtualLink(link.LocalLink):  # type: ignore[misc]
    """What is between the controllers.

    Attributes:
        supervision_timeout_s: how long a connection survives silence.
        out_of_range: controllers that neither send nor receive at the moment.
        refuse_connections: connection requests get no answer: connections end at once with "failed to be
            established" (0x3E), as on a real radio when the peer does not hear the request.
    """

    def __init__(self) -> None:
        super().__init__()
        self.supervision_timeout_s = SUPERVISION_TIMEOUT_S
        self.out_of_range: set[VirtualController] = set()
        self.refuse_connections = False

    def send_acl_data(
        self,
        sender_controller: VirtualController,
        destination_address: hci.Address,
        transport: Any,
        data: bytes,
    ) -> None:
        """Carry data from the address the connection was made with (bumble takes the random one)."""
        connection = sender_controller.le_connections.get(destination_address)
        receiver = self.find_le_controller(destination_address)
        if connection is None or receiver is None or {sender_controller, receiver} & self.out_of_range:
            return
        source = connection.self_address
        asyncio.get_running_loop().call_soon(receiver.receive_acl_data, source, transport, data)

    def send_advertising_pdu(self, sender_controller: VirtualController, packet: ll.AdvertisingPdu) -> None:
        """Let everybody in range hear an advertisement or a connection request."""
        for receiver in self.controllers - self.out_of_range:
            if receiver is not sender_controller and sender_controller not in self.out_of_range:
                asyncio.get_running_loop().call_soon(receiver.on_ll_advertising_pdu, packet)

    def send_ll_control_pdu(
        self, sender_address: hci.Address, receiver_address: hci.Address, packet: ll.ControlPdu
    ) -> None:
        """Carry a control packet; one to a controller that is gone is lost (bumble raises an error)."""
        receiver = self.find_le_controller(receiver_address)
        if receiver is None or receiver in self.out_of_range:
            return
        sender = self.find_le_controller(sender_address)
        if sender not in self.out_of_range:
            asyncio.get_running_loop().call_soon(receiver.receive_control, sender_address, packet)

    def move_out_of_range(self, controller: VirtualController) -> None:
        """From now on nothing reaches this controller; its connections end after the supervision time-out."""
        self.out_of_range.add(controller)
        for connection in list(controller.le_connections.values()):
            peer = self.find_le_controller(connection.peer_address)
            back = peer and peer.le_connections.get(connection.self_address)
            self._end_later(controller, connection, peer, back)
            if peer and back:
                self._end_later(peer, back, controller, connection)

    def move_into_range(self, controller: VirtualController) -> None:
        """The controller is heard again."""
        self.out_of_range.discard(controller)

    def _end_later(
        self,
        controller: VirtualController,
        connection: bumble_controller.Connection,
        peer: VirtualController | None,
        back: bumble_controller.Connection | None,
    ) -> None:
        def end() -> None:
            heard = (
                peer is not None and back is not None and peer.le_connections.get(back.peer_address) is back
            )
            if heard and not {controller, peer} & self.out_of_range:
                return  # it came back in time
            if controller.le_connections.get(connection.peer_address) is connection:
                controller.on_le_disconnected(connection, hci.HCI_ErrorCode.CONNECTION_TIMEOUT_ERROR)

        asyncio.get_running_loop().call_later(self.supervision_timeout_s, end)


class VirtualController(bumble_controller.Controller):  # type: ignore[misc]
    """A Bluetooth LE controller in software.

    Attributes:
        signal_dbm: how strongly others hear it.
    """

    le_acl_data_packet_length = 251
    supported_max_tx_octets = supported_max_rx_octets = suggested_max_tx_octets = 251
    # Without extended advertising and address resolution a real BlueZ gets along with this controller, too.
    le_features = bumble_controller.Controller.le_features & ~(
        hci.LeFeatureMask.LL_PRIVACY
        | hci.LeFeatureMask.LE_EXTENDED_ADVERTISING
        | hci.LeFeatureMask.LE_PERIODIC_ADVERTISING
    )

    def __init__(self, name: str, virtual_link: VirtualLink, **how: Any) -> None:
        address = hci.Address(bytes(hci.Address.generate_static_address()), hci.Address.PUBLIC_DEVICE_ADDRESS)
        super().__init__(name, link=virtual_link, public_address=address, **how)
        self.pending_le_connection: Any = None
        self.signal_dbm = _SIGNAL_DBM

    def on_hci_le_create_connection_cancel_command(self, _command: Any) -> Any:
        """Cancel the pending attempt (bumble does nothing, and refuses every later attempt)."""
        pending, self.pending_le_connection = self.pending_le_connection, None
        if pending is None:
            return hci.HCI_StatusReturnParameters(hci.HCI_ErrorCode.COMMAND_DISALLOWED_ERROR)
        self._report_failed_connection(
            pending.peer_address, hci.HCI_ErrorCode.UNKNOWN_CONNECTION_IDENTIFIER_ERROR
        )
        return hci.HCI_StatusReturnParameters(hci.HCI_ErrorCode.SUCCESS)

    def on_hci_reset_command(self, command: Any) -> Any:
        """Forget everything, as a reset controller does; peers notice after the supervision time-out."""
        self.fall_silent()
        return super().on_hci_reset_command(command)

    def on_advertising_pdu(self, pdu: Any) -> None:
        """Report an advertisement and its scan response, and connect when it is from the wanted peer."""
        if self.le_scan_enable:
            advertiser = self.link.find_le_controller(pdu.advertiser_address)
            response = advertiser.le_legacy_advertiser.scan_response_data if advertiser else b""
            signal = advertiser.signal_dbm if advertiser else _SIGNAL_DBM
            kinds = hci.HCI_LE_Advertising_Report_Event.EventType
            for kind, data in ((kinds.ADV_IND, pdu.data), (kinds.SCAN_RSP, response)):
                report = hci.HCI_LE_Advertising_Report_Event.Report(
                    event_type=kind,
                    address_type=pdu.advertiser_address.address_type,
                    address=pdu.advertiser_address,
                    data=data,
                    rssi=signal,
                )
                self.send_hci_packet(hci.HCI_LE_Advertising_Report_Event([report]))
        pending = self.pending_le_connection
        if pending is None or pending.peer_address != pdu.advertiser_address:
            return
        if pdu.advertiser_address not in self.le_connections:
            self.create_le_connection(pdu.advertiser_address)

    def send_advertising_pdu(self, packet: ll.AdvertisingPdu) -> None:
        """Send an advertisement or a connection request; a request that is not heard ends the connection."""
        if not (self.link.refuse_connections and isinstance(packet, ll.ConnectInd)):
            super().send_advertising_pdu(packet)
            return
        connection = self.le_connections[packet.advertiser_address]

        def end() -> None:
            if self.le_connections.get(packet.advertiser_address) is connection:
                failed = hci.HCI_ErrorCode.CONNECTION_FAILED_TO_BE_ESTABLISHED_ERROR
                self.on_le_disconnected(connection, failed)

        asyncio.get_running_loop().call_later(_UNHEARD_S, end)

    def receive_acl_data(self, source: hci.Address, transport: core.PhysicalTransport, data: bytes) -> None:
        """Data from the link; those of a connection that has just ended are dropped without a word."""
        if source in self.le_connections:
            self.on_link_acl_data(source, transport, data)

    def receive_control(self, source: hci.Address, packet: ll.ControlPdu) -> None:
        """Likewise for control packets."""
        if source in self.le_connections:
            self.on_ll_control_pdu(source, packet)

    def fall_silent(self) -> None:
        """Stop everything without a word to anybody, as a sensor does whose battery is taken out."""
        self.le_legacy_advertiser.stop()
        self.le_scan_enable = False
        self.pending_le_connection = None
        self.link.move_out_of_range(self)
        self.le_connections.clear()
        self.link.move_into_range(self)

    def remove(self) -> None:
        """Take the controller away for good."""
        self.fall_silent()
        self.link.controllers.discard(self)
        self.link.out_of_range.discard(self)
        self.set_packet_sink(None)

    def _report_failed_connection(self, peer_address: hci.Address, status: int) -> None:
        self.send_hci_packet(
            hci.HCI_LE_Connection_Complete_Event(
                status=status,
                connection_handle=0,
                role=hci.Role.CENTRAL,
                peer_address_type=peer_address.address_type,
                peer_address=peer_address,
                connection_interval=0,
                peripheral_latency=0,
                supervision_timeout=0,
                central_clock_accuracy=0,
            )
        )
