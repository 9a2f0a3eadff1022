"""What the Queue page shows, as plain frozen values, and what it asks of the station."""

from collections.abc import Mapping, Sequence
from concurrent.futures import Future
from dataclasses import dataclass
from pathlib import Path
from typing import Protocol

from benchstation.screens.model.elements import FieldView, Tone
from benchstation.screens.model.lists import ListRow


@dataclass(frozen=True, slots=True)
class SetCell:
    """A figure of one unit; ``marked``: it is one of those that do not match."""

    text: str
    marked: bool = False


@dataclass(frozen=True, slots=True)
class SetRow:
    """One figure of every unit of a set, how far apart they are, and the word on it."""

    what: str
    cells: tuple[SetCell, ...]
    spread: str
    verdict: str
    tone: Tone


@dataclass(frozen=True, slots=True)
class SetView:
    """Units that must match, a column each."""

    title: str
    positions: tuple[str, ...]
    serials: tuple[str, ...]
    states: tuple[str, ...]
    rows: tuple[SetRow, ...]
    note: str = ""


@dataclass(frozen=True, slots=True)
class QueueRow:
    """One unit. ``key`` is its line of an order, or empty for a unit that stands in none."""

    key: str
    unit_id: str
    order: str
    serial: str
    position: str
    family: str
    due: str
    late: bool
    matched: str
    """Such as ``set of 4``; empty where it belongs to none."""
    state: str
    reason: str
    tone: Tone

    @property
    def name(self) -> str:
        """Return its serial, or that it has none yet."""
        return self.serial or "not scanned yet"

    @property
    def due_words(self) -> str:
        """Return when it is due, and whether that day is past."""
        return f"{'overdue' if self.late else 'due'} {self.due}" if self.due else ""

    @property
    def line(self) -> ListRow:
        """Return the row as the list shows it."""
        order = f"order {self.order}" if self.order else "no order"
        note = self.due_words if self.late else self.reason or self.due_words
        return ListRow(
            self.key or self.unit_id,
            self.name,
            tuple(part for part in (order, self.family, self.matched) if part),
            self.state,
            self.tone,
            self.position,
            note,
            # Large text leaves no room for the year, which is the least of a date.
            note.replace(self.due, self.due[5:]) if self.due else "",
            Tone.CAUTION if self.late else Tone.QUIET,
            not self.serial,
        )


@dataclass(frozen=True, slots=True)
class QueueOrder:
    """One order: its note, its sets, and the form that changes it."""

    order: str
    title: str
    note: str
    sets: tuple[SetView, ...]
    change: tuple[FieldView, ...]


@dataclass(frozen=True, slots=True)
class QueueView:
    """All of the queue; ``forms`` place an order, by the number of its units."""

    rows: tuple[QueueRow, ...]
    orders: Mapping[str, QueueOrder]
    forms: Mapping[int, tuple[FieldView, ...]]
    said: str
    """How much waits, in words."""


@dataclass(frozen=True, slots=True)
class UnitsRead:
    """A list of units that was read and is in order, for a person to take or leave."""

    text: str
    said: str
    rows: tuple[str, ...]


class QueueService(Protocol):
    """What the Queue page asks of the station. Every method returns at once."""

    def find_queue(self) -> Future[QueueView]:
        """Return orders and units that wait, are worked, filed lately or on hold."""

    def read_units(self, path: Path) -> Future[UnitsRead]:
        """Read a list of units; a failure names each bad line. Nothing is taken yet."""

    def write_label(self, unit_id: str, folder: Path) -> Future[Sequence[Path]]:
        """Write the label of a filed unit as PDF; gives the path."""
