"""Photographs of a step."""

from dataclasses import dataclass
from typing import ClassVar, Literal

from pydantic import Field, model_validator

from benchstation.domain.content import Part, Recorded, Words
from benchstation.domain.inputs.given import Given, Picture
from benchstation.domain.refusals import NotAllowedError


@dataclass(frozen=True, slots=True)
class Photographed(Recorded):
    """The photographs that were on record when the step was signed; ``least`` were asked for."""

    input: str
    label: str
    pictures: tuple[Picture, ...]
    least: int = 0
    type: Literal["photos"] = "photos"


class Photos(Part):
    """Photographs of this step."""

    _LATER: ClassVar[frozenset[str]] = frozenset({"type"})
    noun: ClassVar[str] = "photos"
    accepted_whole: ClassVar[bool] = True

    label: Words
    least: int = Field(default=1, ge=0, le=12)
    most: int = Field(default=6, ge=1, le=12)
    hint: str = ""
    type: Literal["photos"] = "photos"

    @model_validator(mode="after")
    def _in_order(self) -> "Photos":
        if self.least > self.most:
            raise ValueError("least is more than most")
        return self

    def check(self, name: str, given: Given) -> Photographed:
        """Return the photographs; too few of them must have been accepted."""
        count = len(given.pictures)
        if count < self.least and not given.accepted:
            raise NotAllowedError(
                f"{count} of {self.least} photographs are there.",
                where=given.title,
                advice="Take them and add them here. Without them it needs a deviation.",
            )
        return Photographed(name, self.label, given.pictures, self.least)
