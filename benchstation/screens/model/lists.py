"""What a page that lists things and opens one shows, as plain frozen values."""

from collections.abc import Mapping
from dataclasses import dataclass, field

from benchstation.screens.model.elements import ActionView, CurveView, TaskView, TermGroup, Tone


@dataclass(frozen=True, slots=True)
class ListRow:
    """One line of a list. ``key`` opens it."""

    key: str
    title: str
    below: tuple[str, ...]
    """What stands under the title, most telling first."""
    state: str
    tone: Tone
    beside: str = ""
    """What stands after the title where there is room."""
    note: str = ""
    """What stands under the state, or after it."""
    short_note: str = ""
    """The same for large text, which has less room; empty: there is no shorter one."""
    note_tone: Tone = Tone.QUIET
    unnamed: bool = False
    """The title says that it has no name yet."""

    @property
    def line(self) -> "ListRow":
        """Return the row itself: every list shows the line of its rows."""
        return self

    def words(self) -> str:
        """Return all of it in words, as a screen reader says it."""
        parts = (self.title, self.beside, *self.below, self.note, self.state)
        return ", ".join(part for part in parts if part)


@dataclass(frozen=True, slots=True)
class ListDetail:
    """What is open: its terms, what may be done with it, and the forms of what needs some."""

    row: ListRow
    groups: tuple[TermGroup, ...]
    actions: tuple[ActionView, ...] = ()
    forms: Mapping[str, TaskView] = field(default_factory=dict)
    """By the action's id. The values go back as fields, together with ``fields``."""
    fields: Mapping[str, str] = field(default_factory=dict)
    """What goes back with every action here, such as whose it is."""
    lines: tuple[tuple[str, Tone], ...] = ()
    """What must be seen before the terms, most important first."""
    curves: tuple[CurveView, ...] = ()
