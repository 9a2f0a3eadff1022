"""Calibration of an instrument in use, and today's check against a known value.

The deviation's uncertainty at a reading follows from slope, intercept and their correlation as in
GUM (JCGM 100:2008) H.3.4.
"""

import math
from dataclasses import dataclass
from datetime import date

from benchstation.metrology.conformity import Conformity, judge
from benchstation.metrology.errors import MetrologyError
from benchstation.metrology.line_fit import LineFit, line_covariance


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
        """Return the calibrated value of a reading."""
        return self.gain * reading + self.offset

    def u(self, reading: float) -> float:
        """Return the standard uncertainty that the calibration adds at a reading."""
        return math.sqrt(max(self.covariance(reading, reading), 0.0))

    def covariance(self, first: float, second: float) -> float:
        """Return the covariance that one calibration lends to two readings (GUM F.1.2.3)."""
        return line_covariance(self.u_offset, self.u_gain, self.correlation, first, second)

    @classmethod
    def of_line(cls, line: LineFit, due: date | None) -> "LinearCalibration":
        """Return the calibration that a line through (reading, true value) points stands for."""
        return cls(
            gain=line.slope,
            offset=line.intercept,
            u_offset=line.u_intercept,
            u_gain=line.u_slope,
            correlation=line.correlation,
            due=due,
        )

    def is_due(self, today: date) -> bool:
        """Return True when the calibration no longer holds today."""
        return self.due is None or today > self.due


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
        """Return True when the deviation is within the tolerance (simple acceptance; NaN fails)."""
        return abs(self.deviation) <= self.tolerance

    def conformity(self, u_observed: float, guard_factor: float = 0.0) -> Conformity:
        """Judge the deviation with the uncertainty of the check itself."""
        u = math.hypot(self.u_nominal, u_observed)
        return judge(self.deviation, u, -self.tolerance, self.tolerance, guard_factor)
