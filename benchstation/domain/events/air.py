"""What is known of the bench's air and of a unit's own temperature, as it was read or typed."""

from dataclasses import dataclass
from typing import ClassVar

from benchstation.domain.events.base import Event, UnitEvent


@dataclass(frozen=True, slots=True)
class AirRead(Event):
    """Air temperature (K), barometer (Pa, absolute) or humidity (0..1), with its u.

    ``instrument_id`` is empty for a figure that a person typed; ``source`` says what it was read
    on then. Who and when is on the entry.
    """

    kind: ClassVar[str] = "air.read"
    quantity: str
    value: float
    u: float
    source: str = ""
    instrument_id: str = ""
    calibration: str = ""


@dataclass(frozen=True, slots=True)
class BodyMeasured(UnitEvent):
    """A unit's temperature, measured at its body by an instrument or read by a person."""

    kind: ClassVar[str] = "unit.temperature"
    step_id: str
    value_k: float
    u_k: float
    source: str = ""
    instrument_id: str = ""
    calibration: str = ""


@dataclass(frozen=True, slots=True)
class InRoomSince(UnitEvent):
    """Somebody says since when a unit has been in this room; ``since`` is UTC, ISO 8601.

    It came in at most ``bound_k`` warmer or colder than the room.
    """

    kind: ClassVar[str] = "unit.in_room"
    step_id: str
    since: str
    bound_k: float
