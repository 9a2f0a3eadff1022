"""Live weighing at one step: tare proof, the pour as it runs, capture when steady."""

import math
from dataclasses import dataclass, replace
from enum import StrEnum

import numpy as np
from numpy.typing import NDArray

from benchstation.bench.capture.load_watch import LoadWatch
from benchstation.bench.capture.scale_answer import ScaleAnswer
from benchstation.bench.capture.tracing import last_samples
from benchstation.devices.instrument import Sample
from benchstation.domain.events import UnweighedUndone
from benchstation.domain.oil_balance import Purpose
from benchstation.domain.scale_alive import Alive
from benchstation.domain.specification import Method, Steadiness
from benchstation.metrology.stability import Stability, StabilityJudge, StabilityView
from benchstation.metrology.window_scatter import Scatter, WindowScatter
from benchstation.quantities.formatter import METRIC, QuantityFormatter

FloatArray = NDArray[np.float64]
TARE_PATIENCE_S = 15.0
LONGEST_POUR_S = 1800.0
JUMP_KG, JUMP_KG_S, BACK_KG = 0.02, 0.15, 0.003
"""A step of more than 20 g that comes faster than 150 g/s is no pour; back is within 3 g."""
LEAST_UNIT_KG = 0.05
"""No unit is lighter: less than this before the pour is an empty scale."""


LEAST_BETWEEN_S, LONGEST_BETWEEN_S = 1.0, 15.0
"""Between asking for a tare over what is not captured, and asking for it once more."""
REST_FILTERS = 2.5
"""So many time constants of the scale's filter after the display moved it has come to rest."""
LIVELY_DIGITS, LIVELY_RETURNS = 0.7, 4
"""Noise of so many digits at the tare leaves a reading in its digit with a chance of 0.53 at most:
ten readings in a row without a change are then less likely than 0.2 %, and the scale is stuck. It
is noise, and no settling, when it went back and forth so often."""


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


@dataclass(frozen=True, slots=True)
class WeighPlan:
    """What is weighed: for what, how, from which lot.

    ``portion`` is that of what was captured since the tare, ``None`` before; by difference it is
    that of the weighing ``before_kg``, which scatters by ``before_scatter``. ``most_kg`` is more
    oil than could be meant.
    """

    purpose: Purpose = Purpose.POUR
    method: Method = Method.GAIN
    lot: str = ""
    most_kg: float = 0.5
    again: bool = False
    portion: int | None = None
    before_kg: float | None = None
    before_scatter: Scatter | None = None

    @property
    def wants_before(self) -> bool:
        """Return True when the unit is weighed as it is before the pour."""
        return self.method is Method.DIFFERENCE and self.before_kg is None


def _jumps(before: Sample, after: Sample) -> bool:
    return abs(after.value - before.value) > max(JUMP_KG, JUMP_KG_S * (after.at - before.at))


