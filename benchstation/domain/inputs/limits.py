"""Nominal and tolerance of a measured value, and how they are written."""

from dataclasses import dataclass

from benchstation.domain.refusals import NotAllowedError
from benchstation.quantities.units import Dimension, UnitSystem, shown

ROUNDING = 1e-9
"""Share of a limit that the last bits of a converted number may miss it by."""
_DECIMALS = {Dimension.LENGTH: 2, Dimension.TORQUE: 2}
_LEAST = {
    Dimension.LENGTH: 0.0,
    Dimension.MASS: 0.0,
    Dimension.FORCE: 0.0,
    Dimension.TORQUE: 0.0,
    Dimension.PRESSURE: -1.1e5,
}
"""What no typed figure can be below, SI; a gauge at an empty vessel shows minus the ambient."""


def spread_of(dimension: Dimension) -> Dimension:
    """Return the dimension of a tolerance: that of a temperature is a difference."""
    if dimension is Dimension.TEMPERATURE:
        return Dimension.TEMPERATURE_DIFFERENCE
    return dimension


@dataclass(frozen=True, slots=True)
class Limits:
    """What is specified, SI."""

    nominal: float
    tolerance: float
    dimension: Dimension

    def holds(self, value: float) -> bool:
        """Return True when a value is inside."""
        return abs(value - self.nominal) <= self.tolerance * (1.0 + ROUNDING)

    def in_words(self, system: UnitSystem = UnitSystem.METRIC) -> str:
        """Return nominal and tolerance."""
        decimals = _DECIMALS.get(self.dimension)
        asked = shown(self.nominal, self.dimension, system, decimals=decimals)
        spread = shown(self.tolerance, spread_of(self.dimension), system, decimals=decimals)
        if spread.unit != asked.unit:
            return f"{asked} ± {spread}"
        return f"{asked.number} ± {spread}"

    def range_in_words(self, system: UnitSystem = UnitSystem.METRIC) -> str:
        """Return the least and the most."""
        decimals = _DECIMALS.get(self.dimension)
        low, high = (
            shown(self.nominal + sign * self.tolerance, self.dimension, system, decimals=decimals)
            for sign in (-1, 1)
        )
        return f"{low.number} to {high}"


def in_words(value: float, dimension: Dimension, system: UnitSystem = UnitSystem.METRIC) -> str:
    """Return a measured value; a pressure says that it is gauge."""
    text = str(shown(value, dimension, system, decimals=_DECIMALS.get(dimension)))
    return f"{text} gauge" if dimension is Dimension.PRESSURE else text


def require_possible(value: float, dimension: Dimension, system: UnitSystem) -> None:
    """Raise for a typed figure that nothing can have: no deviation accepts it."""
    least = _LEAST.get(dimension)
    if least is None or value >= least:
        return
    raise NotAllowedError(
        f"{in_words(value, dimension, system)} cannot be: "
        f"it is never below {in_words(least, dimension, system)}.",
        advice="Check the figure and its sign; what you typed is kept.",
    )
