"""The whole unit on the scale: an empty scale at rest, then the unit at rest; pure."""

from dataclasses import dataclass
from enum import StrEnum

from benchstation.bench.capture.weighing import LEAST_UNIT_KG, SteadyMass
from benchstation.devices.instrument import Sample
from benchstation.domain.specification import Steadiness
from benchstation.metrology.stability import Stability, StabilityJudge


class UnitPhase(StrEnum):
    """What the weighing waits for."""

    EMPTY = "empty the scale: hands off"
    UNIT = "put the whole unit on, as it is"


@dataclass(frozen=True, slots=True)
class UnitMass:
    """The unit's mass as shown, above the empty scale, and the steady reading it came from."""

    shown_kg: float
    steady: SteadyMass


class UnitWeighing:
    """Fed with the scale's samples; whatever tare stands, the empty scale is the zero."""

    def __init__(self, steadiness: Steadiness, longest_gap_s: float) -> None:
        self._judge = StabilityJudge(
            steadiness.window, steadiness.band, steadiness.count, longest_gap_s
        )
        self._empty_kg: float | None = None
        self._resolution = 0.0
        self.phase = UnitPhase.EMPTY

    def take(self, sample: Sample) -> None:
        """Take one reading."""
        raw = sample.raw.decode("ascii", "backslashreplace")
        self._judge.feed(sample.at, sample.value, sample.stable, raw)
        self._resolution = sample.resolution or self._resolution

    def mass(self, now: float) -> UnitMass | None:
        """Return the unit's mass once it rests on the scale that was seen empty."""
        view = self._judge.view(now)
        if view.state is not Stability.STEADY:
            return None
        if self._empty_kg is None or view.mean < self._empty_kg + LEAST_UNIT_KG:
            # The lowest rest is the empty scale: what was lifted off meanwhile is not on it.
            self._empty_kg = view.mean
            self.phase = UnitPhase.UNIT
            return None
        steady = SteadyMass(view.mean, view.std, view.n, self._resolution, view.raw)
        return UnitMass(view.mean - self._empty_kg, steady)
