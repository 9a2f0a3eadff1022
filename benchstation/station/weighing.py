"""Live weighing at one step: tare proof, the pour as it runs, capture when steady."""

from dataclasses import dataclass
from enum import StrEnum

import numpy as np
from numpy.typing import NDArray

from benchstation.devices.instrument import Sample
from benchstation.metrology.stability import Stability, StabilityJudge, StabilityView
from benchstation.rebuild.specification import Steadiness
from benchstation.station.tracing import last_samples

FloatArray = NDArray[np.float64]
TARE_PATIENCE_S = 15.0
LONGEST_POUR_S = 1800.0
JUMP_KG, JUMP_KG_S, BACK_KG = 0.02, 0.15, 0.003
"""A step of more than 20 g that comes faster than 150 g/s is no pour; back is within 3 g."""


class Phase(StrEnum):
    """What the weighing waits for."""

    NEED_TARE = "need tare"
    TARING = "taring"
    POURING = "pouring"
    CAPTURING = "capturing"


@dataclass(frozen=True, slots=True)
class SteadyMass:
    """A steady mass over the window, with the last raw frame."""

    mean_kg: float
    std_kg: float
    count: int
    resolution_kg: float
    raw: str


class Weighing:
    """Judges the scale's stream for one step; pure, fed with samples and times."""

    def __init__(self, steadiness: Steadiness, *, longest_gap_s: float) -> None:
        self._steadiness = steadiness
        self._judge = StabilityJudge(
            steadiness.window, steadiness.band, steadiness.count, longest_gap_s
        )
        self.phase = Phase.NEED_TARE
        self._asked_at = 0.0
        self._tare_sent = False
        self._last: Sample | None = None
        self._jumped_from: float | None = None
        self._resolution = 0.0
        self._times: list[float] = []
        self._values: list[float] = []

    def begin_tare(self, now: float) -> None:
        """Wait for rest, so that the scale will take the tare."""
        self._judge.reset()
        self.phase = Phase.TARING
        self._asked_at = now
        self._tare_sent = False
        self._jumped_from = None

    def tare_due(self, now: float) -> bool:
        """Say once, when the scale has come to rest, that the tare command goes out now.

        What was steady before the command proves nothing: the judgement starts anew.
        """
        if self.phase is not Phase.TARING or self._tare_sent or self.steady(now) is None:
            return False
        self._tare_sent = True
        self._asked_at = now
        self._judge.reset()
        return True

    def begin_capture(self) -> None:
        """Take the next steady mass."""
        if self.phase is Phase.POURING:
            self.phase = Phase.CAPTURING

    def cancel_capture(self) -> None:
        """Go back to pouring."""
        if self.phase is Phase.CAPTURING:
            self.phase = Phase.POURING

    def lose_tare(self) -> bool:
        """Forget the tare; say whether there was one."""
        had = self.tared
        self._judge.reset()
        self.phase = Phase.NEED_TARE
        self._jumped_from = None
        return had

    def resume(self) -> None:
        """Go on after a capture that did not end the step."""
        self.phase = Phase.POURING

    @property
    def tared(self) -> bool:
        """Whether a tare is proven and holds."""
        return self.phase in (Phase.POURING, Phase.CAPTURING)

    @property
    def capturing(self) -> bool:
        """Whether the next steady mass is asked for."""
        return self.phase is Phase.CAPTURING

    def take(self, sample: Sample) -> None:
        """Take one reading."""
        raw = sample.raw.decode("ascii", "backslashreplace")
        self._judge.feed(sample.at, sample.value, sample.stable, raw)
        self._resolution = sample.resolution or self._resolution
        self._watch_for_jump(sample)
        if self.tared:
            self._times.append(sample.at)
            self._values.append(sample.value)
            if self._times[-1] - self._times[0] > LONGEST_POUR_S:
                del self._times[: len(self._times) // 10], self._values[: len(self._values) // 10]

    def _watch_for_jump(self, sample: Sample) -> None:
        """Notice what no pour does: something put on the pan, or the unit lifted off it."""
        before, self._last = self._last, sample
        if not self.tared or before is None:
            return
        if self._jumped_from is None:
            change = abs(sample.value - before.value)
            if change > JUMP_KG and change > JUMP_KG_S * (sample.at - before.at):
                self._jumped_from = before.value
        elif abs(sample.value - self._jumped_from) <= BACK_KG:
            self._jumped_from = None

    @property
    def jumped_from_kg(self) -> float | None:
        """What the scale showed before something was put on or lifted, until it shows so again."""
        return self._jumped_from

    def view(self, now: float) -> StabilityView:
        """Give the stability now."""
        return self._judge.view(now)

    def steady(self, now: float) -> SteadyMass | None:
        """Give the steady mass now, or ``None``."""
        view = self._judge.view(now)
        if view.state is not Stability.STEADY:
            return None
        return SteadyMass(view.mean, view.std, view.n, self._resolution, view.raw)

    def tare_result(self, now: float) -> SteadyMass | str | None:
        """Give the proven tare, a sentence why it failed, or ``None`` while waiting."""
        if self.phase is not Phase.TARING:
            return None
        steady = self.steady(now)
        proven = steady if self._tare_sent else None
        if proven is not None and abs(proven.mean_kg) <= self._steadiness.tare_band:
            self.phase = Phase.POURING
            self._times, self._values = [], []
            return proven
        if now - self._asked_at < TARE_PATIENCE_S:
            return None
        self.phase = Phase.NEED_TARE
        if steady is None or not self._tare_sent:
            return "the scale did not come to rest"
        return f"the scale rests at {steady.mean_kg * 1e3:.1f} g, not at zero"

    def captured(self, now: float) -> SteadyMass | None:
        """Give the mass when capture was asked for and the scale is steady."""
        if self.phase is not Phase.CAPTURING or self._jumped_from is not None:
            return None
        return self.steady(now)

    def pour(self) -> tuple[FloatArray, FloatArray]:
        """Give times in s and net mass in kg since the tare, arrays of equal length."""
        return np.asarray(self._times), np.asarray(self._values)

    def last_part(self, seconds: float) -> tuple[FloatArray, FloatArray]:
        """Give the samples of the last ``seconds``."""
        return last_samples(self._times, self._values, seconds)
