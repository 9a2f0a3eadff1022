"""One step of a unit's route as a specification states it, and what it asks for."""

from enum import StrEnum
from functools import cached_property
from typing import Any, ClassVar, Self

from pydantic import Field, field_serializer, model_validator

from benchstation.domain.content import Part
from benchstation.domain.inputs.charge import ChargeInput
from benchstation.domain.inputs.choice import Choice
from benchstation.domain.inputs.confirmation import Confirmation
from benchstation.domain.inputs.line import TextLine
from benchstation.domain.inputs.material import MaterialInput
from benchstation.domain.inputs.oil import OilInput
from benchstation.domain.inputs.part import PartLine
from benchstation.domain.inputs.photos import Photos
from benchstation.domain.inputs.quantity import Measure, Source
from benchstation.domain.inputs.registry import Asked, Input, WrittenInput, named
from benchstation.domain.inputs.second_reading import SecondReading
from benchstation.domain.inputs.stack import StackInput, StackRecord
from benchstation.domain.inputs.text import FreeText
from benchstation.domain.inputs.torque import TorqueOf
from benchstation.domain.inputs.zero import ZeroReading


class StepKind(StrEnum):
    """How the route knows a step; what it asks for, its tables and ``inputs`` say."""

    CONFIRM = "confirm"
    RELEASE = "release"
    MEASURE = "measure"
    WEIGH = "weigh"
    BLEED = "bleed"
    CHARGE = "charge"
    SECOND = "second_reading"
    FILE = "file"
    TORQUE = "torque"
    CHOOSE = "choose"
    NOTE = "note"
    PARTS = "parts"
    STACK = "stack"
    PHOTO = "photo"
    INPUTS = "inputs"


class NoteField(Part):
    """A line of text that a step asks for."""

    id: str = Field(pattern=r"^[a-z][a-z0-9_]*$")
    label: str
    required: bool = False
    hint: str = ""


class Step(Part):
    """One step of the route."""

    id: str = Field(pattern=r"^[a-z][a-z0-9_]*$")
    kind: StepKind
    title: str
    instruction: str
    cautions: tuple[str, ...] = ()
    confirmations: tuple[str, ...] = ()
    notes: tuple[NoteField, ...] = ()
    measure: Measure | None = None
    hold_point: bool = False
    torque: TorqueOf | None = None
    choose: Choice | None = None
    text: FreeText | None = None
    parts: tuple[PartLine, ...] = ()
    stack: tuple[StackRecord, ...] = ()
    photos: Photos | None = None
    second: SecondReading | None = None
    inputs: tuple[WrittenInput, ...] = Field(default=(), max_length=40)
    """What the step asks for besides its table; of any kinds, in the order of the form."""

    _LATER: ClassVar[frozenset[str]] = frozenset(
        {"torque", "choose", "text", "parts", "stack", "photos", "second", "inputs"}
    )

    @field_serializer("inputs")
    def _with_types(self, inputs: tuple[Input, ...]) -> list[dict[str, Any]]:
        # A table says by its own name what it is, an entry of the list by its type.
        return [{"type": one.type, **one.model_dump(mode="json")} for one in inputs]

    @model_validator(mode="after")
    def _has_what_its_kind_needs(self) -> "Step":
        for kind, name in _NEEDS.items():
            if (self.kind is kind) != bool(getattr(self, name)):
                raise ValueError(
                    f"step '{self.id}': a {kind.value} step, and only that, needs [{name}]"
                )
        if self.kind is StepKind.INPUTS and not self.inputs:
            raise ValueError(f"step '{self.id}': its list of inputs is empty")
        if self.inputs and self.kind in _CAPTURED:
            raise ValueError(f"step '{self.id}': a {self.kind.value} step takes no [inputs]")
        if not all(0 < len(getattr(one, "label", "-").strip()) <= 200 for one in self.inputs):
            raise ValueError(f"step '{self.id}': a label of its inputs is empty or too long")
        asked = [one.input for one in self.asked]
        numbers = [one.number for one in asked if isinstance(one, PartLine)]
        if len(set(numbers)) < len(numbers):
            raise ValueError(f"step '{self.id}': two parts have the same number")
        records = [one.record for one in asked if isinstance(one, StackInput)]
        if len(set(records)) < len(records):
            raise ValueError(f"step '{self.id}': [stack] names a record twice")
        if sum(isinstance(one, Photos) for one in asked) > 1:
            raise ValueError(f"step '{self.id}': photographs are specified twice")
        if len([one for one in asked if _reads(one)]) > 1:
            raise ValueError(f"step '{self.id}': a step takes one reading of an instrument")
        if self.hold_point and not self._asks_for_evidence():
            raise ValueError(f"step '{self.id}': a hold point must ask for evidence")
        return self

    def _asks_for_evidence(self) -> bool:
        # Old kinds of steps are not looked at: revisions in force must stay readable.
        if self.kind not in (StepKind.NOTE, StepKind.PHOTO, StepKind.INPUTS):
            return True
        return any(_must_be_given(one.input) for one in self.asked)

    def __copy__(self) -> Self:
        """Return a copy whose requirements are made from its own tables."""
        copied = super().__copy__()
        copied.__dict__.pop("asked", None)
        return copied

    @cached_property
    def asked(self) -> tuple[Asked, ...]:
        """Return what the step requires, by names of ours: tables, ``inputs``, statements."""
        return named(
            (
                *self._of_tables(),
                *self.inputs,
                *(Confirmation(label=text) for text in self.statements),
                *(TextLine(label=n.label, required=n.required, hint=n.hint) for n in self.notes),
            )
        )

    def _of_tables(self) -> tuple[Input, ...]:
        tables = (self.measure, self.torque, self.choose, self.text)
        return (
            *_OF_KIND.get(self.kind, ()),
            *(table for table in tables if table is not None),
            *self.parts,
            *(StackInput(record=record) for record in self.stack),
            *((self.photos,) if self.photos is not None else ()),
            *((self.second,) if self.second is not None else ()),
        )

    @property
    def statements(self) -> tuple[str, ...]:
        """Return what must be confirmed; a hold point that has nothing else confirms itself."""
        asks = self.confirmations or self.inputs or any(note.required for note in self.notes)
        if self.kind is StepKind.CONFIRM and self.hold_point and not asks:
            return (f"{self.title}: checked",)
        return self.confirmations


_NEEDS = {
    StepKind.MEASURE: "measure",
    StepKind.TORQUE: "torque",
    StepKind.CHOOSE: "choose",
    StepKind.NOTE: "text",
    StepKind.PARTS: "parts",
    StepKind.STACK: "stack",
    StepKind.PHOTO: "photos",
    StepKind.SECOND: "second",
}

_OF_KIND: dict[StepKind, tuple[Input, ...]] = {
    StepKind.RELEASE: (ZeroReading(),),
    StepKind.WEIGH: (OilInput(stage="poured"),),
    StepKind.BLEED: (OilInput(stage="net"),),
    StepKind.CHARGE: (ChargeInput(),),
}
"""What a step of the route asks for by its kind."""

_CAPTURED = (StepKind.WEIGH, StepKind.BLEED, StepKind.CHARGE, StepKind.SECOND, StepKind.FILE)
"""What is signed by a capture or by filing has no form of its own."""


def _reads(one: Input) -> bool:
    """Return True when an input takes the steady reading of an instrument."""
    return isinstance(one, Measure) and one.source is not Source.TYPED


def _must_be_given(one: Input) -> bool:
    if isinstance(one, TextLine | FreeText | MaterialInput):
        return one.required
    return one.least > 0 if isinstance(one, Photos) else True
