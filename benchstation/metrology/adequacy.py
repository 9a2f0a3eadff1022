"""Judging whether an instrument is good enough for a tolerance, and what would be.

JCGM 106:2012 7.6.3: the measurement capability index C_m = T / (4 u), tolerance over 4 u; with
U = 2 u it is the ratio of half the tolerance to U. 4 is the usual wish, a guard band eats
(guard factor) / (2 C_m) of the tolerance.
"""

import math
from dataclasses import dataclass
from enum import Enum

from benchstation.metrology.conformity import GUARD_FACTOR
from benchstation.metrology.errors import MetrologyError
from benchstation.metrology.uncertainty import Budget

WANTED_INDEX = 4.0


class Fitness(Enum):
    """How an instrument suits a tolerance."""

    GOOD = "good"  # reaches the wanted capability index
    USABLE = "usable"  # can prove conformity, but undecided results will be frequent
    UNFIT = "unfit"  # no reading at all can prove conformity


@dataclass(frozen=True, slots=True)
class Adequacy:
    """A judgement of a measurement's uncertainty against a two-sided tolerance.

    ``u_largest`` is the largest standard uncertainty with which any reading can still pass;
    ``u_wanted`` that at the wanted index; ``acceptance_share`` what the guard bands leave of the
    tolerance, 0 to 1; ``least_tolerance`` the narrowest full tolerance (upper less lower) that this
    uncertainty serves at the wanted index. All in the unit of the result.
    """

    fitness: Fitness
    index: float
    wanted_index: float
    u: float
    u_largest: float
    u_wanted: float
    acceptance_share: float
    least_tolerance: float

    def in_words(self, unit: str = "", scale: float = 1.0) -> str:
        """Return one sentence for people; figures are multiplied by ``scale`` into ``unit``."""

        def figure(value: float) -> str:
            return f"{value * scale:.3g} {unit}".rstrip()

        have = f"u = {figure(self.u)}, capability index {self.index:.2g}"
        if self.fitness is Fitness.GOOD:
            return f"Good enough: {have}, required {self.wanted_index:.2g}."
        if self.fitness is Fitness.USABLE:
            return (
                f"Usable: {have}; readings pass in {self.acceptance_share:.0%} of the tolerance. "
                f"Good would be u = {figure(self.u_wanted)}."
            )
        return (
            f"Not good enough: {have}; no reading can pass. The largest u that can is "
            f"{figure(self.u_largest)}, good would be {figure(self.u_wanted)}."
        )


def adequacy(
    lower: float,
    upper: float,
    u: float,
    *,
    guard_factor: float = GUARD_FACTOR,
    wanted_index: float = WANTED_INDEX,
) -> Adequacy:
    """Judge standard uncertainty ``u`` against limits ``lower`` and ``upper`` (JCGM 106, 7.6.3).

    A one-sided limit has no tolerance to compare with: it can always be proved somewhere, so it is
    not for this function. Raises MetrologyError for limits or figures that make no sense.
    """
    tolerance = upper - lower
    if not (0.0 < tolerance < math.inf and 0.0 <= u < math.inf):
        raise MetrologyError(
            f"limits {lower} and {upper} with an uncertainty of {u} cannot be compared.",
            advice="Check the tolerance and the uncertainty budget.",
        )
    if not (guard_factor >= 0.0 and 0.0 < wanted_index < math.inf):
        raise MetrologyError("the guard factor or the required capability index makes no sense.")
    largest = tolerance / (2.0 * guard_factor) if guard_factor > 0.0 else math.inf
    wanted = min(tolerance / (4.0 * wanted_index), largest)
    fitness = Fitness.UNFIT
    if u <= largest:
        fitness = Fitness.GOOD if u <= wanted else Fitness.USABLE
    return Adequacy(
        fitness=fitness,
        index=tolerance / (4.0 * u) if u > 0.0 else math.inf,
        wanted_index=wanted_index,
        u=u,
        u_largest=largest,
        u_wanted=wanted,
        acceptance_share=max(0.0, 1.0 - 2.0 * guard_factor * u / tolerance),
        least_tolerance=max(4.0 * wanted_index, 2.0 * guard_factor) * u,
    )


def largest_part(budget: Budget, name: str, u_wanted: float) -> float | None:
    """Return the largest standard uncertainty of contribution ``name`` that reaches ``u_wanted``.

    In the contribution's own unit, so that it can be bought: of a display's resolution the step is
    sqrt(12) times as large. ``None`` when the other contributions already exceed ``u_wanted``.
    Solves GUM (13), a quadratic in this one uncertainty, with its correlations kept. Raises
    MetrologyError for a name that is not in the budget or does not count in it.
    """
    part = next((c for c in budget.contributions if c.name == name), None)
    if part is None or part.sensitivity == 0.0 or not 0.0 <= u_wanted < math.inf:
        raise MetrologyError(f"the uncertainty of '{name}' is not computed in this budget.")
    results = {c.name: c.u_result for c in budget.contributions if c.name != name}
    pull, others = 0.0, math.fsum(u * u for u in results.values())
    for (first, second), r in budget.correlations.items():
        if name in (first, second):
            pull += r * results[second if first == name else first]
        else:
            others += 2.0 * r * results[first] * results[second]
    # (c u)**2 + 2 pull (c u) + others = u_wanted**2, with c u of the sign of c.
    pull = math.copysign(1.0, part.sensitivity) * pull
    inside = pull * pull - others + u_wanted**2
    if inside < 0.0:
        return None
    largest = math.sqrt(inside) - pull
    return largest / abs(part.sensitivity) if largest >= 0.0 else None
