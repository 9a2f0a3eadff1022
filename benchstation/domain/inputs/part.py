"""A part that goes in, with its lot."""

from dataclasses import dataclass
from typing import ClassVar, Literal

from pydantic import Field

from benchstation.domain.content import Part, Recorded, Words
from benchstation.domain.inputs.given import YES, Given, StillToDoError
from benchstation.domain.inputs.supplied import supplied
from benchstation.domain.materials import Sort, Supplied
from benchstation.domain.refusals import NotAllowedError

LONGEST_LOT = 64


@dataclass(frozen=True, slots=True)
class PartFitted(Recorded):
    """A part with its lot; ``lot`` is empty where none is required.

    ``missing``: its lot, or the part, is not there, and that was accepted as a deviation.
    """

    input: str
    label: str
    number: str
    count: int
    lot: str = ""
    missing: bool = False
    supplied: Supplied | None = None
    """What was on record of the lot; ``None``: none is required, or nobody asked at that time."""
    type: Literal["part"] = "part"


class PartLine(Part):
    """A part that goes in, and how many of it."""

    _LATER: ClassVar[frozenset[str]] = frozenset({"type"})
    noun: ClassVar[str] = "lot"
    accepted_whole: ClassVar[bool] = True

    number: Words
    name: Words
    count: int = Field(default=1, ge=1, le=1000)
    lot: bool = True
    """Whether its lot is asked for; without one it is confirmed as fitted."""
    type: Literal["part"] = "part"

    def check(self, name: str, given: Given) -> PartFitted:
        """Return the part with its lot; without it, it must have been accepted."""
        typed = given.fields.get(name, "")
        lot = " ".join(typed.split()) if self.lot else ""
        if len(lot) > LONGEST_LOT or not lot.isprintable():
            raise NotAllowedError(
                f"the lot of {self.name} is too long or cannot be printed.",
                where=given.title,
                advice=f"Choose or scan it, up to {LONGEST_LOT} characters.",
                field=name,
            )
        there = bool(lot) if self.lot else typed == YES
        if not there and not given.accepted:
            raise StillToDoError(
                f"lot of {self.name}" if self.lot else self.name,
                given,
                "Choose or scan each lot, tick what is fitted. Without a lot it needs a deviation.",
            )
        found = supplied(given, name, Sort.PART, self.number, lot) if lot else None
        return PartFitted(name, self.name, self.number, self.count, lot, not there, found)
