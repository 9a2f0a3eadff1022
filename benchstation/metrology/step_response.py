"""How far a display lags behind its load, from a load that is set on in one go.

The lag of any linear filter is the area between its input and its response to a step of height 1,
``integral (1 - y(t)) dt``: the time constant of a filter of first order, half the length of a
moving average (the mean of the impulse response: Oppenheim and Willsky, Signals and Systems, from
memory).
"""

import math
from collections import deque
from dataclasses import dataclass, field

LEAST_STEP, LEAST_SHARE = 0.03, 0.5
"""A step is at least so large, kg, and comes to half its height within a second and a half."""
REST_S, LONGEST_S = 1.0, 20.0
EVEN, OVER = 0.002, 0.05
"""At rest readings agree to this share of the step; more beyond it is a hand, and no filter."""
HALF_WITHIN_S = 1.5
KEPT = 5
MOST_AT_REST = 200
"""So many readings are looked at for rest: readings that come late in one go cost no more."""


@dataclass(slots=True)
class StepWatch:
    """Follows the readings of a scale and keeps the lag that each step shows; bounded.

    What a hand sets down slowly lags more than the scale does: of the last ``KEPT`` steps the
    least counts.
    """

    delays_s: list[float] = field(default_factory=list)
    _quiet: deque[tuple[float, float]] = field(default_factory=lambda: deque(maxlen=MOST_AT_REST))
    _rise: list[tuple[float, float]] = field(default_factory=list)

    @property
    def delay_s(self) -> float | None:
        """Return the lag, s; ``None`` before a step was seen."""
        return min(self.delays_s, default=None)

    def take(self, at: float, value: float) -> None:
        """Take one reading, in order of time."""
        if not math.isfinite(value):
            self._forget()
            return
        if self._rise:
            self._rise.append((at, value))
            self._judge(at)
            return
        while self._quiet and self._quiet[0][0] < at - REST_S:
            self._quiet.popleft()
        values = [v for _, v in self._quiet]
        calm = len(values) >= 3 and max(values) - min(values) <= EVEN * LEAST_STEP * 5
        if calm and value - values[-1] > EVEN * LEAST_STEP * 20:
            self._rise = [(self._quiet[-1][0], math.fsum(values) / len(values)), (at, value)]
        self._quiet.append((at, value))

    def _forget(self) -> None:
        self._quiet.clear()
        self._rise = []

    def _judge(self, now: float) -> None:
        begun, start = self._rise[0]
        if now - begun > LONGEST_S:
            self._forget()
            return
        last = [v for at, v in self._rise[1:] if at >= now - REST_S]
        height = math.fsum(last) / len(last) - start
        calm = max(last) - min(last) <= EVEN * max(abs(height), LEAST_STEP)
        if now - begun < 2.0 * REST_S or not calm:
            return
        delay = self._lag(start, height) if height >= LEAST_STEP else None
        if delay is not None:
            self.delays_s = [*self.delays_s[1 - KEPT :], delay]
        self._quiet.clear()
        self._quiet.extend(self._rise[-5:])
        self._rise = []

    def _lag(self, start: float, height: float) -> float | None:
        """Return the area above the response; ``None`` where it is no step through a filter."""
        # The load came at some time between the last reading at rest and the first that moved.
        begin = 0.5 * (self._rise[0][0] + self._rise[1][0])
        area, before, missing = 0.0, begin, 1.0
        for at, value in self._rise[1:]:
            left = 1.0 - (value - start) / height
            if left < -OVER or (at - begin > HALF_WITHIN_S and left > LEAST_SHARE):
                return None
            area += 0.5 * (missing + left) * (at - before)
            before, missing = at, left
        return area
