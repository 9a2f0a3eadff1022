"""A sealed unit that waits, and is read again: by its mass, or by its pressure."""

from dataclasses import dataclass
from typing import ClassVar

from benchstation.domain.events.base import UnitEvent
from benchstation.domain.recorded_parts import LossRead


@dataclass(frozen=True, slots=True)
class UnitWaits(UnitEvent):
    """A sealed, charged unit leaves the bench to wait; it is read again from ``due_utc`` on."""

    kind: ClassVar[str] = "unit.waits"
    step_id: str
    due_utc: str


@dataclass(frozen=True, slots=True)
class PressureReadAgain(UnitEvent):
    """What a gauge showed, put on a sealed unit anew, above its zero in the open line before.

    ``before_joining_gauge_pa`` is what was in the unit before the fill tool took its share;
    ``unit_k`` is the unit's temperature then.
    """

    kind: ClassVar[str] = "gas.read_again"
    step_id: str
    instrument_id: str
    calibration: str
    u_calibration_pa: float
    resolution_pa: float
    zero_pa: float
    gauge_pa: float
    std_pa: float
    count: int
    raw: str
    dead_volume_m3: float
    before_joining_gauge_pa: float
    ambient_pa: float
    u_ambient_pa: float
    unit_k: float
    u_unit_k: float
    unit_source: str


@dataclass(frozen=True, slots=True)
class SecondReadingJudged(UnitEvent):
    """What both readings say of the leak: each by itself, whether they agree, the decision.

    ``believed`` names the reading that the rate is of; ``disbelieved`` the one that contradicts
    it, and ``doubt`` why the decision is undecided (``SecondDoubt``). ``left_gauge_pa`` is the
    charge that the reading left in the unit, at the reference temperature.
    """

    kind: ClassVar[str] = "gas.second_reading"
    step_id: str
    by_mass: LossRead | None
    by_pressure: LossRead | None
    believed: str
    disbelieved: str
    rate_pa_m3_s: float
    u_rate_pa_m3_s: float
    allowed_pa_m3_s: float
    decision: str
    doubt: str
    left_gauge_pa: float
