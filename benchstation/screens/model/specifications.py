"""What the Specifications page shows, as plain frozen values."""

import re
from dataclasses import dataclass
from enum import StrEnum

from benchstation.screens.model.elements import CurveView, StackView, TermGroup, Tone
from benchstation.screens.model.lists import ListRow

DRAFT = "draft"
YES = "yes"
"""The state of what can be approved."""


@dataclass(frozen=True, slots=True)
class SpecificationRow:
    """One revision of a specification, or a draft of one. ``key`` opens it."""

    key: str
    family: str
    title: str
    revision: int
    state: str
    tone: Tone
    by: str
    author: str = ""
    """Of a draft: the id of who wrote it."""

    @property
    def line(self) -> ListRow:
        """Return the row as the list shows it."""
        state = f"revision {self.revision}, {self.state}"
        below = tuple(part for part in (self.by, self.title) if part)
        return ListRow(self.key, self.family, below, state, self.tone)

    def is_same(self, other: "SpecificationRow") -> bool:
        """Return True when a draft was approved as the other, or a text kept as it."""
        mine = (self.family, self.title, self.revision)
        return mine == (other.family, other.title, other.revision)


@dataclass(frozen=True, slots=True)
class DrawingView:
    """A unit to scale, lengths in m from the gas end; a section along the axis."""

    caption: str
    bore: float
    length: float
    rod: float
    floating_from: float
    floating_to: float
    piston_from: float
    piston_to: float
    rod_out: float
    """How far the rod's end stands out of the tube."""
    guide: float = 0.0
    """How deep the rod guide's underside stands below the tube's mouth."""


class SheetKind(StrEnum):
    """How a field of a specification is filled in."""

    QUANTITY = "quantity"
    """Any unit of its dimension; a bare number is in the unit that is shown."""
    NUMBER = "number"
    TEXT = "text"
    CHOICE = "choice"
    CHECK = "check"


@dataclass(frozen=True, slots=True)
class SheetField:
    """One figure of a specification: as it stands in the text, and what is to be said of it."""

    field: str
    """Its place in the text, such as ``geometry.bore`` or ``steps.9.measure.nominal``."""
    label: str
    kind: SheetKind
    value: str = ""
    """As the author wrote it; of a check ``yes`` or nothing."""
    says: str = ""
    """What it is, and from where to where it is measured."""
    unit: str = ""
    """What a bare number is taken in."""
    usual: str = ""
    """What holds while it is left out."""
    shown: str = ""
    """In the units that are shown."""
    si: float | None = None
    choices: tuple[tuple[str, str], ...] = ()
    problem: str = ""
    follows: str = ""
    """What the other figures make of it."""
    take: str = ""
    """What would agree with them, to be put in by a button."""
    example: str = ""
    """Of one that is still the example's: its name in the list of those."""
    left_out: bool = False
    """It may be left out of the text."""
    mark: str = ""
    """Which dimension on the drawing it is."""


_BARE = re.compile(r"[+\-−]?(?:\d+(?:[.,]\d*)?|[.,]\d+)")


def written(field: SheetField, typed: str) -> str | int | bool | None:
    """Return what a typed text says as a value of the specification's text.

    A bare number gets the unit that is shown. What is half typed stays as it is, to be judged;
    nothing typed takes out what may be left out.
    """
    said = typed.strip()
    if field.kind is SheetKind.CHECK:
        return typed == YES
    if not said and field.left_out:
        return None
    if field.kind is SheetKind.NUMBER and said.isascii() and said.isdigit():
        return int(said[:9])
    if field.kind is SheetKind.QUANTITY and field.unit and _BARE.fullmatch(said):
        return f"{said} {field.unit}"
    return said if field.kind is SheetKind.QUANTITY else typed


@dataclass(frozen=True, slots=True)
class SheetPart:
    """Figures that belong together: a table, a step, an entry of a list."""

    field: str
    key: str
    """What it is known by from one revision to the next."""
    title: str
    fields: tuple[SheetField, ...] = ()
    parts: tuple["SheetPart", ...] = ()
    lists: tuple["SheetList", ...] = ()
    problem: str = ""

    def all_fields(self) -> tuple[SheetField, ...]:
        """Return every figure in it, at any depth."""
        deeper = (*self.parts, *(entry for one in self.lists for entry in one.entries))
        return (*self.fields, *(field for part in deeper for field in part.all_fields()))

    def problems(self) -> tuple[str, ...]:
        """Return what is wrong in it, at any depth."""
        deeper = (*self.parts, *(entry for one in self.lists for entry in one.entries))
        own = (self.problem, *(field.problem for field in self.fields))
        lists = tuple(one.problem for one in self.lists)
        inner = tuple(said for part in deeper for said in part.problems())
        return (*(said for said in (*own, *lists) if said), *inner)


@dataclass(frozen=True, slots=True)
class SheetList:
    """Entries that are added, moved and dropped. ``adds``: what can be added, by its name."""

    field: str
    title: str
    entries: tuple[SheetPart, ...]
    adds: tuple[tuple[str, "SheetEntry"], ...]
    problem: str = ""
    example: str = ""
    """Of one that is still the example's: its name in the list of those."""


SheetEntry = str | dict[str, object]


@dataclass(frozen=True, slots=True)
class SpecificationDetail:
    """A revision or a draft, checked: its text, what is wrong, and what follows from it."""

    row: SpecificationRow
    source: str
    problems: tuple[str, ...]
    groups: tuple[TermGroup, ...] = ()
    drawing: DrawingView | None = None
    curves: tuple[CurveView, ...] = ()
    changes: tuple[tuple[str, str, str], ...] = ()
    """Against the revision in force: field, was, is, in the units that are shown."""
    sheet: tuple[SheetPart, ...] = ()
    """The whole, as it stands in the text; empty for a text that cannot be read."""
    whole: tuple[TermGroup, ...] = ()
    """All that it says, for who approves it."""
    not_yet: str = ""
    """Why it is not approved as it stands, besides what is wrong; empty: it could be."""
    stacks: tuple[tuple[str, StackView], ...] = ()
    """The disc stacks as specified, each with what it is."""
