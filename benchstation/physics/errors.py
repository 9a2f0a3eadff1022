"""Refusal of input that a formula does not hold for.

StationError
+-- RangeError    a quantity lies outside what a formula is valid for; nothing was computed
"""

import math
from typing import Any

from benchstation.driver_api.errors import StationError


class RangeError(StationError):
    """A quantity lies outside the range its formula is valid for. Nothing was computed.

    ``quantity``, ``given``, ``low``, ``high`` and ``unit`` (SI) are kept for a screen that words
    the refusal in the reader's own units.
    """

    def __init__(self, quantity: str, given: float, low: float, high: float, unit: str) -> None:
        super().__init__(
            f"the {quantity} is {given:.6g} {unit}; it must be between {low:.6g} and {high:.6g} "
            f"{unit}.",
            advice="Nothing was computed. Check the entry and its unit.",
        )
        self.quantity = quantity
        self.given = given
        self.low = low
        self.high = high
        self.unit = unit


def require(quantity: str, given: float, low: float, high: float, unit: str) -> float:
    """Return ``given`` back if it lies within [low, high]; else raise :class:`RangeError`."""
    if not low <= given <= high:  # false for NaN too
        raise RangeError(quantity, given, low, high, unit)
    return given


def require_positive(quantity: str, given: float, unit: str) -> float:
    """Return ``given`` back if it is finite and above zero; else raise :class:`RangeError`."""
    if not 0.0 < given < math.inf:
        raise RangeError(quantity, given, 0.0, math.inf, unit)
    return given


def require_all(quantity: str, given: Any, low: float, high: float, unit: str) -> None:
    """Refuse a float, or an array that holds one, outside [low, high]; NaN is outside."""
    if isinstance(given, float | int):
        require(quantity, given, low, high, unit)
        return
    inside = (given >= low) & (given <= high)
    if not inside.all():
        raise RangeError(quantity, float(given[~inside].flat[0]), low, high, unit)
