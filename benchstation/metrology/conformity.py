"""Is it within its limits? Decided with the uncertainty of the measurement in view.

JCGM 106:2012: the value is taken as normal around the result with its standard uncertainty; the
probability of conformity is Phi((T_U - y)/u) - Phi((T_L - y)/u) (7.2). Decision by ISO 14253-1:
conformity is proved inside the limits drawn in by a guard band, nonconformity outside the limits
widened by it; between the two nothing is proved.
"""

import math
from dataclasses import dataclass
from enum import Enum

from benchstation.metrology.distributions import normal_cdf, normal_quantile
from benchstation.metrology.errors import MetrologyError

GUARD_FACTOR = normal_quantile(0.95)
"""1.645: guard band over u that leaves 5 % at most to be wrong at the acceptance limit."""


class Decision(Enum):
    """Outcome of a judgement."""

    PASS = "pass"  # noqa: S105 - a word for the record, no secret
    FAIL = "fail"
    UNDECIDED = "undecided"


@dataclass(frozen=True, slots=True)
class Conformity:
    """A judgement: the decision, the probability of being within the limits, and the zone.

    Acceptance limits are -inf or inf on a side without limit. When ``acceptance_lower`` is above
    ``acceptance_upper`` the measurement is too uncertain ever to prove these limits.
    """

    decision: Decision
    probability: float
    acceptance_lower: float
    acceptance_upper: float
    guard_band: float

    @property
    def can_pass(self) -> bool:
        """Return True when any reading could prove conformity with this uncertainty."""
        return self.acceptance_lower <= self.acceptance_upper


def judge(
    value: float,
    u: float,
    lower: float | None,
    upper: float | None,
    guard_factor: float = GUARD_FACTOR,
) -> Conformity:
    """Judge a value with standard uncertainty ``u`` against a lower and an upper limit.

    None is no limit on that side. The guard band is ``guard_factor * u``: 0 gives simple
    acceptance. A value that is not finite is UNDECIDED with probability NaN. Raises MetrologyError
    for limits or an uncertainty that make no sense.
    """
    low = -math.inf if lower is None else lower
    high = math.inf if upper is None else upper
    if not (low <= high and 0.0 <= u < math.inf and guard_factor >= 0.0):
        raise MetrologyError(
            f"nothing can be judged with limits {lower} and {upper} and an uncertainty of {u}.",
            advice="Check the tolerance and the uncertainty budget.",
        )
    guard = guard_factor * u
    accept_low, accept_high = low + guard, high - guard
    if not math.isfinite(value):
        return Conformity(Decision.UNDECIDED, math.nan, accept_low, accept_high, guard)
    probability = conformity_probability(value, u, lower, upper)
    if accept_low <= value <= accept_high:
        decision = Decision.PASS
    elif value < low - guard or value > high + guard:
        decision = Decision.FAIL
    else:
        decision = Decision.UNDECIDED
    return Conformity(decision, probability, accept_low, accept_high, guard)


def conformity_probability(
    value: float, u: float, lower: float | None, upper: float | None
) -> float:
    """Return the probability that the true value lies within the limits (JCGM 106, 7.2)."""
    low = -math.inf if lower is None else lower
    high = math.inf if upper is None else upper
    if u == 0.0:
        return 1.0 if low <= value <= high else 0.0
    # From the nearer limit's tail, so that a probability near one loses no digits.
    return max(0.0, 1.0 - normal_cdf((low - value) / u) - normal_cdf((value - high) / u))


def rule_in_words(guard_factor: float = GUARD_FACTOR) -> str:
    """Return the decision rule as sentences for a certificate (JCGM 106, 8.3; ISO 14253-1).

    The risk named is that of one limit, for the result nearest to it that still passes; in a narrow
    tolerance both limits add up, as the probability of conformity then says.
    """
    if guard_factor == 0.0:
        return (
            "Simple acceptance: a result within the limits passes, any other fails. At a limit a "
            "wrong decision has a probability of up to 50 %."
        )
    risk = normal_cdf(-guard_factor)
    return (
        f"Guarded acceptance: a result passes when it lies within the limits by at least "
        f"{guard_factor:.3g} u, u being its standard uncertainty; it fails when it lies outside "
        f"them by more than that; between the two it is undecided. A result that passes is beyond "
        f"either limit with a probability of {100.0 * risk:.2g} % at most."
    )
