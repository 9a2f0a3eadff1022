"""When a reading counts: steady, drifting, moving, frozen or stale.

The idea of stable equilibrium in OIML R 76-1: readings over a window that differ by no more than a
band, and no motion flag from the device. A frozen device (bit-identical frames while the mass
should move) is not steady, and neither is one that has stopped sending.

A drift too slow for the window is found over several: a straight line through the means of the last
windows, by GUM (JCGM 100:2008) H.3, whose slope less its expanded uncertainty (G.3) is beyond a
limit. Means of whole windows, because neighbouring readings of a display are not independent.
"""

import math
from collections import deque
from dataclasses import dataclass
from enum import Enum

from benchstation.metrology.distributions import coverage_factor
from benchstation.metrology.line_fit import fit_line

DRIFT_WINDOWS = 5
_LEAST_WINDOWS = 4
_CONFIDENCE = 0.95


class Stability(Enum):
    """State of a stream of readings."""

    WAITING = "waiting"  # too few readings, or too short a time, since the last reset or gap
    MOVING = "moving"
    STEADY = "steady"
    DRIFTING = "drifting"  # every window agrees within the band, but they move on and on
    FROZEN = "frozen"
    STALE = "stale"


@dataclass(frozen=True, slots=True)
class StabilityView:
    """State with the statistics of the readings in the window (NaN when there are none).

    ``drift_per_s`` is the slope over the last windows with its standard uncertainty, in units of
    the values per s; NaN until enough windows have agreed.
    """

    state: Stability
    mean: float
    std: float
    n: int
    spread: float
    age_s: float
    raw: str
    drift_per_s: float = math.nan
    u_drift_per_s: float = math.nan


class StabilityJudge:
    """Judge a stream of readings; feed every one, in order of time, from one thread.

    ``window_s`` and ``min_count`` set how long and how many must agree; ``band`` is the largest
    spread (highest minus lowest) that is steady, in the unit of the values; ``max_gap_s`` the
    longest silence between two readings before all is stale and waiting starts anew.
    ``drift_limit_per_s`` is the slope that is no longer steady once it is proved with 95 %
    confidence; without it one band in the time of ``DRIFT_WINDOWS`` windows.
    Times are of any monotonic clock, in s; they come in as arguments and no clock is read.
    """

    def __init__(
        self,
        window_s: float,
        band: float,
        min_count: int,
        max_gap_s: float,
        drift_limit_per_s: float | None = None,
    ) -> None:
        if not (window_s > 0 and band >= 0 and min_count >= 2 and max_gap_s > 0):
            raise ValueError("window and gap must be above zero, band not below, count at least 2")
        if drift_limit_per_s is None:
            drift_limit_per_s = band / (DRIFT_WINDOWS * window_s)
        if not drift_limit_per_s >= 0.0:
            raise ValueError("the limit of the drift must not be below zero")
        self.drift_limit_per_s = drift_limit_per_s
        self.window_s = window_s
        self.band = band
        self.min_count = min_count
        self.max_gap_s = max_gap_s
        self._readings: deque[tuple[float, float, bool, str]] = deque()
        self._last = math.nan
        self._same_since = math.nan
        self._same_raw: str | None = None
        self._expect_motion = False
        self._means: deque[tuple[float, float]] = deque(maxlen=DRIFT_WINDOWS)
        self._block: list[tuple[float, float]] = []
        self._drift = self._u_drift = math.nan
        self._drifts = False

    def reset(self) -> None:
        """Forget everything: after a tare, a reconnect, a new step."""
        self._readings.clear()
        self._last = self._same_since = math.nan
        self._same_raw = None
        self._forget_drift()

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
        self._follow_drift(at, value)
        return self.view(at)

    def view(self, now: float) -> StabilityView:
        """Return the state at ``now``, which may be later than the last reading."""
        if not self._readings:
            return StabilityView(Stability.WAITING, math.nan, math.nan, 0, math.nan, math.inf, "")
        values = [value for _, value, _, _ in self._readings]
        n = len(values)
        mean = math.fsum(values) / n
        std = math.sqrt(math.fsum((v - mean) ** 2 for v in values) / (n - 1)) if n > 1 else 0.0
        spread = max(values) - min(values)
        state = self._state(now, spread)
        raw = self._readings[-1][3]
        age = now - self._last
        return StabilityView(state, mean, std, n, spread, age, raw, self._drift, self._u_drift)

    def values(self) -> list[float]:
        """Return the readings of the window, in order of time."""
        return [value for _, value, _, _ in self._readings]

    def _state(self, now: float, spread: float) -> Stability:
        if now - self._last > self.max_gap_s:
            return Stability.STALE
        frozen = self._expect_motion and bool(self._same_raw)
        if frozen and self._last - self._same_since >= self.window_s:
            return Stability.FROZEN
        if self._moves(spread):
            return Stability.MOVING
        if self._drifts:
            return Stability.DRIFTING
        full = self._last - self._readings[0][0] >= self.window_s
        enough = full and len(self._readings) >= self.min_count
        return Stability.STEADY if enough else Stability.WAITING

    def _moves(self, spread: float) -> bool:
        return any(moving for _, _, moving, _ in self._readings) or not spread <= self.band

    def _forget_drift(self) -> None:
        self._means.clear()
        self._block.clear()
        self._drift = self._u_drift = math.nan
        self._drifts = False

    def _follow_drift(self, at: float, value: float) -> None:
        """Close a block of readings each window and look at the line through the last means."""
        values = [v for _, v, _, _ in self._readings]
        # A flow that the band just holds moves now and then; that must not hide its drift.
        if self._moves(0.5 * (max(values) - min(values))):
            self._forget_drift()
            return
        if self._block and at - self._block[0][0] >= self.window_s:
            count = len(self._block)
            times, readings = zip(*self._block, strict=True)
            self._means.append((math.fsum(times) / count, math.fsum(readings) / count))
            self._block.clear()
            if len(self._means) >= _LEAST_WINDOWS:
                self._judge_drift()
        self._block.append((at, value))

    def _judge_drift(self) -> None:
        begin = self._means[0][0]
        line = fit_line([at - begin for at, _ in self._means], [mean for _, mean in self._means])
        self._drift, self._u_drift = line.slope, line.u_slope
        surely = abs(line.slope) - coverage_factor(_CONFIDENCE, line.dof) * line.u_slope
        self._drifts = surely > self.drift_limit_per_s
