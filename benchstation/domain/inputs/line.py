"""A line of text."""

from dataclasses import dataclass
from typing import ClassVar, Literal

from benchstation.domain.content import Part, Recorded
from benchstation.domain.inputs.given import Given, StillToDoError


@dataclass(frozen=True, slots=True)
class Noted(Recorded):
    """What was written under a label."""

    input: str
    label: str
    text: str
    type: Literal["line"] = "line"


class TextLine(Part):
    """A line to write."""

    _LATER: ClassVar[frozenset[str]] = frozenset({"type"})
    noun: ClassVar[str] = "note"
    accepted_whole: ClassVar[bool] = False

    label: str
    required: bool = False
    hint: str = ""
    type: Literal["line"] = "line"

    def check(self, name: str, given: Given) -> Noted | None:
        """Return what was written, ``None`` for nothing; raise where something must be."""
        text = given.fields.get(name, "").strip()
        if self.required and not text:
            advice = "Confirm each when it is so; what you typed is kept."
            raise StillToDoError(self.label, given, advice)
        return Noted(name, self.label, text) if text else None
