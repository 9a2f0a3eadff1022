"""A driver of its own, as a shop would write one: a gauge that sends packets of six bytes.

A packet is 0xA5, a status byte (0 good, 1 over range, 2 sensor fault), the gauge pressure in steps
of 10 Pa as a signed number of three bytes, high byte first, and the exclusive-or of the five bytes.
"""

from collections.abc import Mapping
from typing import Any, ClassVar

from benchstation.driver_api.contract import Driver, DriverInfo, FrameCounts, OptionSpec
from benchstation.driver_api.framing import FixedFramer, xor8
from benchstation.driver_api.options import Options, channel_from
from benchstation.driver_api.reading import Fault, FaultKind, Item, Quantity, Reading

STEP_PA = 10.0
LENGTH = 6
FAULTS = {1: FaultKind.OVER_RANGE, 2: FaultKind.DEVICE_ERROR}


def is_packet(data: bytes) -> bool:
    """Say whether six bytes are a packet."""
    return data[0] == 0xA5 and data[1] <= 2 and xor8(data) == 0


class PacketGaugeDriver(Driver):
    """One pressure channel out of binary packets."""

    info: ClassVar[DriverInfo] = DriverInfo(
        id="packet_gauge",
        title="Pressure gauge, packets of six bytes",
        quantities=(Quantity.PRESSURE,),
        options=(
            OptionSpec(
                "channel", "name, quantity, reference, low, high, resolution", required=True
            ),
        ),
    )

    def __init__(self, options: Mapping[str, Any]) -> None:
        take = Options(options, self.info.id)
        self.channels = (channel_from(take),)
        take.finish()
        self.capabilities = frozenset()
        self.counts = FrameCounts()
        self._framer = FixedFramer(LENGTH, is_packet)

    def reset(self) -> None:
        """Forget half a packet."""
        self._framer.clear()
        self.counts.discarded_bytes = self._framer.discarded

    def feed(self, data: bytes, at: float) -> list[Item]:
        """Return a reading or fault for every packet that became complete."""
        items = [self._item(packet, at) for packet in self._framer.push(data)]
        counts = self.counts
        counts.discarded_bytes = self._framer.discarded
        counts.frames += len(items)
        for item in items:
            if isinstance(item, Fault):
                counts.rejected += 1
                counts.by_kind[item.kind] = counts.by_kind.get(item.kind, 0) + 1
            else:
                counts.readings += 1
        return items

    def _item(self, packet: bytes, at: float) -> Item:
        kind = FAULTS.get(packet[1])
        if kind is not None:
            return Fault(kind, at, packet, f"the gauge's status is {packet[1]}")
        value = int.from_bytes(packet[2:5], "big", signed=True) * STEP_PA
        return Reading(self.channels[0].name, value, at, "Pa", packet, None, STEP_PA)
