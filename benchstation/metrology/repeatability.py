"""Scatter within a day and from day to day, from repeated measurements of one thing.

Analysis of variance as in GUM (JCGM 100:2008) H.5.2: what agrees within a day may still wander
between days, and the uncertainty of one day's mean must hold both.
"""

import math
from collections.abc import Sequence
from dataclasses import dataclass

import numpy as np

from benchstation.metrology.errors import MetrologyError


@dataclass(frozen=True, slots=True)
class Pooled:
    """A standard deviation pooled from several groups, with its degrees of freedom."""

    std: float
    dof: int


@dataclass(frozen=True, slots=True)
class DayToDay:
    """Scatter of measurements made in equal numbers on several days.

    ``within_std`` is that of single readings of one day (dof days * (readings - 1)),
    ``means_std`` that of the days' means (dof days - 1), ``between_std`` what the days add beyond
    the readings (0 when nothing shows); ``ratio`` is F of H.5.2.4: large when days differ.
    """

    mean: float
    within_std: float
    means_std: float
    between_std: float
    ratio: float
    days: int
    readings: int

    @property
    def u_mean(self) -> float:
        """Return the standard uncertainty of the mean of all days (GUM H.5.2.5)."""
        return self.means_std / math.sqrt(self.days)


def pooled(stds: Sequence[float], counts: Sequence[int]) -> Pooled:
    """Pool standard deviations: s**2 = sum (n - 1) s_i**2 / sum (n - 1) (GUM 4.2.4, H.3.6).

    Groups of one reading carry nothing and are passed over. Raises MetrologyError when no group
    has two readings.
    """
    pairs = [(s, n - 1) for s, n in zip(stds, counts, strict=True) if n > 1]
    dof = sum(n for _, n in pairs)
    total = math.fsum(n * s * s for s, n in pairs)
    if dof < 1 or not math.isfinite(total):
        raise MetrologyError(
            "no place was measured twice, so there is no repeatability to tell.",
            advice="Repeat at least one place.",
        )
    return Pooled(math.sqrt(total / dof), dof)


def scatter(values: Sequence[float]) -> Pooled:
    """Return the standard deviation of repeated readings of one thing (GUM 4.2.2)."""
    std = float(np.std(values, ddof=1)) if len(values) > 1 else 0.0
    return pooled([std], [len(values)])


def day_to_day(means: Sequence[float], stds: Sequence[float], readings: int) -> DayToDay:
    """Return the scatter within and between days from each day's mean and standard deviation.

    ``readings`` a day, the same each day, at least two; two days or more.
    """
    days = len(means)
    if days < 2 or len(stds) != days or readings < 2 or not np.isfinite([*means, *stds]).all():
        raise MetrologyError("day to day scatter needs two days, each with readings repeated.")
    within = pooled(stds, [readings] * days).std
    means_std = float(np.std(means, ddof=1))
    variance_between = means_std**2 - within**2 / readings
    return DayToDay(
        mean=float(np.mean(means)),
        within_std=within,
        means_std=means_std,
        between_std=math.sqrt(max(variance_between, 0.0)),
        ratio=readings * means_std**2 / within**2 if within > 0.0 else math.inf,
        days=days,
        readings=readings,
    )
