"""Uncertainty budgets by the GUM (JCGM 100:2008).

u_c**2 = sum over i, j of c_i u_i r_ij c_j u_j (13), effective degrees of freedom by
Welch-Satterthwaite (G.2b), expanded uncertainty U = k u_c with k from Student's t (G.3). Type B
standard uncertainties from half widths by GUM 4.3: rectangular a/sqrt(3), triangular a/sqrt(6),
arcsine a/sqrt(2), trapezoid a sqrt((1 + beta**2)/6).
"""

import math
from collections.abc import Mapping
from dataclasses import dataclass, field
from enum import Enum
from typing import NamedTuple

from benchstation.metrology.distributions import coverage_factor
from benchstation.metrology.errors import MetrologyError


class Distribution(Enum):
    """What is known of a contribution's shape."""

    NORMAL = "normal"
    RECTANGULAR = "rectangular"
    TRIANGULAR = "triangular"
    TRAPEZOID = "trapezoid"
    ARCSINE = "arcsine"


@dataclass(frozen=True, slots=True)
class Contribution:
    """One named line of a budget.

    ``u`` is the standard uncertainty in the contribution's own unit, ``sensitivity`` converts it to
    the unit of the result, ``dof`` are its degrees of freedom (inf: known exactly), ``half_width``
    what it came from (of a certificate U), for the table. Raises MetrologyError when not finite or
    negative.
    """

    name: str
    u: float
    sensitivity: float = 1.0
    dof: float = math.inf
    distribution: Distribution = Distribution.NORMAL
    half_width: float | None = None

    def __post_init__(self) -> None:
        if not (0.0 <= self.u < math.inf and math.isfinite(self.sensitivity) and self.dof > 0.0):
            raise MetrologyError(
                f"the uncertainty contribution '{self.name}' is not a number that can be used "
                f"(u = {self.u}, sensitivity = {self.sensitivity}, dof = {self.dof})."
            )

    @property
    def u_result(self) -> float:
        """Contribution to the result: sensitivity times u, with its sign."""
        return self.sensitivity * self.u


def normal(
    name: str, expanded: float, k: float = 1.0, *, sensitivity: float = 1.0, dof: float = math.inf
) -> Contribution:
    """Return contribution stated as an expanded uncertainty with its coverage factor (k = 1: u)."""
    stated = None if k == 1.0 else expanded
    return Contribution(name, expanded / k, sensitivity, dof, Distribution.NORMAL, stated)


def rectangular(
    name: str, half_width: float, *, sensitivity: float = 1.0, dof: float = math.inf
) -> Contribution:
    """Return a contribution equally likely anywhere within +-half_width: u = a/sqrt(3)."""
    u = half_width / math.sqrt(3.0)
    return Contribution(name, u, sensitivity, dof, Distribution.RECTANGULAR, half_width)


def triangular(
    name: str, half_width: float, *, sensitivity: float = 1.0, dof: float = math.inf
) -> Contribution:
    """Return a contribution likelier near its middle: u = a/sqrt(6)."""
    u = half_width / math.sqrt(6.0)
    return Contribution(name, u, sensitivity, dof, Distribution.TRIANGULAR, half_width)


def trapezoid(
    name: str,
    half_width: float,
    beta: float,
    *,
    sensitivity: float = 1.0,
    dof: float = math.inf,
) -> Contribution:
    """Return a trapezoidal contribution, top over base ``beta``: u = a sqrt((1 + beta**2)/6)."""
    u = half_width * math.sqrt((1.0 + beta * beta) / 6.0)
    return Contribution(name, u, sensitivity, dof, Distribution.TRAPEZOID, half_width)


def arcsine(
    name: str, half_width: float, *, sensitivity: float = 1.0, dof: float = math.inf
) -> Contribution:
    """Return a contribution that swings within +-half_width: u = a/sqrt(2)."""
    u = half_width / math.sqrt(2.0)
    return Contribution(name, u, sensitivity, dof, Distribution.ARCSINE, half_width)


def resolution(name: str, step: float, *, sensitivity: float = 1.0) -> Contribution:
    """Return what a display of this step hides: rectangular of half the step, u = step/sqrt(12)."""
    return rectangular(name, 0.5 * step, sensitivity=sensitivity)


