"""What the Specifications page shows, as plain frozen values."""

from dataclasses import dataclass

from benchstation.domain.approval import EXAMPLE as EXAMPLE
from benchstation.domain.approval import why_not_own as why_not_own
from benchstation.domain.specification_text import raised as raised
from benchstation.domain.specification_text import with_values as with_values
from benchstation.screens.model.elements import CurveView, TermGroup, Tone
from benchstation.screens.model.lists import ListRow

DRAFT = "draft"
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
    """Against the revision in force: field, was, is."""
