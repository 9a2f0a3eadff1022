"""What is found out about an instrument by a study at the bench."""

from dataclasses import dataclass
from typing import ClassVar

from benchstation.domain.events.base import Event


@dataclass(frozen=True, slots=True)
class RepeatabilityMeasured(Event):
    """A weight that was put on and off a scale again and again: how far its readings scatter, kg.

    ``empty`` and ``loaded`` are steady means in their order, the empty pan before each load.
    ``std`` is the standard deviation of loaded less empty, so it holds two displays; that of one
    display is smaller by the root of two. ``dof`` are its degrees of freedom.
    """

    kind: ClassVar[str] = "instrument.repeatability"
    instrument_id: str
    nominal: float
    empty: tuple[float, ...]
    loaded: tuple[float, ...]
    std: float
    dof: int
    resolution: float
    calibration: str
