"""What a technician gave at a step and what the bench knows beside it: all that checks need."""

from collections.abc import Mapping
from dataclasses import dataclass, field
from datetime import date

from benchstation.domain.content import Recorded
from benchstation.domain.disc_stack import Stacks
from benchstation.domain.materials import Stock
from benchstation.domain.refusals import NotAllowedError
from benchstation.quantities.units import UnitSystem

YES = "yes"
"""What a ticked field gives back."""


@dataclass(frozen=True, slots=True)
class Taken(Recorded):
    """A steady value of an instrument, SI, with what it was made from."""

    value: float
    std: float
    count: int
    instrument_id: str
    raw: str


@dataclass(frozen=True, slots=True)
class PushForce(Recorded):
    """The force that pushes the rod out, and every term of it; absolute pressures."""

    force_n: float
    gas_pa: float
    ambient_pa: float
    bench_k: float
    rod_area_m2: float


@dataclass(frozen=True, slots=True)
class GasSeen:
    """What a gauge saw of a unit's gas; ``None``: it saw none, or no fall.

    ``found_gauge_pa`` is what a unit came with, before the fill tool took its share; at the
    seal-off it is its charge, ``None`` where that was read on no gauge.
    """

    found_gauge_pa: float | None = None
    fell_from_gauge_pa: float | None = None
    trace_sha256: str = ""


@dataclass(frozen=True, slots=True)
class GaugeNow:
    """What the gauge shows now; ``gauge_pa`` is ``None`` without a valid reading.

    ``doubt`` says why a reading proves no zero; empty: nothing speaks against it.
    """

    gauge_pa: float | None = None
    instrument_id: str = ""
    doubt: str = ""
    seen: GasSeen = GasSeen()
    zero_before_pa: float | None = None
    """What it showed in the open line before the charge; ``None``: it was not seen."""


@dataclass(frozen=True, slots=True)
class Picture(Recorded):
    """A photograph that is on record at the step."""

    sha256: str
    size_bytes: int
    media_type: str
    caption: str


@dataclass(frozen=True, slots=True)
class Given:
    """The form of one step as it was sent, and the moment that it is judged in.

    ``accepted``: a deviation was signed for the step, so that what is outside its limits goes on.
    """

    title: str
    fields: Mapping[str, str] = field(default_factory=dict)
    units: UnitSystem = UnitSystem.METRIC
    """What a number without a unit is in."""
    accepted: bool = False
    taken: Taken | None = None
    expected: PushForce | None = None
    stacks: Stacks | None = None
    pictures: tuple[Picture, ...] = ()
    gauge: GaugeNow = GaugeNow()
    zero_band_pa: float = 0.0
    ticked_pa: Mapping[str, float | None] = field(default_factory=dict)
    """What the gauge showed as a statement that rests on it was ticked, by field."""
    stock: Stock = field(default_factory=Stock)
    """What the shop has received; all else is not on record."""
    today: date = date.min


class StillToDoError(NotAllowedError):
    """Something that the step asks for is not there yet; ``missing`` names it."""

    def __init__(self, missing: str, given: Given, advice: str) -> None:
        super().__init__(f"still to do: {missing}.", where=given.title, advice=advice)
        self.missing = missing
