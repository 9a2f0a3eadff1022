"""A straight line through points, with the uncertainty of what it predicts.

Ordinary least squares as in GUM (JCGM 100:2008) H.3.1 to H.3.4; the line through two points takes
its uncertainty from that of the points by the law of propagation (GUM 5.1.2).
"""

import math
from collections.abc import Sequence
from dataclasses import dataclass

import numpy as np

from benchstation.metrology.errors import MetrologyError


@dataclass(frozen=True, slots=True)
class LineFit:
    """A straight line value = intercept + slope * reading through calibration points.

    ``residuals`` are value less line, in the order of the points; ``residual_std`` has ``dof``
    degrees of freedom (inf for a line through two points, whose uncertainty was given).
    """

    intercept: float
    slope: float
    u_intercept: float
    u_slope: float
    correlation: float
    residual_std: float
    residuals: tuple[float, ...]
    dof: float

    def value(self, reading: float) -> float:
        """Return the value the line predicts."""
        return self.intercept + self.slope * reading

    def u(self, reading: float) -> float:
        """Return the standard uncertainty of the prediction (GUM H.3.4, equation H.15)."""
        return math.sqrt(max(self.covariance(reading, reading), 0.0))

    def covariance(self, first: float, second: float) -> float:
        """Return the covariance of the predictions at two readings (GUM F.1.2.3)."""
        return line_covariance(self.u_intercept, self.u_slope, self.correlation, first, second)


def line_covariance(
    u_intercept: float, u_slope: float, correlation: float, first: float, second: float
) -> float:
    """Return cov(a + b x, a + b y) = u_a**2 + x y u_b**2 + (x + y) r u_a u_b (GUM F.1.2.3)."""
    cross = (first + second) * correlation * u_intercept * u_slope
    return u_intercept**2 + first * second * u_slope**2 + cross


def fit_line(readings: Sequence[float], values: Sequence[float]) -> LineFit:
    """Fit a straight line by least squares (GUM H.3.1): three different points or more."""
    x, y = np.asarray(readings, dtype=float), np.asarray(values, dtype=float)
    n = len(x)
    if n != len(y) or n < 3:
        raise MetrologyError("a calibration line needs at least three points, each with its value.")
    if not (np.isfinite(x).all() and np.isfinite(y).all()):
        raise MetrologyError("a calibration line needs finite points.")
    mean_x, mean_y = float(x.mean()), float(y.mean())
    dx = x - mean_x
    power = float(dx @ dx)
    if not 0.0 < power < math.inf:
        raise MetrologyError("a calibration line needs points at different places.")
    slope = float(dx @ (y - mean_y)) / power
    residuals = (y - mean_y) - slope * dx
    std = math.sqrt(float(residuals @ residuals) / (n - 2))
    square_mean = float(x @ x) / n
    return LineFit(
        intercept=mean_y - slope * mean_x,
        slope=slope,
        u_intercept=std * math.sqrt(square_mean / power),
        u_slope=std / math.sqrt(power),
        correlation=-mean_x / math.sqrt(square_mean) if square_mean else 0.0,
        residual_std=std,
        residuals=tuple(residuals.tolist()),
        dof=n - 2,
    )


def two_point_line(
    low: tuple[float, float], high: tuple[float, float], u_low: float, u_high: float
) -> LineFit:
    """Return the line through two (reading, value) points, as when a zero and a span are set.

    ``u_low`` and ``u_high`` are the standard uncertainties of value against reading at each point,
    taken as independent: two points leave no scatter to tell them from. Between the points
    u(x)**2 = ((x_2 - x) u_low)**2 + ((x - x_1) u_high)**2 over (x_2 - x_1)**2 (GUM 5.1.2).
    """
    (x1, y1), (x2, y2) = low, high
    if not all(map(math.isfinite, (x1, y1, x2, y2, u_low, u_high))) or x1 == x2:
        raise MetrologyError("a two-point calibration needs two finite points at different places.")
    if min(u_low, u_high) < 0.0:
        raise MetrologyError("the uncertainty of a calibration point cannot be below zero.")
    span = x2 - x1
    slope = (y2 - y1) / span
    u_slope = math.hypot(u_low, u_high) / abs(span)
    u_intercept = math.hypot(x2 * u_low, x1 * u_high) / abs(span)
    covariance = -(x2 * u_low**2 + x1 * u_high**2) / span**2
    product = u_slope * u_intercept
    r = covariance / product if product else 0.0
    return LineFit(
        intercept=y1 - slope * x1,
        slope=slope,
        u_intercept=u_intercept,
        u_slope=u_slope,
        correlation=max(-1.0, min(1.0, r)),
        residual_std=0.0,
        residuals=(0.0, 0.0),
        dof=math.inf,
    )
