"""The driver contract: bytes in, readings out. A driver owns no port, thread, widget or clock."""

from abc import ABC, abstractmethod
from collections.abc import Iterable, Mapping
from dataclasses import dataclass, field
from typing import Any, ClassVar

from benchstation.driver_api.errors import UnsupportedCommandError
from benchstation.driver_api.reading import Fault, Item, PressureReference, Quantity, Reading

API_VERSION = 2
"""Version of this contract. A driver says which it is made for; one that does not, for 1.

Each version takes in the earlier ones. 2 added the quantity humidity.
"""


@dataclass(frozen=True, slots=True)
class LineSettings:
    """How a serial line is set. Ignored by network transports."""

    baudrate: int = 9600
    bytesize: int = 8
    parity: str = "N"
    stopbits: float = 1


@dataclass(frozen=True, slots=True)
class ChannelSpec:
    """One channel of a device. ``low``, ``high`` and ``resolution`` are SI; ``None`` is unknown."""

    name: str
    quantity: Quantity
    reference: PressureReference | None = None
    low: float | None = None
    high: float | None = None
    resolution: float | None = None


@dataclass(frozen=True, slots=True)
class OptionSpec:
    """One option a driver takes, for forms and for error texts."""

    name: str
    description: str
    required: bool = False


@dataclass(frozen=True, slots=True)
class DriverInfo:
    """What a driver is, readable without making one."""

    id: str
    title: str
    quantities: tuple[Quantity, ...]
    options: tuple[OptionSpec, ...] = ()
    api_version: int = 1


class Driver(ABC):
    """Turns bytes into readings and requests into bytes.

    A driver is pure: it never reads a clock, sleeps or opens anything. All times come in as ``at``.
    """

    info: ClassVar[DriverInfo]

    channels: tuple[ChannelSpec, ...]
    capabilities: frozenset[str]
    """Commands understood by :meth:`command`, out of ``tare``, ``zero`` and ``print``."""

    counts: "FrameCounts"

    speaks: str = "text"
    """What stands on its line: ``text``, or ``rtu`` or ``tcp`` for frames of Modbus.

    An unknown device is asked in one of them at a time, with a pause between.
    """

    @abstractmethod
    def __init__(self, options: Mapping[str, Any]) -> None:
        """Check ``options``; raise :class:`~benchstation.driver_api.errors.OptionError`; no I/O."""

    def hello(self) -> bytes | None:
        """Request that proves the device's identity, or ``None``."""
        return None

    def poll(self) -> bytes | None:
        """Request for one reading; ``None`` when the device streams by itself.

        Called once for every request that is sent, so requests may be numbered or take turns.
        """
        return None

    def command(self, name: str) -> bytes:
        """Return the bytes of a command in :attr:`capabilities`.

        Raises :class:`~benchstation.driver_api.errors.UnsupportedCommandError` for any other.
        """
        raise UnsupportedCommandError(self.info.id, name)

    @abstractmethod
    def feed(self, data: bytes, at: float) -> list[Item]:
        """Take any chunk of received bytes, give what became complete. Raises on no bytes."""

    @abstractmethod
    def reset(self) -> None:
        """Forget half a frame: called after reconnect, a timeout or line noise."""


@dataclass(slots=True)
class FrameCounts:
    """Counts a driver keeps of what it saw; the link shows them."""

    frames: int = 0
    readings: int = 0
    rejected: int = 0
    discarded_bytes: int = 0
    by_kind: dict[str, int] = field(default_factory=dict)

    def note(self, items: Iterable[Item], frames: int, discarded_bytes: int) -> None:
        """Count what came out of so many more frames; bytes discarded are all until now."""
        self.frames += frames
        self.discarded_bytes = discarded_bytes
        for item in items:
            if type(item) is Reading:
                self.readings += 1
            elif type(item) is Fault:
                self.rejected += 1
                self.by_kind[item.kind] = self.by_kind.get(item.kind, 0) + 1
