"""A repeatability run: a weight on and off a scale, each time until it is steady; pure.

The scale is watched as a weighing watches it, so that the scatter found is that of a captured mass.
"""

from dataclasses import dataclass, field

from benchstation.bench.bench_instrument import BenchInstrument
from benchstation.devices.instrument import Sample
from benchstation.domain.calibrations import calibration_of
from benchstation.domain.events import RepeatabilityMeasured
from benchstation.domain.specification import Steadiness
from benchstation.domain.unit_commands import NotAllowedError
from benchstation.metrology.repeatability import scatter
from benchstation.metrology.stability import Stability, StabilityJudge

USUAL_TIMES, LEAST_TIMES, MOST_TIMES = 10, 5, 50
BAND_STEPS = 3
"""A scale is steady within the band of a weighing, or this many steps where that is more."""
EMPTY_SHARE, LOAD_SHARE = 0.05, 0.1
"""An empty pan shows no more than this of the weight; the weight is on it within this of it."""


@dataclass(slots=True)
class RepeatabilityRun:
    """Follows a scale until the weight was on it so many times. Fed with every sample."""

    fitted: BenchInstrument
    nominal_kg: float
    times: int
    person_id: str
    """Who puts the weight on."""
    empty: list[float] = field(default_factory=list)
    loaded: list[float] = field(default_factory=list)
    problem: str = ""
    """What is wrong with the load that lies there at rest; empty: nothing."""
    _judge: StabilityJudge = field(init=False)
    _net: bool = False

    def __post_init__(self) -> None:
        """Refuse what cannot be studied."""
        if not LEAST_TIMES <= self.times <= MOST_TIMES:
            raise NotAllowedError(
                f"{self.times} times cannot be run.",
                advice=f"Take {LEAST_TIMES} to {MOST_TIMES}; {USUAL_TIMES} is usual.",
                field="times",
            )
        usual = Steadiness()
        band = max(usual.band, BAND_STEPS * self.fitted.resolution(0.0))
        if self.nominal_kg * LOAD_SHARE <= band:
            raise NotAllowedError(
                "the weight is too small for this scale.",
                advice="Take one of about the mass that is weighed on it.",
                field="nominal",
            )
        gap = self.fitted.instrument.stale_after_s
        self._judge = StabilityJudge(usual.window, band, usual.count, gap)

    @property
    def wants_load(self) -> bool:
        """Return True when the weight is to be put on next, False when it is to come off."""
        return len(self.empty) > len(self.loaded)

    @property
    def done(self) -> bool:
        """Return True when the weight was on so many times as wanted."""
        return len(self.loaded) == self.times

    def take(self, sample: Sample) -> None:
        """Take one reading."""
        self._judge.feed(sample.at, sample.value, sample.stable)
        self._net = bool(sample.net)

    def move_on(self, now: float) -> bool:
        """Keep the load that rests there, if it is the one that is waited for; True: it was."""
        view = self._judge.view(now)
        if self.done or view.state is not Stability.STEADY:
            return False
        mean, nominal = view.mean, self.nominal_kg
        near_zero = abs(mean) <= EMPTY_SHARE * nominal
        near_load = abs(mean - nominal) <= LOAD_SHARE * nominal
        self.problem = ""
        if self.wants_load and near_load:
            self.loaded.append(mean)
        elif not self.wants_load and near_zero:
            self.empty.append(mean)
        else:
            # What lies there may still be what was kept last.
            self.problem = "" if near_zero or near_load else self._odd(mean)
            return False
        return True

    def _odd(self, mean: float) -> str:
        """Return in words what a load is that is neither nothing nor the weight."""
        if mean < 0.0 or self._net:
            return "a tare stands: empty the pan, then zero the scale"
        return "this is neither empty nor the weight"

    def measured(self) -> RepeatabilityMeasured:
        """Return what the run found; it must be done."""
        pairs = zip(self.loaded, self.empty, strict=True)
        found = scatter([loaded - empty for loaded, empty in pairs])
        return RepeatabilityMeasured(
            self.fitted.id,
            self.nominal_kg,
            tuple(self.empty),
            tuple(self.loaded),
            found.std,
            found.dof,
            self.fitted.resolution(0.0),
            calibration_of(self.fitted.registered),
        )
