"""The gauge from the intake to the release: the gas as found, and its fall to zero."""

from collections import deque
from dataclasses import dataclass

import numpy as np

from benchstation.bench.capture.tracing import FloatArray
from benchstation.devices.instrument import Sample

STEADY_S, STEADY_SHARE = 1.0, 0.02
MOST_SAMPLES = 36_000
LEAST_BETWEEN = 3
"""A gauge taken off a charged unit jumps to zero; gas that is let out passes readings between."""
UPPER = 0.9


@dataclass(frozen=True, slots=True)
class Fall:
    """Gas seen to fall: from, to, and how long it took."""

    from_gauge_pa: float
    to_gauge_pa: float
    seconds: float


class Releasing:
    """Follows the gauge for one unit; pure, fed with samples."""

    def __init__(self, band_pa: float) -> None:
        self._band = band_pa
        self._samples: deque[tuple[float, float]] = deque(maxlen=MOST_SAMPLES)
        self._top: tuple[float, float] | None = None
        self._between = 0
        self._zero_since: float | None = None

    def take(self, sample: Sample) -> None:
        """Take one reading."""
        at, value = sample.at, sample.value
        self._samples.append((at, value))
        if value > self._band:
            self._zero_since = None
            if self._top is None or value >= self._top[1]:
                self._top, self._between = (at, value), 0
            elif value < UPPER * self._top[1]:
                self._between += 1
        elif abs(value) <= self._band:
            self._zero_since = at if self._zero_since is None else self._zero_since
        else:
            self._zero_since = None

    def interrupt(self) -> None:
        """Begin again after a gap: what fell during it was not seen."""
        self._top = self._zero_since = None
        self._between = 0
        self._samples.clear()

    def found_pa(self) -> float | None:
        """Return the pressure in the unit once it stands still, or at the latest when it falls."""
        if self._top is None:
            return None
        last = self._samples[-1][0]
        window = [v for t, v in reversed(self._samples) if last - t <= STEADY_S]
        whole = last - self._samples[0][0] >= STEADY_S
        mean = sum(window) / len(window)
        if whole and min(window) > self._band and max(window) - min(window) <= STEADY_SHARE * mean:
            return mean
        return self._top[1] if self._between >= LEAST_BETWEEN else None

    def fall(self) -> Fall | None:
        """Return the fall once the pressure stands in the zero band after it."""
        top, zero, last = self._top, self._zero_since, self._samples[-1] if self._samples else None
        if top is None or zero is None or last is None:
            return None
        if self._between < LEAST_BETWEEN or last[0] - zero < STEADY_S:
            return None
        return Fall(top[1], last[1], zero - top[0])

    def trace(self) -> tuple[FloatArray, FloatArray]:
        """Return times and gauge pressures since the unit was first seen."""
        rows = np.array(self._samples, dtype=np.float64).reshape(-1, 2)
        return rows[:, 0], rows[:, 1]
