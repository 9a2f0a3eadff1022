"""Drift between calibrations: how far an instrument moved, is it real, how long may the next last.

E_n of ISO 13528 (from memory): |difference| over the root of the squared expanded (k = 2)
uncertainties; above 1 the two do not agree. Several calibrations make a line in time (GUM H.3).
"""

import math
from collections.abc import Sequence
from dataclasses import dataclass
from datetime import date

from benchstation.metrology.calibration import LinearCalibration
from benchstation.metrology.distributions import coverage_factor
from benchstation.metrology.errors import MetrologyError
from benchstation.metrology.line_fit import fit_line
from benchstation.metrology.uncertainty import Contribution, rectangular

DAYS_A_YEAR = 365.25
_K = 2.0


@dataclass(frozen=True, slots=True)
class Drift:
    """Change of the calibrated value at one reading between two calibrations.

    ``change`` in the instrument's unit over ``days``, ``u_change`` its standard uncertainty.
    """

    reading: float
    days: int
    change: float
    u_change: float

    @property
    def e_n(self) -> float:
        """Change over its expanded uncertainty; inf for a change without any uncertainty."""
        if self.u_change == 0.0:
            return math.inf if self.change else 0.0
        return abs(self.change) / (_K * self.u_change)

    @property
    def proved(self) -> bool:
        """Return True when the two calibrations do not agree: it has moved."""
        return self.e_n > 1.0

    @property
    def per_year(self) -> float:
        """Change a year, as if it went on."""
        return self.change * DAYS_A_YEAR / self.days

    def part(self, days_since: float) -> Contribution:
        """Return what the drift may have added so many days after the newer calibration.

        Rectangular: no further than it moved last time in the same time, either way.
        """
        return rectangular("drift since calibration", abs(self.change) / self.days * days_since)

    def longest_interval_days(self, allowed: float) -> float:
        """Return the days until the drift may have used up ``allowed`` (OIML D 10 / ILAC-G24).

        The change is taken with its expanded uncertainty, so a poor calibration earns no long
        interval. inf when nothing moved and nothing was uncertain.
        """
        if not allowed > 0.0:
            raise MetrologyError("the drift that is allowed must be above zero.")
        at_most = abs(self.change) + _K * self.u_change
        return allowed / at_most * self.days if at_most > 0.0 else math.inf


def drift_between(
    old: LinearCalibration, new: LinearCalibration, reading: float, days: int
) -> Drift:
    """Compare two calibrations at a reading, ``days`` apart (one day at least)."""
    if days < 1 or not math.isfinite(reading):
        raise MetrologyError("drift needs two calibrations on different days and a finite reading.")
    change = new.apply(reading) - old.apply(reading)
    return Drift(reading, days, change, math.hypot(old.u(reading), new.u(reading)))


@dataclass(frozen=True, slots=True)
class Trend:
    """A straight line through the errors found at one reading in three calibrations or more."""

    first: date
    at_first: float
    per_day: float
    u_per_day: float
    dof: float
    scatter: float

    @property
    def proved(self) -> bool:
        """Return True when the slope is beyond its 95 % expanded uncertainty (GUM G.3)."""
        return abs(self.per_day) > coverage_factor(0.95, self.dof) * self.u_per_day

    def on(self, day: date) -> float:
        """Return the error the line predicts for a day."""
        return self.at_first + self.per_day * (day - self.first).days


def trend(history: Sequence[tuple[date, float]]) -> Trend:
    """Fit the errors found on different days, three or more."""
    if len(history) < 3:
        raise MetrologyError("a trend needs three calibrations; two only give a difference.")
    first = min(day for day, _ in history)
    line = fit_line([(day - first).days for day, _ in history], [error for _, error in history])
    return Trend(first, line.intercept, line.slope, line.u_slope, line.dof, line.residual_std)
