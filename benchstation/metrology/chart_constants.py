"""Constants of control charts for samples of n from a normal distribution, n from 2 to 25.

d2 and d3 are mean and standard deviation of the range over sigma, c4 the mean of the standard
deviation over sigma; the limits' factors follow from them (ASTM E2587, ISO 7870-2). They are
integrated, not copied, and tables print them to three decimals: the density of the range w is
(Harter 1960, from memory)

    f(w) = n (n - 1) integral phi(x) phi(x + w) (Phi(x + w) - Phi(x))**(n - 2) dx
"""

import math
from dataclasses import dataclass
from functools import lru_cache
from typing import NamedTuple

import numpy as np

from benchstation.metrology.distributions import normal_cdf
from benchstation.metrology.errors import MetrologyError


class Published(NamedTuple):
    """d2, D3 and D4 as tables print them: each rounded by itself, none from a rounded other."""

    d2: float
    range_lower_factor: float
    range_upper_factor: float


@dataclass(frozen=True, slots=True)
class ChartConstants:
    """d2, d3 and c4 of samples of ``n``."""

    n: int
    d2: float
    d3: float
    c4: float

    @property
    def range_lower_factor(self) -> float:
        """D3: lower limit of the range over the mean range."""
        return max(0.0, 1.0 - 3.0 * self.d3 / self.d2)

    @property
    def range_upper_factor(self) -> float:
        """D4: upper limit of the range over the mean range."""
        return 1.0 + 3.0 * self.d3 / self.d2

    @property
    def published(self) -> Published:
        """Return what charts are drawn with, so that they agree with those on paper."""
        exact = self.d2, self.range_lower_factor, self.range_upper_factor
        return Published(*(round(value, 3) for value in exact))


@lru_cache(maxsize=32)
def chart_constants(n: int) -> ChartConstants:
    """Return the constants for samples of ``n`` (span ``n`` of a moving range), to 1e-7."""
    if not 2 <= n <= 25:
        raise MetrologyError(f"chart constants are for 2 to 25 values at a time, not {n}.")
    if n == 2:
        # The range of two is a folded normal of spread sqrt(2).
        return ChartConstants(2, 2.0 / math.sqrt(math.pi), math.sqrt(2.0 - 4.0 / math.pi), _c4(2))
    nodes, weights = np.polynomial.legendre.leggauss(80)
    w = 7.0 * (nodes + 1.0)
    x = np.linspace(-15.0, 8.0, 231)
    density = np.exp(-0.5 * (x**2 + (x + w[:, None]) ** 2)) / (2.0 * math.pi)
    cdf = np.array([normal_cdf(v) for v in x.tolist()])
    shifted = np.array([normal_cdf(v) for v in (x + w[:, None]).ravel().tolist()])
    between = shifted.reshape(density.shape) - cdf
    of_range = n * (n - 1) * (density * between ** (n - 2)).sum(axis=1) * (x[1] - x[0])
    first = 7.0 * float(weights @ (of_range * w))
    second = 7.0 * float(weights @ (of_range * w**2))
    return ChartConstants(n, first, math.sqrt(second - first**2), _c4(n))


def _c4(n: int) -> float:
    """Return sqrt(2/(n - 1)) Gamma(n/2) / Gamma((n - 1)/2)."""
    log_ratio = math.lgamma(0.5 * n) - math.lgamma(0.5 * (n - 1))
    return math.sqrt(2.0 / (n - 1)) * math.exp(log_ratio)
