"""What a driver hands out: readings in SI, faults and replies. Frozen, without unit objects."""

from dataclasses import dataclass
from enum import StrEnum


class Quantity(StrEnum):
    """What a channel measures; values are in kg, Pa and K, of a transmitter's signal in A and V.

    A relative humidity is a share, 0 to 1; it came with version 2 of the contract.
    """

    MASS = "mass"
    PRESSURE = "pressure"
    TEMPERATURE = "temperature"
    HUMIDITY = "humidity"
    CURRENT = "current"
    VOLTAGE = "voltage"


class PressureReference(StrEnum):
    """Whether a pressure channel reads above ambient or above vacuum."""

    GAUGE = "gauge"
    ABSOLUTE = "absolute"


class Health(StrEnum):
    """Device health in the four categories of NAMUR NE 107, and good."""

    GOOD = "good"
    FAILURE = "failure"
    FUNCTION_CHECK = "function check"
    OUT_OF_SPECIFICATION = "out of specification"
    MAINTENANCE_REQUIRED = "maintenance required"


class FaultKind(StrEnum):
    """Why a frame gave no reading."""

    BAD_FRAME = "bad frame"
    BAD_CHECKSUM = "bad checksum"
    UNKNOWN_UNIT = "unknown unit"
    OVER_RANGE = "over range"
    UNDER_RANGE = "under range"
    DEVICE_ERROR = "device error"
    NO_ANSWER = "no answer"


@dataclass(frozen=True, slots=True)
class Reading:
    """One value of one channel.

    ``value`` is in SI: kg, Pa, K, A or V. ``at`` is the station clock in seconds when the frame's
    last byte arrived. ``stable`` is the device's own motion flag, ``None`` when the frame carries
    none. ``resolution`` is the value of one step of the last digit shown, SI, or ``None``.
    """

    channel: str
    value: float
    at: float
    unit: str
    raw: bytes
    stable: bool | None = None
    resolution: float | None = None
    net: bool | None = None


@dataclass(frozen=True, slots=True)
class Fault:
    """A frame, or a wait for one, that gave no reading. Counted and kept, never a value.

    ``place`` is the first byte of ``raw``, from 0, that is not as it must be, where that is known.
    ``channel`` is the further channel of a device that alone has no value; empty: the device.
    """

    kind: FaultKind
    at: float
    raw: bytes
    detail: str
    place: int | None = None
    channel: str = ""


@dataclass(frozen=True, slots=True)
class Reply:
    """A device's answer to a command such as tare."""

    command: str
    accepted: bool
    at: float
    raw: bytes


Item = Reading | Fault | Reply
