"""bleak's scanner over bumble."""

from __future__ import annotations

from typing import Any

from bleak.backends.scanner import AdvertisementData, AdvertisementDataCallback, BaseBleakScanner
from bumble.core import UUID, AdvertisingData
from bumble.device import Advertisement

from drivers.bumble_backend.central import Central
from drivers.bumble_backend.uuids import address_text, uuid_text

_SERVICE_LISTS = (
    AdvertisingData.COMPLETE_LIST_OF_16_BIT_SERVICE_CLASS_UUIDS,
    AdvertisingData.INCOMPLETE_LIST_OF_16_BIT_SERVICE_CLASS_UUIDS,
    AdvertisingData.COMPLETE_LIST_OF_128_BIT_SERVICE_CLASS_UUIDS,
    AdvertisingData.INCOMPLETE_LIST_OF_128_BIT_SERVICE_CLASS_UUIDS,
)
_SERVICE_DATA = (AdvertisingData.SERVICE_DATA_16_BIT_UUID, AdvertisingData.SERVICE_DATA_128_BIT_UUID)
_NAMES = (AdvertisingData.COMPLETE_LOCAL_NAME, AdvertisingData.SHORTENED_LOCAL_NAME)
_NO_TX_POWER = Advertisement.TX_POWER_NOT_AVAILABLE


class BumbleScanner(BaseBleakScanner):
    """Finds advertisers through a shared bumble host.

    Args:
        central: the host.
    """

    def __init__(
        self,
        detection_callback: AdvertisementDataCallback | None,
        service_uuids: list[str] | None,
        scanning_mode: str,
        *,
        central: Central,
        **_others: Any,
    ) -> None:
        super().__init__(detection_callback, service_uuids)
        self._central = central

    async def start(self) -> None:
        """Start scanning for devices."""
        self.seen_devices = {}
        await self._central.start_scan(self, self._heard)

    async def stop(self) -> None:
        """Stop scanning for devices."""
        await self._central.stop_scan(self)

    def _heard(self, advertisement: Advertisement) -> None:
        fields = advertisement.data
        services: list[str] = []
        for kind in _SERVICE_LISTS:
            for uuids in fields.get_all(kind):
                services += [uuid_text(uuid) for uuid in uuids if isinstance(uuid, UUID)]
        name = next((text for kind in _NAMES if isinstance(text := fields.get(kind), str)), None)
        manufacturer = fields.get(AdvertisingData.MANUFACTURER_SPECIFIC_DATA)
        data = AdvertisementData(
            local_name=name,
            manufacturer_data={manufacturer[0]: bytes(manufacturer[1])}
            if isinstance(manufacturer, tuple)
            else {},
            service_data=_service_data(fields),
            service_uuids=services,
            tx_power=None if advertisement.tx_power == _NO_TX_POWER else advertisement.tx_power,
            rssi=advertisement.rssi,
            platform_data=(advertisement,),
        )
        if not self.is_allowed_uuid(services):
            return
        lasting = self._central.identity_of(advertisement.address) or advertisement.address
        address = address_text(lasting)
        device = self.create_or_update_device(address, address, name, advertisement.address, data)
        self.call_detection_callbacks(device, data)


def _service_data(fields: AdvertisingData) -> dict[str, bytes]:
    """Data by service (Core Specification Supplement, Part A, 1.11), such as an advertised battery level."""
    found: dict[str, bytes] = {}
    for kind in _SERVICE_DATA:
        for uuid, value in fields.get_all(kind):
            found[uuid_text(uuid)] = bytes(value)
    return found
