"""The oil weighed in, or weighed again as it was bled: signed by its capture, not by a form."""

from dataclasses import dataclass
from typing import ClassVar, Literal

from benchstation.domain.content import Part, Recorded

Stage = Literal["poured", "net"]


@dataclass(frozen=True, slots=True)
class OilSigned(Recorded):
    """The oil as the scale showed it, and its judgement; ``label``: poured, or net of the bleed.

    ``net_shown_kg`` is ``None`` where earlier evidence left it to the judgement's own event.
    """

    input: str
    label: Stage
    net_shown_kg: float | None
    decision: str
    by_hand: bool = False
    type: Literal["oil"] = "oil"


class OilInput(Part):
    """Oil to be weighed; how much, the specification says."""

    noun: ClassVar[str] = "oil"
    accepted_whole: ClassVar[bool] = False

    stage: Stage
    type: Literal["oil"] = "oil"
