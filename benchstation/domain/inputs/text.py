"""Text of several lines."""

from dataclasses import dataclass
from typing import ClassVar, Literal

from benchstation.domain.content import Part, Recorded, Words
from benchstation.domain.inputs.given import Given, StillToDoError
from benchstation.domain.refusals import NotAllowedError

LONGEST_TEXT = 4000


@dataclass(frozen=True, slots=True)
class Written(Recorded):
    """The text, its lines separated by line feeds; it may be empty."""

    input: str
    label: str
    text: str
    type: Literal["text"] = "text"


class FreeText(Part):
    """Text of several lines."""

    _LATER: ClassVar[frozenset[str]] = frozenset({"type"})
    noun: ClassVar[str] = "text"
    accepted_whole: ClassVar[bool] = False

    label: Words
    required: bool = False
    hint: str = ""
    type: Literal["text"] = "text"

    def check(self, name: str, given: Given) -> Written:
        """Return the text; raise for an empty one where it may not be, and for an unprintable."""
        lines = [line.rstrip() for line in given.fields.get(name, "").strip().splitlines()]
        text = "\n".join(lines)
        if self.required and not text:
            raise StillToDoError(self.label, given, "Write it down in a few words.")
        printable = all(line.replace("\t", " ").isprintable() for line in lines)
        if len(text) > LONGEST_TEXT or not printable:
            raise NotAllowedError(
                f"'{self.label}' is longer than {LONGEST_TEXT} characters or cannot be printed.",
                where=given.title,
                advice="Shorten it; what you typed is kept.",
            )
        return Written(name, self.label, text)
