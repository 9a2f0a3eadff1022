"""Calibration of an instrument, the line through its points, and today's check.

The straight line is ordinary least squares as in GUM H.3: the deviation's uncertainty at a reading
follows from slope, intercept and their correlation.
"""

import math
from collections.abc import Sequence
from dataclasses import dataclass
from datetime import date

from benchstation.metrology.conformity import Conformity, judge
from benchstation.metrology.errors import MetrologyError


@dataclass(frozen=True, slots=True)
class LinearCalibration:
    """true value = gain * reading + offset, with its uncertainty and how long it holds.

    ``u_offset`` and ``u_gain`` are standard uncertainties, ``correlation`` that between them;
    u(reading) follows. ``due`` is the last day on which the calibration holds; None: no date known,
    which counts as overdue.
    """

    gain: float = 1.0
    offset: float = 0.0
    u_offset: float = 0.0
    u_gain: float = 0.0
    correlation: float = 0.0
    due: date | None = None

    def __post_init__(self) -> None:
        numbers = (self.gain, self.offset, self.u_offset, self.u_gain)
        if not all(map(math.isfinite, numbers)) or self.gain <= 0.0:
            raise MetrologyError("a calibration needs finite figures and a gain above zero.")
        if min(self.u_offset, self.u_gain) < 0.0 or not -1.0 <= self.correlation <= 1.0:
            raise MetrologyError(
                "a calibration's uncertainties and their correlation make no sense."
            )

    def apply(self, reading: float) -> float:
        """Give the calibrated value of a reading."""
        return self.gain * reading + self.offset

    def u(self, reading: float) -> float:
        """Give the standard uncertainty that the calibration adds at a reading."""
        slope = self.u_gain * reading
        cross = 2.0 * self.correlation * self.u_offset * slope
        return math.sqrt(max(self.u_offset**2 + slope**2 + cross, 0.0))

    def is_due(self, today: date) -> bool:
        """Whether the calibration no longer holds today."""
        return self.due is None or today > self.due


@dataclass(frozen=True, slots=True)
class LineFit:
    """A straight line value = intercept + slope * reading through calibration points."""

    intercept: float
    slope: float
    u_intercept: float
    u_slope: float
    correlation: float
    residual_std: float
    residuals: tuple[float, ...]
    dof: int

    def value(self, reading: float) -> float:
        """Give the value the line predicts."""
        return self.intercept + self.slope * reading

    def u(self, reading: float) -> float:
        """Give the standard uncertainty of the prediction (GUM H.3.4, equation H.15)."""
        slope = self.u_slope * reading
        cross = 2.0 * self.correlation * self.u_intercept * slope
        return math.sqrt(max(self.u_intercept**2 + slope**2 + cross, 0.0))

    def calibration(self, due: date | None) -> LinearCalibration:
        """Give the calibration that this line through (reading, true value) points stands for."""
        return LinearCalibration(
            gain=self.slope,
            offset=self.intercept,
            u_offset=self.u_intercept,
            u_gain=self.u_slope,
            correlation=self.correlation,
            due=due,
        )


def fit_line(readings: Sequence[float], values: Sequence[float]) -> LineFit:
    """Fit a straight line by least squares (GUM H.3.1): three different points or more."""
    n = len(readings)
    if n != len(values) or n < 3:
        raise MetrologyError("a calibration line needs at least three points, each with its value.")
    mean_x = math.fsum(readings) / n
    mean_y = math.fsum(values) / n
    power = math.fsum((x - mean_x) ** 2 for x in readings)
    if not power > 0.0 or not math.isfinite(power + mean_y):
        raise MetrologyError("a calibration line needs finite points at different places.")
    slope = math.fsum((x - mean_x) * (y - mean_y) for x, y in zip(readings, values, strict=True))
    slope /= power
    intercept = mean_y - slope * mean_x
    residuals = tuple(y - intercept - slope * x for x, y in zip(readings, values, strict=True))
    std = math.sqrt(math.fsum(r * r for r in residuals) / (n - 2))
    square_mean = math.fsum(x * x for x in readings) / n
    return LineFit(
        intercept=intercept,
        slope=slope,
        u_intercept=std * math.sqrt(square_mean / power),
        u_slope=std / math.sqrt(power),
        correlation=-mean_x / math.sqrt(square_mean) if square_mean else 0.0,
        residual_std=std,
        residuals=residuals,
        dof=n - 2,
    )


@dataclass(frozen=True, slots=True)
class CheckWeight:
    """Today's check of an instrument against a known value, in the instrument's unit."""

    nominal: float
    observed: float
    tolerance: float
    u_nominal: float = 0.0

    @property
    def deviation(self) -> float:
        """Observed less nominal."""
        return self.observed - self.nominal

    @property
    def passed(self) -> bool:
        """Whether the deviation is within the tolerance (simple acceptance; NaN fails)."""
        return abs(self.deviation) <= self.tolerance

    def conformity(self, u_observed: float, guard_factor: float = 0.0) -> Conformity:
        """Judge the deviation with the uncertainty of the check itself."""
        u = math.hypot(self.u_nominal, u_observed)
        return judge(self.deviation, u, -self.tolerance, self.tolerance, guard_factor)
