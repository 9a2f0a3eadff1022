"""The gas charge and its hold test: signed by their captures, not by a form."""

from dataclasses import dataclass
from typing import ClassVar, Literal

from benchstation.domain.content import Part, Recorded


@dataclass(frozen=True, slots=True)
class ChargeSigned(Recorded):
    """The settled charge with its judgement, and that of the hold test.

    ``settled_gauge_pa`` is ``None`` where earlier evidence left it to the capture's own event.
    """

    input: str
    settled_gauge_pa: float | None
    decision: str
    hold: str
    by_hand: bool = False
    label: str = ""
    type: Literal["charge"] = "charge"


class ChargeInput(Part):
    """A charge to be captured and held; the specification says which."""

    noun: ClassVar[str] = "charge"
    accepted_whole: ClassVar[bool] = False

    type: Literal["charge"] = "charge"
