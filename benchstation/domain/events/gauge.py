"""What was seen of a unit's gas beside its charge: as found, its release, the zeros, its mass."""

from collections.abc import Mapping
from dataclasses import dataclass
from typing import ClassVar

from benchstation.domain.events.base import UnitEvent
from benchstation.domain.recorded_parts import Condition


@dataclass(frozen=True, slots=True)
class GasFound(UnitEvent):
    """The pressure that a unit came with: as shown, and before the fill tool took its share."""

    kind: ClassVar[str] = "gas.found"
    form: ClassVar[int] = 2
    step_id: str
    instrument_id: str
    calibration: str
    overdue: bool
    gauge_pa: float
    before_joining_gauge_pa: float
    gas_volume_m3: float
    """With the specified fill; the old one is not known."""
    dead_volume_m3: float
    conditions: tuple[Condition, ...] = ()
    """What air and unit were known from; the unit may have come in warm."""


@dataclass(frozen=True, slots=True)
class GasFell(UnitEvent):
    """The gauge that saw a unit's gas saw it fall to the zero band, step by step."""

    kind: ClassVar[str] = "gas.fell"
    step_id: str
    instrument_id: str
    from_gauge_pa: float
    to_gauge_pa: float
    band_pa: float
    seconds: float
    trace_sha256: str


@dataclass(frozen=True, slots=True)
class GaugeZero(UnitEvent):
    """What the gauge showed in the open line just before gas was let in, within its zero band."""

    kind: ClassVar[str] = "gauge.zero"
    step_id: str
    instrument_id: str
    calibration: str
    gauge_pa: float
    band_pa: float


@dataclass(frozen=True, slots=True)
class GasRose(UnitEvent):
    """The gauge was seen to rise, reading by reading, while gas was let in."""

    kind: ClassVar[str] = "gas.rose"
    step_id: str
    instrument_id: str
    from_gauge_pa: float
    to_gauge_pa: float


@dataclass(frozen=True, slots=True)
class LineFell(UnitEvent):
    """The gauge that the charge was read on was seen to fall from it to zero, as the line vented.

    ``ticked``: what had been confirmed while the pressure stood, and what the gauge showed then.
    """

    kind: ClassVar[str] = "line.fell"
    step_id: str
    instrument_id: str
    from_gauge_pa: float
    to_gauge_pa: float
    band_pa: float
    seconds: float
    trace_sha256: str
    ticked: Mapping[str, float]


@dataclass(frozen=True, slots=True)
class UnitWeighed(UnitEvent):
    """The whole unit as shown above the empty scale, before the charge or ``after`` sealing.

    ``second``: weighed once more, after it waited. The density is that of the air then; ``None``
    where it is not said.
    """

    kind: ClassVar[str] = "gas.unit_weighed"
    form: ClassVar[int] = 2
    step_id: str
    after: bool
    instrument_id: str
    calibration: str
    u_calibration_kg: float
    shown_kg: float
    std_kg: float
    count: int
    resolution_kg: float
    raw: str
    second: bool = False
    air_density_kg_m3: float | None = None
    u_air_density_kg_m3: float | None = None
