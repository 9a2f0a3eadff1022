"""A gauge put on a sealed unit anew: its zero in the open line, then the pressure at rest; pure."""

from dataclasses import dataclass
from enum import StrEnum

from benchstation.devices.instrument import Sample
from benchstation.metrology.stability import Stability, StabilityJudge

LEAST_BAND_PA, BAND_STEPS = 1000.0, 3
WINDOW_S, COUNT = 5.0, 10


class AgainPhase(StrEnum):
    """What the reading waits for."""

    ZERO = "fill tool off the unit, its line open to the air: the gauge shows its zero first"
    UNIT = "put the fill tool on, close its vent, open the gas screw; leave it alone"


@dataclass(frozen=True, slots=True)
class AgainRead:
    """The gauge's zero, and what it showed at rest on the unit, Pa gauge."""

    zero_pa: float
    gauge_pa: float
    std_pa: float
    count: int
    raw: str


class PressureAgain:
    """Fed with the gauge's samples; ``band_pa`` is the zero band, ``step_pa`` the last digit."""

    def __init__(self, band_pa: float, step_pa: float, longest_gap_s: float) -> None:
        self._band = band_pa
        still = max(LEAST_BAND_PA, BAND_STEPS * step_pa)
        self._judge = StabilityJudge(WINDOW_S, still, COUNT, longest_gap_s)
        self._zero_pa: float | None = None
        self.phase = AgainPhase.ZERO

    def take(self, sample: Sample) -> None:
        """Take one reading."""
        raw = sample.raw.decode("ascii", "backslashreplace")
        self._judge.feed(sample.at, sample.value, sample.stable, raw)

    def read(self, now: float) -> AgainRead | None:
        """Return the reading once the gauge was at zero and rests on the unit."""
        view = self._judge.view(now)
        if view.state is not Stability.STEADY:
            return None
        if abs(view.mean) <= self._band:
            self._zero_pa, self.phase = view.mean, AgainPhase.UNIT
            return None
        if self._zero_pa is None:
            return None
        return AgainRead(self._zero_pa, view.mean, view.std, view.n, view.raw)