class Weighing:
    """Judges the scale's stream for one weighing; pure, fed with samples and times.

    What it gives as poured is oriented: more oil moved is more, whichever method.
    """

    def __init__(
        self,
        steadiness: Steadiness,
        *,
        longest_gap_s: float,
        plan: WeighPlan | None = None,
        filter_s: float = 0.0,
    ) -> None:
        self.plan = plan or WeighPlan()
        self.next_lot = ""
        """The lot that the rest is poured from once this part is captured."""
        self.uncaptured_kg = 0.0
        """What was moved since a tare that was lost, and since its last capture."""
        self.emptied: UnweighedUndone | None = None
        """What was confirmed before the tare that is being proven."""
        self.contradicted_kg: float | None = None
        """What the scale showed against that, where a deviation accepts it."""
        self._captured_kg = 0.0
        self._steadiness = steadiness
        sense = -1 if self.plan.method is Method.LOSS else 1
        self._loads = LoadWatch(3 * steadiness.tare_band, sense)
        self.at_command_kg = 0.0
        """What the scale showed when the tare was sent: the load that it takes away."""
        self._doubt_told = self._doubtful = False
        self._tare_doubted_at = -math.inf
        self._judge = StabilityJudge(
            steadiness.window, steadiness.band, steadiness.count, longest_gap_s
        )
        self.phase = Phase.NEED_TARE
        self._asked_at = 0.0
        self._tare_sent = False
        self._last: Sample | None = None
        self._rest_kg: float | None = None
        self._jumped_from: float | None = None
        self._jump_up = self._came_back = False
        self._resolution = 0.0
        self._at_tare: list[float] = []
        self.zero_kg = 0.0
        """What the tared scale stood at when its tare was proven: no part of what is weighed."""
        self._zero_count = 0
        self.filter_s = filter_s
        """The lag of the scale itself, as far as it is known."""
        self._scatter = WindowScatter()
        self._pooled_at = self._moved_at = -math.inf
        self._lively = False
        self._answer = ScaleAnswer(steadiness.band)
        self._times: list[float] = []
        self._values: list[float] = []

    def begin_tare(self, now: float, emptied: UnweighedUndone | None = None) -> None:
        """Wait for rest, so that the scale will take the tare; ``emptied`` was confirmed before."""
        self._judge.reset()
        self._lively = False
        self.emptied = emptied
        self._look_anew()
        self.phase = Phase.TARING
        self.zero_kg = 0.0
        self._asked_at = now
        self._tare_sent = False
        self._jumped_from = None
        self._new_portion()

    def _new_portion(self) -> None:
        """Begin a portion: what is tared now is no part of the next mass, except by difference."""
        if self.plan.method is not Method.DIFFERENCE and self.plan.portion is not None:
            self.plan = replace(self.plan, portion=None, again=False)

    def tare_due(self, now: float) -> bool:
        """Return True once, when the scale is steady and the tare command must go out.

        What was steady before the command proves nothing: the judgement starts anew.
        """
        steady = self.steady(now) if self.phase is Phase.TARING and not self._tare_sent else None
        if steady is None or self.poured_untared or not self._rested(now):
            return False
        self._tare_sent = True
        self._at_tare.clear()
        self.at_command_kg = steady.mean_kg
        self._asked_at = now
        self._judge.reset()
        return True

    def begin_capture(self) -> None:
        """Take the next steady mass."""
        if self.phase is Phase.POURING:
            self.phase = Phase.CAPTURING

    def cancel_capture(self) -> None:
        """Go back to pouring, or to before a tare that is asked for and not proven."""
        self.next_lot = ""
        if self.phase is Phase.CAPTURING:
            self.phase = Phase.POURING
        elif self.phase is Phase.TARING:
            self.phase = Phase.NEED_TARE

    def lose_tare(self) -> bool:
        """Forget the tare; say whether there was one."""
        had = self.tared
        self.next_lot = ""
        if had:
            self.note_uncaptured()
            self._look_anew()
            self._doubtful = self.uncaptured
        self._judge.reset()
        self.phase = Phase.NEED_TARE
        self.zero_kg = 0.0
        self._jumped_from = self._rest_kg = None
        self._new_portion()
        return had

    def note_uncaptured(self) -> None:
        """Keep in mind what no capture holds; by difference the unit itself does."""
        if not self.tared or self._last is None or self.plan.method is Method.DIFFERENCE:
            return
        # With the plug or the jug out, the last value before that is the one that tells.
        shown = self._last.value if self._jumped_from is None else self._jumped_from
        self.uncaptured_kg = self.poured_kg(shown) - self._captured_kg

    def _look_anew(self) -> None:
        # While a tare held, nobody told the watch what was poured: that is no growth now.
        self._loads.begin(None if self._last is None else (self._last.at, self._last.value))
        self._doubt_told = self._doubtful = False

    @property
    def poured_untared(self) -> bool:
        """Return True when oil may have been moved while no tare held; by difference, never."""
        if self.tared or self.plan.method is Method.DIFFERENCE:
            return False
        return self._loads.grown or self._doubtful

    @property
    def seen_empty_kg(self) -> float | None:
        """Return what stood steady on the scale before oil came untared; ``None``: nothing did."""
        if self._tare_sent:
            return self.at_command_kg
        return None if self._rest_kg is None else self._rest_kg - self.uncaptured_kg

    def settle_untared(self) -> None:
        """Take note that the oil which came without a tare is weighed after all."""
        self.uncaptured_kg = 0.0
        self._rest_kg = None
        self._look_anew()

    @property
    def doubt_due(self) -> bool:
        """Return True when that is still to be put on record."""
        return self.poured_untared and not self._doubt_told

    def doubt_told(self) -> None:
        """Take note that it is on record."""
        self._doubt_told = True

    @property
    def moved_kg(self) -> float:
        """Return what was moved since the tare and is in no capture; 0 where no tare holds."""
        if not self.tared or self._last is None or self.plan.method is Method.DIFFERENCE:
            return 0.0
        moved = self.poured_kg(self._last.value) - self._captured_kg
        return moved if abs(moved) > 3 * self._steadiness.tare_band else 0.0

    @property
    def under_way(self) -> bool:
        """Return True from the tare on, as long as something of this weighing is not captured."""
        if self.phase is Phase.POURING:
            return not self._captured_kg or self.moved_kg != 0.0
        return self.phase is not Phase.NEED_TARE

    def gives_up(self, now: float) -> bool:
        """Return True when a tare over what is not captured is asked for once more, in good time.

        The first time only asks; a second press within a second is the same finger.
        """
        waited, self._tare_doubted_at = now - self._tare_doubted_at, now
        return LEAST_BETWEEN_S <= waited <= LONGEST_BETWEEN_S

    @property
    def uncaptured(self) -> bool:
        """Return True when oil was moved that counts for nothing."""
        return abs(self.uncaptured_kg) > 3 * self._steadiness.tare_band

    def resume(self, portion: int, captured_kg: float) -> None:
        """Go on after a capture of this portion that did not end the step."""
        self._captured_kg = captured_kg
        self.plan = replace(self.plan, portion=portion)
        self.next_lot = ""
        self.phase = Phase.POURING

    def begin_after(self, before_kg: float, portion: int, scatter: Scatter | None) -> None:
        """Free the scale until the unit comes back: its mass before the pour is known."""
        plan = replace(self.plan, before_kg=before_kg, portion=portion)
        self.plan = replace(plan, before_scatter=scatter)
        self.lose_tare()

    @property
    def wants_before(self) -> bool:
        """Return True when the unit is weighed as it is before the pour."""
        return self.plan.wants_before

    def poured_kg(self, shown_kg: float) -> float:
        """Return the oil moved when the scale shows this, counted from where its tare stood."""
        moved_kg = shown_kg - self.zero_kg
        if self.plan.method is Method.LOSS:
            return -moved_kg
        return moved_kg - (self.plan.before_kg or 0.0)

    def scatter(self, count: int) -> Scatter | None:
        """Return how a net mass of ``count`` readings scatters: with its tare, and that before."""
        between_s = self._judge.window_s / max(count - 1, 1)
        filtered = math.exp(-between_s / self.filter_s) if self.filter_s > 0 else 0.0
        gross = self._scatter.of_mean(count, filtered)
        zero = self._scatter.of_mean(self._zero_count, filtered)
        if gross is None or zero is None:
            return None
        before = self.plan.before_scatter
        u = math.hypot(gross.u, zero.u, before.u if before else 0.0)
        return Scatter(u, min(gross.dof, before.dof) if before else gross.dof)

    def refusal(self, shown_kg: float, words: QuantityFormatter = METRIC) -> str:
        """Return why a steady value can be no mass of oil; empty: nothing against it."""
        poured = self.poured_kg(shown_kg)
        shows = f"the scale shows {words.mass(shown_kg)}"
        band = self._steadiness.tare_band
        match self.plan.method:
            case Method.DIFFERENCE if self.wants_before:
                return "" if poured >= LEAST_UNIT_KG else f"{shows}: no unit is on it."
            case Method.DIFFERENCE if poured < -band:
                less = f"{words.mass(-poured)} less than before the pour"
                return f"{shows}, {less}. Put the whole unit on, with all that was on it before."
            case Method.DIFFERENCE if poured > self.plan.most_kg:
                more = f"{words.mass(poured)} more than before the pour"
                return f"{shows}, {more}. Is it the same unit, and nothing else on the scale?"
            case Method.LOSS if poured < -band:
                return f"{shows}, more than at the tare. Leave only the jug on it, or tare again."
            case Method.GAIN if poured < -band:
                return f"{shows}, less than at the tare. Put everything back on, or tare again."
            case _:
                return ""

    @property
    def tared(self) -> bool:
        """Return True when a tare is proven and holds."""
        return self.phase in (Phase.POURING, Phase.CAPTURING)

    @property
    def capturing(self) -> bool:
        """Return True when the next steady mass is asked for."""
        return self.phase is Phase.CAPTURING

    def take(self, sample: Sample) -> None:
        """Take one reading."""
        raw = sample.raw.decode("ascii", "backslashreplace")
        lively = self._lively and self.tared
        view = self._judge.feed(sample.at, sample.value, sample.stable, raw, expect_motion=lively)
        if view.state is Stability.MOVING:
            self._moved_at = sample.at
        # All of the window must have rested: what creeps is no scatter.
        pools = view.state is Stability.STEADY and self._rested(sample.at - self._judge.window_s)
        if pools and sample.at - self._pooled_at > self._judge.window_s:
            self._pooled_at = sample.at
            self._scatter.add(self._judge.values())
        self._resolution = sample.resolution or self._resolution
        if self.phase is Phase.TARING:
            self._at_tare.append(sample.value)
        if not self.tared:
            self._loads.take(sample.at, sample.value)
        self._watch_before_tare(sample)
        self._watch_for_jump(sample)
        if self.tared:
            at_rest = view.state is Stability.STEADY and self._rested(sample.at)
            self._answer.take(sample.value, view.mean if at_rest else None)
            self._times.append(sample.at)
            self._values.append(self.poured_kg(sample.value))
            if self._times[-1] - self._times[0] > LONGEST_POUR_S:
                del self._times[: len(self._times) // 10], self._values[: len(self._values) // 10]

    def _watch_before_tare(self, sample: Sample) -> None:
        """Notice oil that runs into the tray before the tare, which would hide it.

        Between two rests the tray gains, and nothing jumps: nobody put anything on it.
        """
        before = self._last
        if self.plan.purpose is not Purpose.BLEED:
            return
        if before is None or _jumps(before, sample):
            self._rest_kg = None
            self._tare_sent = self._tare_sent and self.phase is Phase.TARING
            return
        if self.phase is not Phase.NEED_TARE:
            return
        steady = self.steady(sample.at)
        if steady is None:
            return
        rest, self._rest_kg = self._rest_kg, steady.mean_kg
        if rest is None:
            return
        gained = steady.mean_kg - rest
        if gained > 3 * self._steadiness.tare_band:
            self.uncaptured_kg += gained
        else:
            # The lowest rest stays, so that what drips slowly comes to something too.
            self._rest_kg = min(rest, steady.mean_kg)

    def _watch_for_jump(self, sample: Sample) -> None:
        """Notice what no pour does: something put on the pan, or what stood there lifted off it.

        A jug is lifted to pour from it, and comes back lighter: back is then any step the other
        way that leaves no more oil missing than could be meant. By difference all may come and go.
        """
        before, self._last = self._last, sample
        if not self.tared or before is None:
            return
        change, jumps = sample.value - before.value, _jumps(before, sample)
        if self.plan.method is Method.DIFFERENCE:
            if jumps:
                self._answer.put_on()
            return
        if self._jumped_from is None:
            if jumps:
                self._jumped_from = before.value
                self._jump_up, self._came_back = change > 0, False
            return
        if jumps:
            self._came_back = self._came_back or (change > 0) is not self._jump_up
            return
        more = self.poured_kg(sample.value) - self.poured_kg(self._jumped_from)
        lighter = (
            self.plan.method is Method.LOSS
            and self._came_back
            and -BACK_KG <= more <= self.plan.most_kg
        )
        if lighter or abs(more) <= BACK_KG:
            self._jumped_from = None
            if self._came_back:
                self._answer.put_on()

    @property
    def jumped_from_kg(self) -> float | None:
        """Return what the scale showed before something was put on or lifted, until restored."""
        return self._jumped_from

    def _rested(self, now: float) -> bool:
        """Return True when the scale's own filter has come to rest since the display moved.

        Readings within the band may still creep: a slow filter is then a tenth of a band away.
        """
        return now - self._moved_at >= REST_FILTERS * self.filter_s

    def view(self, now: float) -> StabilityView:
        """Return the stability now."""
        return self._judge.view(now)

    def steady(self, now: float) -> SteadyMass | None:
        """Return the steady mass now, or ``None``."""
        view = self._judge.view(now)
        if view.state is not Stability.STEADY:
            return None
        return SteadyMass(view.mean, view.std, view.n, self._resolution, view.raw)

    def tare_result(self, now: float, words: QuantityFormatter = METRIC) -> SteadyMass | str | None:
        """Return the proven tare, a sentence why it failed, or ``None`` while waiting."""
        if self.phase is not Phase.TARING:
            return None
        if self.poured_untared:
            self.phase = Phase.NEED_TARE
            return "oil may have been poured meanwhile"
        steady = self.steady(now)
        proven = steady if self._tare_sent else None
        if proven is not None and abs(proven.mean_kg) <= self._steadiness.tare_band:
            self.phase = Phase.POURING
            self.zero_kg, self._zero_count = proven.mean_kg, proven.count
            self._lively = self._moved_at_tare(proven)
            self._answer.begin()
            self._times, self._values = [], []
            self.uncaptured_kg = self._captured_kg = 0.0
            return proven
        if now - self._asked_at < TARE_PATIENCE_S:
            return None
        self.phase = Phase.NEED_TARE
        if steady is None or not self._tare_sent:
            # A frozen scale shows no pour.
            self._doubtful = self._judge.view(now).state is Stability.FROZEN
            return "the scale did not become steady"
        # Where it stood at the command it took no tare; anywhere else the load has changed.
        moved_kg = abs(steady.mean_kg - self.at_command_kg)
        self._doubtful = moved_kg > 3 * self._steadiness.tare_band
        return f"the scale is steady at {words.mass(steady.mean_kg)}, not at zero"

    def _moved_at_tare(self, proven: SteadyMass) -> bool:
        """Return True when the digits moved at the tare by noise: at rest they must again."""
        moves = np.diff(np.asarray(self._at_tare[-proven.count :]))
        ways = np.sign(moves[moves != 0.0])
        returns = int(np.count_nonzero(ways[1:] != ways[:-1]))
        lively = self._resolution > 0.0 and proven.std_kg >= LIVELY_DIGITS * self._resolution
        return lively and returns >= LIVELY_RETURNS

    def captured(self, now: float) -> SteadyMass | None:
        """Return the mass when capture was asked for and a scale that is alive is steady."""
        return None if self.alive is Alive.NOT_SHOWN else self._at_rest(now)

    @property
    def alive(self) -> Alive:
        """Return what shows that the scale is alive, in the window as it is now."""
        return self._answer.alive(self._judge.values())

    def unanswered(self, now: float) -> bool:
        """Return True when nothing but a sign of life keeps the mass that was asked for."""
        return self.alive is Alive.NOT_SHOWN and self._at_rest(now) is not None

    def _at_rest(self, now: float) -> SteadyMass | None:
        if self.phase is not Phase.CAPTURING or self._jumped_from is not None:
            return None
        return self.steady(now) if self._rested(now) else None

    def pour(self) -> tuple[FloatArray, FloatArray]:
        """Return times in s and the oil moved in kg since the tare, arrays of equal length."""
        return np.asarray(self._times), np.asarray(self._values)

    def last_part(self, seconds: float) -> tuple[FloatArray, FloatArray]:
        """Return the samples of the last ``seconds``."""
        return last_samples(self._times, self._values, seconds)
