"""What an instrument is at a bench, and what a device must measure to be it."""

from enum import StrEnum

from benchstation.driver_api.reading import PressureReference, Quantity
from benchstation.quantities.units import Dimension


class InstrumentRole(StrEnum):
    """What an instrument is for. A bench may have several of each."""

    SCALE = "scale"
    GAUGE = "gauge"
    THERMOMETER = "thermometer"
    BAROMETER = "barometer"
    HYGROMETER = "hygrometer"

    @property
    def dimension(self) -> Dimension:
        """Return what its values are."""
        return _DIMENSION[self]


NEEDED = (InstrumentRole.SCALE, InstrumentRole.GAUGE)
"""What no bench can do without."""

_DIMENSION = {
    InstrumentRole.SCALE: Dimension.MASS,
    InstrumentRole.GAUGE: Dimension.PRESSURE,
    InstrumentRole.THERMOMETER: Dimension.TEMPERATURE,
    InstrumentRole.BAROMETER: Dimension.PRESSURE,
    InstrumentRole.HYGROMETER: Dimension.HUMIDITY,
}
_OF_QUANTITY = {
    Quantity.MASS: InstrumentRole.SCALE,
    Quantity.PRESSURE: InstrumentRole.GAUGE,
    Quantity.TEMPERATURE: InstrumentRole.THERMOMETER,
    Quantity.HUMIDITY: InstrumentRole.HYGROMETER,
}


def role_of(quantity: str, reference: str | None = None) -> InstrumentRole | None:
    """Return the role of a device that measures this; ``None`` where a bench has no use for it.

    A pressure above vacuum is the air's: taken for a gauge pressure it would be a bar too high.
    """
    if quantity == Quantity.PRESSURE and reference == PressureReference.ABSOLUTE:
        return InstrumentRole.BAROMETER
    return _OF_QUANTITY.get(Quantity(quantity))


UNIT = "unit"
"""A thermometer whose use begins with this word is put on the unit's body."""


def on_unit(use: str) -> bool:
    """Return True when a thermometer's use says that it measures the unit and not the air."""
    return use.strip().casefold().split(" ")[0] == UNIT
