"""What the page Quality shows, and what it asks of the station."""

from collections.abc import Sequence
from concurrent.futures import Future
from dataclasses import dataclass
from datetime import datetime
from pathlib import Path
from typing import Protocol

from benchstation.quantities.formatter import local_time
from benchstation.screens.model.elements import FloatArray, TermGroup, Tone
from benchstation.screens.model.lists import ListRow

Choices = tuple[tuple[str, str], ...]
"""Pairs of (value, text shown)."""
BETWEEN, PARTS = "\n", 4
"""Between the parts of a chart as a place: nobody types it."""


@dataclass(frozen=True, slots=True)
class QualityQuestion:
    """Which chart: of what, of whose units, and of how many.

    ``quantity`` is oil, charge, leak or check; an empty ``family`` is all of them; ``by`` is empty,
    technician, instrument, lot or bench, and ``name`` which one of it.
    """

    quantity: str = "oil"
    family: str = ""
    by: str = ""
    name: str = ""
    count: int = 200


def place_of(question: QualityQuestion) -> str:
    """Return a chart as a place that another page leads to."""
    return BETWEEN.join((question.quantity, question.family, question.by, question.name))


def question_at(place: str) -> QualityQuestion:
    """Return the chart of a place; whatever else it says is all oil."""
    parts = place.split(BETWEEN)
    if len(parts) != PARTS:
        return QualityQuestion()
    quantity, family, by, name = parts
    return QualityQuestion(quantity, family, by, name)


@dataclass(frozen=True, slots=True)
class ChartPoint:
    """One point: the unit that it opens (empty: none), what it is in words, and how it is drawn.

    ``shape`` is circle, square (held or rejected) or triangle (not right the first time).
    """

    unit_id: str
    serial: str
    title: str
    utc: datetime
    told: tuple[str, ...]
    shape: str = "circle"
    fired: bool = False
    """A rule ends at it."""

    @property
    def words(self) -> str:
        """Return all of it in words; of five hundred points one is read at a time."""
        parts = (self.title, local_time(self.utc), *self.told)
        return "   ".join(part for part in parts if part)


@dataclass(frozen=True, slots=True, eq=False)
class ControlChartView:
    """Values in their order with their lines, in display units. ``lines``: text, value, tone.

    Two are equal only when they are the same: arrays of values are not compared.
    """

    title: str
    unit: str
    values: FloatArray
    lines: tuple[tuple[str, float, Tone], ...]
    beyond: frozenset[int] = frozenset()
    """Places of values that are drawn as outside."""


@dataclass(frozen=True, slots=True, eq=False)
class QualityView:
    """Both charts and what they say; ``nothing``: why there are none."""

    question: QualityQuestion
    """As it was answered: a name that is needed is filled in."""
    families: Choices
    names: Choices
    heading: str
    individuals: ControlChartView | None
    ranges: ControlChartView | None
    points: tuple[ChartPoint, ...]
    groups: tuple[TermGroup, ...]
    rows: tuple[ListRow, ...]
    """A row for each rule that fired, newest first; its key is the unit that it opens."""
    nothing: str = ""
    limit_now: str = ""
    """The limit of today, beside which another is typed; empty: none can be tried here."""


@dataclass(frozen=True, slots=True)
class OtherLimitView:
    """What another limit would make of the units of a chart."""

    heading: str
    groups: tuple[TermGroup, ...]
    rows: tuple[ListRow, ...]


class QualityService(Protocol):
    """Charts, other limits, and both on paper."""

    def quality(self, question: QualityQuestion) -> Future[QualityView]:
        """Return the chart of a question."""

    def other_limit(self, question: QualityQuestion, typed: str) -> Future[OtherLimitView]:
        """Return which of these units another limit would pass, fail or leave undecided."""

    def write_quality(
        self, question: QualityQuestion, typed: str, folder: Path
    ) -> Future[Sequence[Path]]:
        """Write the chart as PDF and CSV; with a typed limit what that makes of each unit too."""
