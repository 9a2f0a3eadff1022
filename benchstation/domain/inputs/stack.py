"""Both disc stacks, as found or as built, compared with what was specified."""

from dataclasses import dataclass
from typing import ClassVar, Literal

from benchstation.domain.content import Part, Recorded
from benchstation.domain.disc_stack import (
    AS_BUILT,
    SIDES,
    Difference,
    Mark,
    Stack,
    compared,
    differences_in_words,
    parsed_stack,
    specified,
)
from benchstation.domain.inputs.given import Given, StillToDoError
from benchstation.domain.refusals import NotAllowedError
from benchstation.driver_api.errors import in_field

StackRecord = Literal["as found", "as built"]


def field_id(record: str, side: str) -> str:
    """Return the id of the field of one stack."""
    return f"{record.replace(' ', '_')}_{side}"


@dataclass(frozen=True, slots=True)
class SideDifference(Recorded):
    """What a stack as built differs in from the specification, on one side."""

    side: str
    difference: Difference


@dataclass(frozen=True, slots=True)
class StackRecorded(Recorded):
    """Both stacks from the piston outwards, and what differs from the specification."""

    input: str
    label: StackRecord
    compression: Stack
    rebound: Stack
    differences: tuple[SideDifference, ...] = ()
    type: Literal["stack"] = "stack"

    def side(self, side: str) -> Stack:
        """Return the stack of one side."""
        return self.compression if side == "compression" else self.rebound


class StackInput(Part):
    """The stacks of one record: as they were found, or as they were built."""

    _LATER: ClassVar[frozenset[str]] = frozenset({"type"})
    noun: ClassVar[str] = "stack"
    accepted_whole: ClassVar[bool] = True

    record: StackRecord
    type: Literal["stack"] = "stack"

    def check(self, name: str, given: Given) -> StackRecorded:
        """Return both stacks; as built they must be as specified, or have been accepted."""
        stacks = {side: self._typed(side, given) for side in SIDES}
        differs: list[SideDifference] = []
        words: list[str] = []
        if self.record == AS_BUILT:
            for side, stack in stacks.items():
                asked = specified(given.stacks, side)
                rows = [row for row in compared(asked, stack) if row.mark is not Mark.SAME]
                differs += [SideDifference(side, row) for row in rows]
                words += [f"{side}: {word}" for word in differences_in_words(asked, stack)]
        if differs and not given.accepted:
            raise NotAllowedError(
                f"as built differs from the specification: {'; '.join(words)}.",
                where=given.title,
                advice="Build it as specified, or have a lead accept a deviation.",
            )
        return StackRecorded(
            name, self.record, stacks["compression"], stacks["rebound"], tuple(differs)
        )

    def _typed(self, side: str, given: Given) -> Stack:
        where = f"{side}, {self.record}"
        with in_field(field_id(self.record, side)):
            stack = parsed_stack(given.fields.get(field_id(self.record, side), ""), where)
            if not stack:
                advice = "Measure and enter the discs from the piston outwards."
                raise StillToDoError(where, given, advice)
        return stack