def repeated(
    name: str, std: float, readings: int, *, sensitivity: float = 1.0, dof: float | None = None
) -> Contribution:
    """Return the type A contribution of the mean of ``readings``: u = s/sqrt(n), dof n - 1.

    Give ``dof`` when ``std`` was pooled from elsewhere (a calibration's repeatability).
    """
    if readings < 1 or (readings < 2 and dof is None):
        raise MetrologyError(
            f"'{name}' needs two readings, or the degrees of freedom of its scatter."
        )
    freedom = float(readings - 1) if dof is None else dof
    return Contribution(name, std / math.sqrt(readings), sensitivity, freedom)


class Expanded(NamedTuple):
    """Expanded uncertainty and its coverage factor: unpacks as (U, k)."""

    value: float
    k: float


class BudgetRow(NamedTuple):
    """One line of the budget's table; ``share`` is of the variance, 0 to 1."""

    name: str
    distribution: str
    half_width: float | None
    u: float
    sensitivity: float
    u_result: float
    dof: float
    share: float


@dataclass(frozen=True, slots=True)
class Budget:
    """A measurement's uncertainty budget.

    ``correlations`` maps pairs of contribution names to their correlation coefficient r, -1 to 1;
    pairs left out are independent. Raises MetrologyError for an empty budget, a name used twice, a
    pair that is not there, or correlations no real quantities can have.
    """

    contributions: tuple[Contribution, ...]
    correlations: Mapping[tuple[str, str], float] = field(default_factory=dict)

    def __post_init__(self) -> None:
        object.__setattr__(self, "contributions", tuple(self.contributions))
        names = [c.name for c in self.contributions]
        if not names or len(set(names)) != len(names):
            raise MetrologyError("an uncertainty budget needs contributions with different names.")
        for (first, second), r in self.correlations.items():
            if first == second or first not in names or second not in names or not -1 <= r <= 1:
                raise MetrologyError(f"the correlation of '{first}' and '{second}' is not usable.")
        if self._variance() < -1e-12 * sum(c.u_result**2 for c in self.contributions):
            raise MetrologyError(
                "the correlations in this uncertainty budget contradict each other."
            )

    def _variance(self) -> float:
        parts = {c.name: c.u_result for c in self.contributions}
        total = math.fsum(u * u for u in parts.values())
        cross = math.fsum(r * parts[a] * parts[b] for (a, b), r in self.correlations.items())
        return total + 2.0 * cross

    def combined(self) -> float:
        """Return the combined standard uncertainty u_c in the unit of the result."""
        return math.sqrt(max(self._variance(), 0.0))

    def effective_dof(self) -> float:
        """Return the effective degrees of freedom, not rounded (GUM G.4.1, G.2b).

        Welch-Satterthwaite holds for independent contributions; with correlations given the least
        degrees of freedom of a correlated contribution is taken if lower.
        """
        u_c = self.combined()
        finite = [c for c in self.contributions if c.dof < math.inf and c.u_result != 0.0]
        if u_c == 0.0 or not finite:
            return math.inf
        # Scaled by u_c first, so that the fourth power of a small uncertainty does not vanish.
        dof = 1.0 / math.fsum((c.u_result / u_c) ** 4 / c.dof for c in finite)
        correlated = {name for pair in self.correlations for name in pair}
        return min([dof, *(c.dof for c in finite if c.name in correlated)])

    def expanded(self, coverage: float = 0.9545) -> Expanded:
        """Return (U, k) for a coverage probability, Student's t at the effective dof."""
        k = coverage_factor(coverage, self.effective_dof())
        return Expanded(k * self.combined(), k)

    def rows(self) -> tuple[BudgetRow, ...]:
        """Return the table, in the order of the contributions."""
        total = math.fsum(c.u_result**2 for c in self.contributions)
        return tuple(
            BudgetRow(
                c.name,
                c.distribution.value,
                c.half_width,
                c.u,
                c.sensitivity,
                abs(c.u_result),
                c.dof,
                c.u_result**2 / total if total else 0.0,
            )
            for c in self.contributions
        )
