"""What is found out about an instrument: its calibration in detail, and a study at the bench."""

from dataclasses import dataclass
from typing import ClassVar

from benchstation.domain.content import Recorded
from benchstation.domain.events.base import Event, UnitEvent


@dataclass(frozen=True, slots=True)
class Compared(Recorded):
    """One point of a certificate: the true value, and what the instrument itself showed, SI."""

    reference: float
    reading: float
    down: bool = False
    """Whether the place was approached from above."""
    u_reference: float = 0.0


@dataclass(frozen=True, slots=True)
class CalibrationResult(Recorded):
    """What a calibration found: true value = ``gain`` * reading + ``offset``, SI.

    ``u`` is the largest standard uncertainty of a corrected reading in the range, with bend and
    hysteresis. ``u_offset``, ``u_gain`` and ``correlation`` say it of the line alone, for each
    reading; ``own_u`` is what is new at each reading. Without points a certificate gives one u.
    """

    gain: float
    offset: float
    u: float
    u_offset: float
    u_gain: float = 0.0
    correlation: float = 0.0
    own_u: float = 0.0
    nonlinearity: float | None = None
    hysteresis: float | None = None
    repeatability: float | None = None
    points: tuple[Compared, ...] = ()


@dataclass(frozen=True, slots=True)
class CalibrationDetails(Recorded):
    """What a certificate says beyond its number and dates.

    ``low`` and ``high`` are the range that was calibrated; ``None``: not stated. ``found`` is the
    instrument as it came to the laboratory: the same as ``left`` where nothing was adjusted,
    ``None`` where nobody knows.
    """

    laboratory: str
    low: float | None
    high: float | None
    left: CalibrationResult
    found: CalibrationResult | None
    adjusted: bool
    reason: str = ""
    """Why it was put on record, as whoever signed it typed."""


@dataclass(frozen=True, slots=True)
class CalibrationChanged(UnitEvent):
    """An instrument got another calibration while this unit was on the bench.

    What was captured before keeps the one that it names; ``before`` and ``after`` are such names.
    ``instrument`` is its id: no evidence of the unit rests on it by this fact.
    """

    kind: ClassVar[str] = "unit.calibration_changed"
    step_id: str
    instrument: str
    before: str
    after: str


@dataclass(frozen=True, slots=True)
class RepeatabilityMeasured(Event):
    """A weight that was put on and off a scale again and again: how far its readings scatter, kg.

    ``empty`` and ``loaded`` are steady means in their order, the empty pan before each load.
    ``std`` is the standard deviation of loaded less empty, so it holds two displays; that of one
    display is smaller by the root of two. ``dof`` are its degrees of freedom.
    """

    kind: ClassVar[str] = "instrument.repeatability"
    instrument_id: str
    nominal: float
    empty: tuple[float, ...]
    loaded: tuple[float, ...]
    std: float
    dof: int
    resolution: float
    calibration: str


@dataclass(frozen=True, slots=True)
class ScaleResponded(Event):
    """How far a scale's display lags behind the hand that pours, as it was learned.

    ``step_s`` is the scale's own, from loads that were set on in one go; ``None``: not seen.
    ``pours_s`` are what the last pours showed, the newest last; ``response_s`` is what the forecast
    of a pour takes from now on.
    """

    kind: ClassVar[str] = "instrument.responded"
    instrument_id: str
    step_s: float | None
    pours_s: tuple[float, ...]
    response_s: float
