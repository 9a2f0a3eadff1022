"""Control charts of single values: individuals with moving range, EWMA, CUSUM.

NIST/SEMATECH e-Handbook of Statistical Methods 6.3.2.2 (individuals: mean +- 3 MRbar/d2), 6.3.2.4
(exponentially weighted moving average) and 6.3.2.3 (cumulative sums); ISO 7870-2 for the first.
"""

import math
from collections.abc import Sequence
from dataclasses import dataclass

import numpy as np
from numpy.typing import NDArray

from benchstation.metrology.chart_constants import chart_constants
from benchstation.metrology.errors import MetrologyError

FloatArray = NDArray[np.float64]


@dataclass(frozen=True, slots=True)
class IndividualsChart:
    """Single values with limits from their moving ranges; all in the unit of the values.

    ``sigma`` is MRbar/d2, the short-term spread. The range has no lower limit for spans below 7
    (``range_lower`` is then 0). ``baseline`` is how many of the first values set the limits.
    """

    values: tuple[float, ...]
    moving_ranges: tuple[float, ...]
    mean: float
    mean_range: float
    sigma: float
    lower: float
    upper: float
    range_lower: float
    range_upper: float
    baseline: int

    @property
    def beyond(self) -> tuple[int, ...]:
        """Return the places (from 0) of the values outside the limits."""
        return _outside(self.values, self.lower, self.upper)

    @property
    def ranges_beyond(self) -> tuple[int, ...]:
        """Return the places (from 0) of the moving ranges outside theirs."""
        return _outside(self.moving_ranges, self.range_lower, self.range_upper)


@dataclass(frozen=True, slots=True)
class EwmaChart:
    """Smoothed values with their limits, which widen from the start to ``lower`` and ``upper``."""

    smoothed: tuple[float, ...]
    lower_at: tuple[float, ...]
    upper_at: tuple[float, ...]
    target: float
    lower: float
    upper: float

    @property
    def beyond(self) -> tuple[int, ...]:
        """Return the places (from 0) of smoothed values outside the limits at their place."""
        rows = zip(self.lower_at, self.smoothed, self.upper_at, strict=True)
        return tuple(n for n, (low, z, high) in enumerate(rows) if not low <= z <= high)


@dataclass(frozen=True, slots=True)
class CusumChart:
    """Cumulative sums above and below the target, and the decision limit for both."""

    high: tuple[float, ...]
    low: tuple[float, ...]
    limit: float

    @property
    def beyond(self) -> tuple[int, ...]:
        """Return the places (from 0) where either sum is beyond the limit."""
        pairs = zip(self.high, self.low, strict=True)
        return tuple(n for n, pair in enumerate(pairs) if max(pair) > self.limit)


def individuals(
    values: Sequence[float], *, span: int = 2, baseline: int | None = None
) -> IndividualsChart:
    """Chart values in their order in time.

    ``span`` values at a time make a moving range; limits come from the first ``baseline`` values
    (all, if not given), which must be one more than ``span`` at least.
    """
    x = _series(values)
    used = len(x) if baseline is None else baseline
    constants = chart_constants(span).published
    if not span < used <= len(x):
        raise MetrologyError(
            f"a chart needs {span + 1} values at least to set its limits; there are "
            f"{min(used, len(x))}.",
            advice="Wait for more units.",
        )
    windows = np.lib.stride_tricks.sliding_window_view(x, span)
    ranges = windows.max(axis=1) - windows.min(axis=1)
    mean, mean_range = float(x[:used].mean()), float(ranges[: used - span + 1].mean())
    sigma = mean_range / constants.d2
    return IndividualsChart(
        values=tuple(x.tolist()),
        moving_ranges=tuple(ranges.tolist()),
        mean=mean,
        mean_range=mean_range,
        sigma=sigma,
        lower=mean - 3.0 * sigma,
        upper=mean + 3.0 * sigma,
        range_lower=constants.range_lower_factor * mean_range,
        range_upper=constants.range_upper_factor * mean_range,
        baseline=used,
    )


def ewma(
    values: Sequence[float], target: float, sigma: float, *, weight: float = 0.3, width: float = 3.0
) -> EwmaChart:
    """Chart the exponentially weighted moving average, from the target on (e-Handbook 6.3.2.4).

    z_t = weight x_t + (1 - weight) z_(t-1), z_0 = target, with limits target +- width sigma
    sqrt(weight/(2 - weight) (1 - (1 - weight)**(2 t))). ``weight`` is above 0 and up to 1; small
    weights find small lasting shifts.
    """
    x = _series(values)
    if not (0.0 < weight <= 1.0 and 0.0 <= sigma < math.inf and 0.0 < width < math.inf):
        raise MetrologyError("a moving average needs a weight of 0 to 1 and a spread from zero.")
    smoothed = []
    z = target
    for value in x.tolist():
        z += weight * (value - z)
        smoothed.append(z)
    final = width * sigma * math.sqrt(weight / (2.0 - weight))
    reach = final * np.sqrt(1.0 - (1.0 - weight) ** (2.0 * np.arange(1, len(x) + 1)))
    return EwmaChart(
        smoothed=tuple(smoothed),
        lower_at=tuple((target - reach).tolist()),
        upper_at=tuple((target + reach).tolist()),
        target=target,
        lower=target - final,
        upper=target + final,
    )


def cusum(values: Sequence[float], target: float, slack: float, limit: float) -> CusumChart:
    """Chart cumulative sums (e-Handbook 6.3.2.3): S_i = max(0, S_(i-1) +- (x_i - target) - slack).

    ``slack`` is usually half the shift to be found, ``limit`` some four to five spreads; both in
    the unit of the values, from zero.
    """
    x = _series(values)
    if not (slack >= 0.0 and limit >= 0.0 and math.isfinite(target)):
        raise MetrologyError("cumulative sums need a target, and slack and limit from zero.")
    high: list[float] = []
    low: list[float] = []
    above = below = 0.0
    for value in x.tolist():
        above = max(0.0, above + value - target - slack)
        below = max(0.0, below + target - value - slack)
        high.append(above)
        low.append(below)
    return CusumChart(tuple(high), tuple(low), limit)


def _series(values: Sequence[float]) -> FloatArray:
    x = np.asarray(values, dtype=float)
    if x.ndim != 1 or not len(x) or not np.isfinite(x).all():
        raise MetrologyError("a control chart needs finite values in their order in time.")
    return x


def _outside(values: Sequence[float], low: float, high: float) -> tuple[int, ...]:
    return tuple(n for n, value in enumerate(values) if not low <= value <= high)
