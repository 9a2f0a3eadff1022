"""Does the process fit its tolerance: Cp and Cpk, Pp and Ppk, with confidence limits.

NIST/SEMATECH e-Handbook 6.1.6: Cp = (U - L)/(6 sigma), Cpk = min(U - mean, mean - L)/(3 sigma);
confidence limits of Cp by chi-squared, of Cpk by the normal approximation Cpk +- z sqrt(1/(9 n) +
Cpk**2/(2 nu)). By ISO 22514-2 capability (C) is what the short-term spread allows and means nothing
unless the process is in control; performance (P) is what the whole spread delivered.
"""

import math
from collections.abc import Sequence
from dataclasses import dataclass
from typing import NamedTuple

import numpy as np

from benchstation.metrology.control_chart import individuals
from benchstation.metrology.distributions import chi_squared_quantile, normal_cdf, normal_quantile
from benchstation.metrology.errors import MetrologyError
from benchstation.metrology.run_rules import run_rules


class Bounded(NamedTuple):
    """An index with the limits of its two-sided confidence interval."""

    value: float
    lower: float
    upper: float


@dataclass(frozen=True, slots=True)
class Indices:
    """Indices of a process of known mean and spread; None on a side without limit.

    ``fraction_outside`` is the share beyond the limits of a normal process, 0 to 1.
    """

    both: float | None
    to_upper: float | None
    to_lower: float | None
    worse: float
    fraction_outside: float


@dataclass(frozen=True, slots=True)
class Capability:
    """What was found of a series of units.

    ``cp`` and ``pp`` are None for a one-sided tolerance. ``in_control`` is False when the zone
    rules signal anywhere: then ``cp`` and ``cpk`` must not be quoted.
    """

    count: int
    mean: float
    sigma_within: float
    sigma_overall: float
    cp: Bounded | None
    cpk: Bounded
    pp: Bounded | None
    ppk: Bounded
    fraction_outside: float
    in_control: bool


def indices(mean: float, sigma: float, lower: float | None, upper: float | None) -> Indices:
    """Return Cp, Cpu, Cpl, Cpk (or Pp and so on, by which sigma it is) and the share outside."""
    if not (sigma > 0.0 and math.isfinite(mean) and math.isfinite(sigma)):
        raise MetrologyError(
            "no capability can be told of a process without mean or spread.",
            advice="Values that are all the same say more of the display than of the process.",
        )
    given = [limit for limit in (lower, upper) if limit is not None]
    if not given or not all(map(math.isfinite, given)) or given != sorted(set(given)):
        raise MetrologyError(f"limits {lower} and {upper} leave no tolerance to compare with.")
    to_upper = None if upper is None else (upper - mean) / (3.0 * sigma)
    to_lower = None if lower is None else (mean - lower) / (3.0 * sigma)
    sides = [side for side in (to_lower, to_upper) if side is not None]
    return Indices(
        both=None if lower is None or upper is None else (upper - lower) / (6.0 * sigma),
        to_upper=to_upper,
        to_lower=to_lower,
        worse=min(sides),
        fraction_outside=math.fsum(normal_cdf(-3.0 * side) for side in sides),
    )


def capability(
    values: Sequence[float],
    lower: float | None,
    upper: float | None,
    *,
    confidence: float = 0.95,
) -> Capability:
    """Judge values in their order in time against limits, None for no limit on a side.

    The spread within is MRbar/d2, overall the standard deviation of all. Raises MetrologyError for
    fewer than three values, values that are all the same, or limits that make no sense.
    """
    if not 0.0 < confidence < 1.0:
        raise MetrologyError(f"a confidence of {confidence} is not between 0 and 1.")
    chart = individuals(values)
    count = len(chart.values)
    overall = float(np.std(chart.values, ddof=1))
    within = indices(chart.mean, chart.sigma, lower, upper)
    whole = indices(chart.mean, overall, lower, upper)
    dof = moving_range_dof(count)
    return Capability(
        count=count,
        mean=chart.mean,
        sigma_within=chart.sigma,
        sigma_overall=overall,
        cp=None if within.both is None else _of_spread(within.both, dof, confidence),
        cpk=_of_distance(within.worse, count, dof, confidence),
        pp=None if whole.both is None else _of_spread(whole.both, count - 1, confidence),
        ppk=_of_distance(whole.worse, count, count - 1, confidence),
        fraction_outside=whole.fraction_outside,
        in_control=not run_rules(chart.values, chart.mean, chart.sigma),
    )


def moving_range_dof(count: int) -> float:
    """Return the degrees of freedom of MRbar/d2 from ``count`` values (moving ranges of two).

    Neighbouring ranges share a value, so they carry less than count - 1: about 0.6 of that. From
    the variance of a mean of absolute differences of correlation -1/2, for two normals E|x y| =
    (2/pi) (sqrt(1 - r**2) + r asin r), as 1/(2 CV**2) of a chi distribution.
    """
    if count < 3:
        raise MetrologyError("moving ranges of fewer than three values tell no spread.")
    ranges = count - 1
    square_mean = 4.0 / math.pi
    own = 2.0 - square_mean
    r = -0.5
    shared = 2.0 * (2.0 / math.pi) * (math.sqrt(1.0 - r * r) + r * math.asin(r)) - square_mean
    variance = (ranges * own + 2.0 * (ranges - 1) * shared) / ranges**2
    return square_mean / (2.0 * variance)


def _of_spread(value: float, dof: float, confidence: float) -> Bounded:
    tail = 0.5 * (1.0 - confidence)
    low = math.sqrt(chi_squared_quantile(tail, dof) / dof)
    high = math.sqrt(chi_squared_quantile(1.0 - tail, dof) / dof)
    return Bounded(value, value * low, value * high)


def _of_distance(value: float, count: int, dof: float, confidence: float) -> Bounded:
    z = normal_quantile(0.5 * (1.0 + confidence))
    reach = z * math.sqrt(1.0 / (9.0 * count) + value**2 / (2.0 * dof))
    return Bounded(value, value - reach, value + reach)
