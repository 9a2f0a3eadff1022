"""How far a scale's display lags behind the hand that pours, learned from what pours showed.

A pour that is stopped when the display foretells the goal lands beside it by the flow times the
error of the lag that was used: ``lag = used + (landed - goal) / flow``.
"""

import statistics
from collections.abc import Sequence

import numpy as np
from numpy.typing import NDArray

from benchstation.domain.weigh_in import watch_pour

Array = NDArray[np.float64]

FLOW_OVER_S = 0.8
HAND_S, USUAL_S = 0.3, 0.45
"""What the hand and the oil in the air add to the scale's own lag, and all of it where nothing is
known of the scale yet; what they are is our estimate."""
LEAST_S, LONGEST_S = 0.1, 3.0
LEAST_FLOW_KG_S = 2e-3
FURTHEST_S = 2.0
"""A pour that shows more than this beside what was used was stopped for another reason."""
KEPT, MOST_LOOKED_AT = 5, 1500


def bounded(response_s: float) -> float:
    """Return a lag within what a scale and a hand can have."""
    return min(max(response_s, LEAST_S), LONGEST_S)


def response_s(step_s: float | None, pours_s: Sequence[float]) -> float:
    """Return the lag to foretell with: of the last pours, else the scale's own and a hand's."""
    if pours_s:
        return bounded(statistics.median(pours_s[-KEPT:]))
    return bounded(USUAL_S if step_s is None else step_s + HAND_S)


def shown_lag(at: Array, moved_kg: Array, goal_kg: float, used_s: float) -> float | None:
    """Return the lag that a pour showed; ``None`` where it was not stopped at the forecast.

    Times in s and the oil moved since the tare in kg, arrays of equal length; the last reading is
    of the pour at rest. Only the first time that the forecast came to the goal tells: who pours
    on after it, or takes some out, does so for another reason.
    """
    if len(at) < 3:
        return None
    landed = float(moved_kg[-1])
    each = 1 + len(at) // MOST_LOOKED_AT
    at, moved_kg = at[::each], moved_kg[::each]
    for last in range(3, len(at) + 1):
        if moved_kg[last - 1] < 0.5 * goal_kg:
            continue
        first = int(np.searchsorted(at, at[last - 1] - FLOW_OVER_S))
        pour = watch_pour(at[first:last], moved_kg[first:last], goal_kg, response_s=used_s)
        if pour.landing_kg >= goal_kg:
            if pour.flow_kg_s < LEAST_FLOW_KG_S:
                return None
            off_s = (landed - goal_kg) / pour.flow_kg_s
            return bounded(used_s + off_s) if abs(off_s) <= FURTHEST_S else None
    return None
