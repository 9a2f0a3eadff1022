"""One of listed options; some of them ask for QA or for a deviation."""

from dataclasses import dataclass
from enum import StrEnum
from typing import ClassVar, Literal

from pydantic import Field, model_validator

from benchstation.domain.content import Part, Recorded, Words
from benchstation.domain.inputs.given import Given
from benchstation.domain.refusals import NotAllowedError


class Hold(StrEnum):
    """What choosing an option asks for."""

    NONE = ""
    QA = "qa"
    DEVIATION = "deviation"


@dataclass(frozen=True, slots=True)
class Chosen(Recorded):
    """The option that was chosen, with its text and with what it asks for."""

    input: str
    label: str
    option: str
    text: str
    hold: Hold = Hold.NONE
    type: Literal["choice"] = "choice"


class Option(Part):
    """One of the answers of a choice."""

    id: str = Field(pattern=r"^[a-z][a-z0-9_]*$")
    text: Words
    hold: Hold = Hold.NONE
    """``qa``: the unit goes to QA hold. ``deviation``: only a signed deviation goes on with it."""


class Choice(Part):
    """One of listed options."""

    _LATER: ClassVar[frozenset[str]] = frozenset({"type"})
    noun: ClassVar[str] = "choice"
    accepted_whole: ClassVar[bool] = True

    label: Words
    options: tuple[Option, ...] = Field(min_length=2, max_length=20)
    type: Literal["choice"] = "choice"

    @model_validator(mode="after")
    def _options_differ(self) -> "Choice":
        ids = [option.id for option in self.options]
        if len(set(ids)) < len(ids):
            raise ValueError("two options have the same id")
        if all(option.hold is Hold.DEVIATION for option in self.options):
            raise ValueError("every option needs a deviation: one must be in order")
        return self

    def option(self, option_id: str) -> Option | None:
        """Return an option by its id."""
        return next((o for o in self.options if o.id == option_id), None)

    def check(self, name: str, given: Given) -> Chosen:
        """Return the chosen option; one that needs a deviation only after it was signed."""
        option = self.option(given.fields.get(name, ""))
        if option is None:
            raise NotAllowedError(
                f"'{self.label}' is not chosen yet.", where=given.title, advice="Choose one."
            )
        if option.hold is Hold.DEVIATION and not given.accepted:
            raise NotAllowedError(
                f"'{option.text}' needs a deviation.",
                where=given.title,
                advice="Replace the part and choose again, or have a lead accept it.",
            )
        return Chosen(name, self.label, option.id, option.text, option.hold)
