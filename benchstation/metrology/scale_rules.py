"""What a scale of an accuracy class may err: OIML R 76-1:2006.

Table 6 (3.5.1): maximum permissible errors on initial verification in scale intervals e by load in
e; in service twice these (3.5.2). A.4.4.3: the error before rounding, found with small weights.
"""

import math
from enum import Enum

from benchstation.metrology.errors import MetrologyError


class AccuracyClass(Enum):
    """Accuracy class of a non-automatic weighing instrument."""

    SPECIAL = "I"
    HIGH = "II"
    MEDIUM = "III"
    ORDINARY = "IIII"


_UP_TO_E: dict[AccuracyClass, tuple[float, float, float]] = {
    AccuracyClass.SPECIAL: (50_000, 200_000, math.inf),
    AccuracyClass.HIGH: (5_000, 20_000, 100_000),
    AccuracyClass.MEDIUM: (500, 2_000, 10_000),
    AccuracyClass.ORDINARY: (50, 200, 1_000),
}
_ERROR_E = (0.5, 1.0, 1.5)
IN_SERVICE = 2.0


def permissible_error(
    load: float, interval: float, accuracy: AccuracyClass, *, in_service: bool = False
) -> float:
    """Return the maximum permissible error, either way, at a load; load, interval e in one unit.

    Raises MetrologyError beyond the class's largest number of intervals, and for a load below zero.
    """
    if not (interval > 0.0 and 0.0 <= load < math.inf):
        raise MetrologyError(f"a load of {load} in scale intervals of {interval} makes no sense.")
    # A load that is a whole number of intervals must not be pushed over an edge by rounding.
    intervals = round(load / interval, 6)
    for up_to, error in zip(_UP_TO_E[accuracy], _ERROR_E, strict=True):
        if intervals <= up_to:
            return error * interval * (IN_SERVICE if in_service else 1.0)
    raise MetrologyError(
        f"{intervals:g} scale intervals are more than class {accuracy.value} allows "
        f"({_UP_TO_E[accuracy][-1]:g}).",
        advice="Check the scale interval and the class.",
    )


def error_before_rounding(indication: float, added: float, load: float, interval: float) -> float:
    """Return E = I + e/2 - dL - L (A.4.4.3); ``added`` are small weights to the next step up."""
    return indication + 0.5 * interval - added - load
