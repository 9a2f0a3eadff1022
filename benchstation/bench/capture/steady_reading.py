"""A steady reading of an instrument, for a step that measures with one."""

from dataclasses import dataclass

from benchstation.bench.bench_instrument import BenchInstrument
from benchstation.devices.instrument import Sample
from benchstation.domain.inputs.given import Taken
from benchstation.domain.inputs.quantity import Measure, Source
from benchstation.domain.specification import Steadiness, Step
from benchstation.metrology.stability import Stability, StabilityJudge

LEAST_BAND_PA, BAND_STEPS = 2000.0, 5
"""A pressure is steady within 20 mbar, or five steps of the gauge where that is more."""


@dataclass(slots=True)
class Steadying:
    """Follows one instrument and gives its value once it is steady."""

    fitted: BenchInstrument
    judge: StabilityJudge

    def take(self, sample: Sample) -> None:
        """Take one reading."""
        raw = sample.raw.decode("ascii", "backslashreplace")
        self.judge.feed(sample.at, sample.value, sample.stable, raw)

    def reset(self) -> None:
        """Begin anew: the stream was broken."""
        self.judge.reset()

    def taken(self, now: float) -> Taken | None:
        """Return the steady value, or ``None`` while it moves, is stale or cannot be trusted."""
        view = self.judge.view(now)
        if view.state is not Stability.STEADY or self.fitted.good_value(now) is None:
            return None
        name = self.fitted.registered.instrument_id
        return Taken(view.mean, view.std, view.n, name, view.raw)

    def state(self, now: float) -> str:
        """Return what it waits for."""
        if self.fitted.good_value(now) is None:
            return "no valid reading"
        return {
            Stability.STEADY: "steady",
            Stability.WAITING: "waiting for steady: hands off",
            Stability.MOVING: "moving: hands off",
            Stability.DRIFTING: "still drifting: wait",
            Stability.FROZEN: "frozen",
            Stability.STALE: "no valid reading",
        }[self.judge.view(now).state]


def steadying_for(
    step: Step, steadiness: Steadiness, scale: BenchInstrument, gauge: BenchInstrument
) -> Steadying | None:
    """Return what follows the instrument that a step measures with; ``None`` where it has none."""
    measures = (a.input for a in step.asked if isinstance(a.input, Measure))
    source = next((m.source for m in measures if m.source is not Source.TYPED), None)
    if source is None:
        return None
    weighs = source is Source.SCALE
    fitted = scale if weighs else gauge
    band = steadiness.band
    if not weighs:
        band = max(LEAST_BAND_PA, BAND_STEPS * fitted.resolution(0.0))
    gap = fitted.instrument.stale_after_s
    return Steadying(fitted, StabilityJudge(steadiness.window, band, steadiness.count, gap))
