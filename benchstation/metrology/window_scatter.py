"""How sure the mean of a steady window is, where neighbouring readings are not independent.

A display behind a filter repeats part of its last reading. With the correlation r of neighbours the
mean of n readings scatters as that of n / g independent ones, g = 1 + 2 sum (1 - k/n) r**k, and the
readings scatter less about their own mean than about the true one, by 1 - g/n (JCGM 100:2008 4.2.7
asks for it; Bayley and Hammersley, J. R. Stat. Soc. Suppl. 8 (1946) 184). Scatter and correlation
are pooled over the windows of one weighing, each about its own mean (GUM 4.2.4); r is raised by
what an estimate from so few readings falls short (Kendall, Biometrika 41 (1954) 403).
"""

import math
from collections.abc import Sequence
from dataclasses import dataclass, field
from itertools import pairwise

MOST_CORRELATED, SHOWN = 0.95, 0.4
_LEAST_FREE = 0.1
_MOST_WINDOWS = 12


@dataclass(frozen=True, slots=True)
class Scatter:
    """A standard uncertainty from repeated readings, with its degrees of freedom."""

    u: float
    dof: float


@dataclass(frozen=True, slots=True)
class _Window:
    count: int
    squares: float
    products: float


@dataclass(slots=True)
class WindowScatter:
    """Pools the scatter of windows that do not overlap, all of one quantity at rest."""

    _windows: list[_Window] = field(default_factory=list)

    def add(self, values: Sequence[float]) -> None:
        """Take the readings of one window, in order of time; the oldest windows are forgotten."""
        n = len(values)
        if n < 3:
            return
        mean = math.fsum(values) / n
        off = [v - mean for v in values]
        squares = math.fsum(d * d for d in off)
        products = math.fsum(a * b for a, b in pairwise(off))
        self._windows = [*self._windows[1 - _MOST_WINDOWS :], _Window(n, squares, products)]

    def of_mean(self, count: int, filtered: float = 0.0) -> Scatter | None:
        """Return that of the mean of ``count`` readings; ``None`` before any window was taken.

        ``filtered`` is the correlation of neighbours that the display's filter makes of noise in
        front of it, where that is known: short windows show too little of a slow filter, so it
        counts once they show any of it.
        """
        if not self._windows or count < 1:
            return None
        squares = math.fsum(w.squares for w in self._windows)
        r = self._correlation(squares)
        if r >= SHOWN * filtered:
            r = min(max(r, filtered), MOST_CORRELATED)
        free = known = 0.0
        for window in self._windows:
            share = _joined(window.count, r) / window.count
            # What a window shows of the variance, and how much it tells of it.
            free += window.count * max(1.0 - share, _LEAST_FREE)
            known += max(1.0 / share - 1.0, 0.5)
        variance = squares / free
        return Scatter(math.sqrt(variance * _joined(count, r) / count), max(known, 1.0))

    def _correlation(self, squares: float) -> float:
        if squares <= 0.0:
            return 0.0
        usual = math.fsum(w.count for w in self._windows) / len(self._windows)
        found = math.fsum(w.products for w in self._windows) / squares
        return min(max(found + (1.0 + 3.0 * max(found, 0.0)) / usual, 0.0), MOST_CORRELATED)


def _joined(count: int, r: float) -> float:
    """Return how many readings of ``count`` tell as much as one independent one."""
    return 1.0 + 2.0 * math.fsum((1.0 - k / count) * r**k for k in range(1, count))
