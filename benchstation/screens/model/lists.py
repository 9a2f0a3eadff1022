"""A page that lists things and opens one, as plain frozen values; People and Materials are such."""

from collections.abc import Mapping
from dataclasses import dataclass, field

from benchstation.screens.model.elements import ActionView, TaskView, TermGroup, Tone


@dataclass(frozen=True, slots=True)
class ListRow:
    """One line of the list. ``key`` opens it."""

    key: str
    title: str
    below: str
    state: str
    tone: Tone


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
