"""When a reading counts: steady, moving, frozen or stale.

The idea of stable equilibrium in OIML R 76-1: readings over a window that differ by no more than a
band, and no motion flag from the device. A frozen device (bit-identical frames while the mass
should move) is not steady, and neither is one that has stopped sending.
"""

import math
from collections import deque
from dataclasses import dataclass
from enum import Enum


class Stability(Enum):
    """State of a stream of readings."""

    WAITING = "waiting"  # too few readings, or too short a time, since the last reset or gap
    MOVING = "moving"
    STEADY = "steady"
    FROZEN = "frozen"
    STALE = "stale"


@dataclass(frozen=True, slots=True)
class StabilityView:
    """State with the statistics of the readings in the window (NaN when there are none)."""

    state: Stability
    mean: float
    std: float
    n: int
    spread: float
    age_s: float
    raw: str


class StabilityJudge:
    """Judge a stream of readings; feed every one, in order of time, from one thread.

    ``window_s`` and ``min_count`` set how long and how many must agree; ``band`` is the largest
    spread (highest minus lowest) that is steady, in the unit of the values; ``max_gap_s`` the
    longest silence between two readings before all is stale and waiting starts anew.
    Times are of any monotonic clock, in s; they come in as arguments and no clock is read.
    """

    def __init__(self, window_s: float, band: float, min_count: int, max_gap_s: float) -> None:
        if not (window_s > 0 and band >= 0 and min_count >= 2 and max_gap_s > 0):
            raise ValueError("window and gap must be above zero, band not below, count at least 2")
        self.window_s = window_s
        self.band = band
        self.min_count = min_count
        self.max_gap_s = max_gap_s
        self._readings: deque[tuple[float, float, bool, str]] = deque()
        self._last = math.nan
        self._same_since = math.nan
        self._same_raw: str | None = None
        self._expect_motion = False

    def reset(self) -> None:
        """Forget everything: after a tare, a reconnect, a new step."""
        self._readings.clear()
        self._last = self._same_since = math.nan
        self._same_raw = None

    def feed(
        self,
        at: float,
        value: float,
        stable: bool | None,
        raw: str = "",
        *,
        expect_motion: bool = False,
    ) -> StabilityView:
        """Take one reading and give the state at its time.

        ``stable`` is the device's own flag, None if it sends none. ``raw`` is the frame as
        received, compared byte for byte; empty if unknown (then frozen is never concluded).
        ``expect_motion``: oil is being poured or gas let in, so that identical frames mean a frozen
        device. A reading that is not finite counts as motion. Out-of-order time is refused with
        ValueError.
        """
        if at < self._last:
            raise ValueError(f"reading at {at} s came after one at {self._last} s")
        if at - self._last > self.max_gap_s:
            self.reset()
        if raw != self._same_raw or expect_motion is not self._expect_motion:
            self._same_raw, self._same_since = raw, at
        self._expect_motion = expect_motion
        self._last = at
        moving = stable is False or not math.isfinite(value)
        self._readings.append((at, value, moving, raw))
        # One reading older than the window stays, so that a full window can be seen as full.
        while len(self._readings) > 1 and self._readings[1][0] <= at - self.window_s:
            self._readings.popleft()
        return self.view(at)

    def view(self, now: float) -> StabilityView:
        """Give the state at ``now``, which may be later than the last reading."""
        if not self._readings:
            return StabilityView(Stability.WAITING, math.nan, math.nan, 0, math.nan, math.inf, "")
        values = [value for _, value, _, _ in self._readings]
        n = len(values)
        mean = math.fsum(values) / n
        std = math.sqrt(math.fsum((v - mean) ** 2 for v in values) / (n - 1)) if n > 1 else 0.0
        spread = max(values) - min(values)
        state = self._state(now, spread)
        raw = self._readings[-1][3]
        return StabilityView(state, mean, std, n, spread, now - self._last, raw)

    def _state(self, now: float, spread: float) -> Stability:
        if now - self._last > self.max_gap_s:
            return Stability.STALE
        frozen = self._expect_motion and bool(self._same_raw)
        if frozen and self._last - self._same_since >= self.window_s:
            return Stability.FROZEN
        if any(moving for _, _, moving, _ in self._readings) or not spread <= self.band:
            return Stability.MOVING
        full = self._last - self._readings[0][0] >= self.window_s
        enough = full and len(self._readings) >= self.min_count
        return Stability.STEADY if enough else Stability.WAITING
