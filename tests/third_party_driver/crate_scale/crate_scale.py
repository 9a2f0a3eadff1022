"""A scale that sends frames of eight bytes, ten a second.

A5h; status, where bit 0 is moving and bit 1 overload; the mass, a signed number
of four bytes, low byte first, in tenths of a gram; the CRC-16 of ITU-T V.41 of
these six bytes, high byte first.
"""

from collections.abc import Mapping
from typing import Any, ClassVar

from benchstation.driver_api.contract import (
    Driver,
    DriverInfo,
    FrameCounts,
    OptionSpec,
)
from benchstation.driver_api.framing import FixedFramer, crc16_ccitt
from benchstation.driver_api.options import Options, channel_from
from benchstation.driver_api.reading import (
    Fault,
    FaultKind,
    Item,
    Quantity,
    Reading,
)

LENGTH, START, STEP_KG = 8, 0xA5, 1e-4
MOVING, OVERLOAD = 1, 2


def is_frame(data: bytes) -> bool:
    """Say whether eight bytes are a frame; pieces of two frames are none."""
    known = data[0] == START and data[1] <= MOVING | OVERLOAD
    return known and crc16_ccitt(data[:6]) == int.from_bytes(data[6:], "big")


class CrateScale(Driver):
    """One mass out of binary frames."""

    info: ClassVar[DriverInfo] = DriverInfo(
        id="crate_scale",
        title="Crate scale, frames of eight bytes",
        quantities=(Quantity.MASS,),
        options=(OptionSpec("channel", "range and last digit", required=True),),
        api_version=2,
    )

    def __init__(self, options: Mapping[str, Any]) -> None:
        take = Options(options, self.info.id)
        self.channels = (channel_from(take),)
        take.finish()
        self.capabilities = frozenset({"tare"})
        self.counts = FrameCounts()
        self._framer = FixedFramer(LENGTH, is_frame)

    def command(self, name: str) -> bytes:
        """Return the byte that tares; the contract refuses all else."""
        return b"T" if name == "tare" else super().command(name)

    def feed(self, data: bytes, at: float) -> list[Item]:
        """Return a reading or a fault for every frame that became complete."""
        items = [self._item(frame, at) for frame in self._framer.push(data)]
        self.counts.note(items, len(items), self._framer.discarded)
        return items

    def reset(self) -> None:
        """Forget half a frame."""
        self._framer.clear()
        self.counts.note((), 0, self._framer.discarded)

    def _item(self, frame: bytes, at: float) -> Item:
        if frame[1] & OVERLOAD:
            return Fault(FaultKind.OVER_RANGE, at, frame, "the scale says overload")
        value = int.from_bytes(frame[2:6], "little", signed=True) * STEP_KG
        name, stable = self.channels[0].name, not frame[1] & MOVING
        return Reading(name, value, at, "g", frame, stable, STEP_KG)
