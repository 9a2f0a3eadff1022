"""What a device's value is in words, in the unit that its kind is usually shown in."""

from benchstation.driver_api.reading import Quantity
from benchstation.quantities.units import Dimension, UnitSystem, display_unit, to_display

DIMENSION = {
    Quantity.MASS: Dimension.MASS,
    Quantity.PRESSURE: Dimension.PRESSURE,
    Quantity.TEMPERATURE: Dimension.TEMPERATURE,
    Quantity.HUMIDITY: Dimension.HUMIDITY,
    Quantity.CURRENT: Dimension.CURRENT,
    Quantity.VOLTAGE: Dimension.VOLTAGE,
}
"""What the values of a channel are."""


def value_words(kind: str, value: float, digits: int = 6) -> str:
    """Return an SI value of this kind, to so many significant digits."""
    dimension = DIMENSION[Quantity(kind)]
    shown = to_display(value, dimension, UnitSystem.METRIC)
    return f"{shown:.{digits}g} {display_unit(dimension, UnitSystem.METRIC)}"
