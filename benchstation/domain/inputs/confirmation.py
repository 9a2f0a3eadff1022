"""A statement that the technician confirms."""

from dataclasses import dataclass
from typing import ClassVar, Literal

from benchstation.domain.content import Part, Recorded
from benchstation.domain.inputs.given import YES, Given, StillToDoError


@dataclass(frozen=True, slots=True)
class Confirmed(Recorded):
    """The statement was confirmed."""

    input: str
    label: str
    gauge_pa: float | None = None
    """What the gauge showed at that moment, where the statement rests on it."""
    type: Literal["confirm"] = "confirm"


class Confirmation(Part):
    """A statement to confirm."""

    _LATER: ClassVar[frozenset[str]] = frozenset({"type"})
    noun: ClassVar[str] = "confirm"
    accepted_whole: ClassVar[bool] = False

    label: str
    type: Literal["confirm"] = "confirm"

    def check(self, name: str, given: Given) -> Confirmed:
        """Return the confirmation; raise while the field is not ticked."""
        if given.fields.get(name) != YES:
            advice = "Confirm each when it is so; what you typed is kept."
            raise StillToDoError(self.label, given, advice)
        return Confirmed(name, self.label, given.ticked_pa.get(name))
