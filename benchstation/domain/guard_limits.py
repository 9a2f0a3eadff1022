"""The guard's thresholds and times, and the weakest part of the pressure path that sets them."""

import math
from collections.abc import Mapping
from dataclasses import dataclass

from benchstation.driver_api.errors import StationError
from benchstation.quantities.notation import fixed, percent

LEAST_AGAIN_RISE, MOST_AGAIN_RISE = 0.01, 0.10
LEAST_AGAIN_S, MOST_AGAIN_S = 10.0, 300.0
"""Within these a bench sets when an acknowledged limit is heard again: later would be never."""


class GuardError(StationError):
    """Limits contradict each other, or an acknowledgement lacks what it needs."""


@dataclass(frozen=True, slots=True)
class HeardAgain:
    """When an acknowledged limit is raised anew: raises :class:`GuardError` for what is too late.

    ``rise`` is a share of the limit, which it must go on rising by; ``after_s`` how long it lasts.
    """

    rise: float = 0.05
    after_s: float = 60.0

    def __post_init__(self) -> None:
        """Refuse what would leave the alarm silent, or never silent."""
        if not LEAST_AGAIN_RISE <= self.rise <= MOST_AGAIN_RISE:
            raise GuardError(
                f"a limit is heard again after a further rise of {percent(LEAST_AGAIN_RISE)} to "
                f"{percent(MOST_AGAIN_RISE)} of it."
            )
        if not LEAST_AGAIN_S <= self.after_s <= MOST_AGAIN_S:
            raise GuardError(
                "a limit that stays exceeded is heard again after "
                f"{fixed(LEAST_AGAIN_S, 0)} s to {fixed(MOST_AGAIN_S, 0)} s."
            )


USUALLY = HeardAgain()


@dataclass(frozen=True, slots=True)
class GuardLimits:
    """Thresholds and times of the guard. ``limit_source`` names the lowest rating in the path.

    The limit is judged without delay. A warning must last ``warning_on_delay_s`` before it shows;
    any condition must be gone for ``off_delay_s`` before it counts as returned, so that a reading
    that flutters about a threshold makes one episode. Raises :class:`GuardError`.
    """

    warning_gauge_pa: float
    limit_gauge_pa: float
    limit_source: str
    hysteresis_pa: float = 50_000.0
    warning_hysteresis_pa: float = 20_000.0
    warning_on_delay_s: float = 0.2
    off_delay_s: float = 0.5
    stale_after_s: float = 1.0
    max_rate_pa_s: float = 1e7
    rate_window_s: float = 0.05
    """Rates are taken over at least this time: frames may arrive in bunches."""
    again: HeardAgain = USUALLY
    """When a limit that is still exceeded, or goes on rising, is raised anew."""

    def __post_init__(self) -> None:
        """Refuse limits that contradict each other."""
        numbers = (self.warning_gauge_pa, self.limit_gauge_pa, self.max_rate_pa_s)
        times = (self.warning_on_delay_s, self.off_delay_s)
        bands = (self.hysteresis_pa, self.warning_hysteresis_pa)
        positive = (*numbers, self.stale_after_s, self.rate_window_s)
        if not all(math.isfinite(value) and value > 0 for value in positive):
            raise GuardError("a limit of the guard is not a positive number.")
        if not all(math.isfinite(value) and value >= 0 for value in (*times, *bands)):
            raise GuardError("a delay or hysteresis of the guard is below zero or not a number.")
        if self.warning_gauge_pa >= self.limit_gauge_pa:
            raise GuardError(
                "the high warning is not below the high limit.",
                advice=f"Lower the warning; the limit comes from: {self.limit_source}.",
            )
        if bands[0] >= self.limit_gauge_pa or bands[1] >= self.warning_gauge_pa:
            raise GuardError("a hysteresis is as large as its threshold: it could never clear.")


def lowest_rating(ratings: Mapping[str, float]) -> tuple[str, float]:
    """Return name and gauge pressure in Pa of the weakest part of the pressure path.

    Raises :class:`GuardError` when there is none, or one that is not a positive number.
    """
    if not ratings:
        raise GuardError(
            "no rating is stated for the pressure path.",
            advice="Enter the ratings of body, hose, fill tool, gauge and regulator.",
        )
    for name, rating in ratings.items():
        if not (math.isfinite(rating) and rating > 0):
            raise GuardError(f"the rating of '{name}' is not a positive pressure.")
    name = min(ratings, key=lambda part: ratings[part])
    return name, ratings[name]
