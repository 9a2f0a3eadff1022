"""What the page Records shows, and what it asks of the station beside finding and opening."""

from collections.abc import Mapping, Sequence
from concurrent.futures import Future
from dataclasses import dataclass, field
from pathlib import Path
from typing import Protocol

from benchstation.screens.model.elements import (
    ActionView,
    PhotoView,
    TaskView,
    TermGroup,
    Tone,
    TraceView,
)
from benchstation.screens.model.lists import ListRow
from benchstation.screens.model.proof import FigureView

UNITS_OF, UNITS_SINCE = "units_of", "units_since"
"""Actions of an instrument that go to Records: all units that rest on it, or those in doubt."""
SINCE = " since the last good check"
"""Behind an instrument's name in a search: only what was measured since then."""

REBUILD = "\n"
"""Between a serial and the rebuild of it that opens: nobody types it."""
LOT, END = 'lot "', '"'
"""Around a lot's name in a search: only the units with this lot, and none whose lot begins so."""


def words_for_lot(lot: str) -> str:
    """Return the search for the units with one lot of oil, kit or part, or one wrench."""
    return f"{LOT}{lot}{END}"


def lot_in(words: str) -> str:
    """Return the lot that a search names whole; empty: it is a search for words."""
    text = words.strip()
    whole = text.casefold().startswith(LOT) and text.endswith(END) and len(text) > len(LOT + END)
    return text[len(LOT) : -len(END)] if whole else ""


def words_for_unit(serial: str, unit_id: str) -> str:
    """Return the search for a serial that opens one of its rebuilds."""
    return f"{serial}{REBUILD}{unit_id}"


def rebuild_in(words: str) -> tuple[str, str]:
    """Return what is searched for, and the id of the rebuild that opens; empty: the first."""
    serial, _, unit_id = words.partition(REBUILD)
    return serial, unit_id


@dataclass(frozen=True, slots=True)
class RecordRow:
    """One found unit."""

    unit_id: str
    serial: str
    family: str
    title: str
    filed: str
    technician: str
    decision: str
    """What stands first: the judgement, or what stops the unit."""
    state: str
    """What stands beside it."""
    tone: Tone
    page_key: str = ""
    """Hand this back as ``before`` to get the rows after this one."""
    told: int = 0
    """How many notices of it are on record."""

    @property
    def line(self) -> ListRow:
        """Return the row as the list shows it."""
        told = "told" if self.told else ""
        below = (told, self.filed, self.technician, self.title)
        return ListRow(
            self.unit_id,
            self.serial,
            tuple(part for part in below if part),
            self.decision,
            self.tone,
            self.family,
            self.state,
        )


@dataclass(frozen=True, slots=True)
class TimelineRow:
    """Something that happened to a unit: when, what, its evidence or reason, and by whom."""

    when: str
    """Local time with the zone named."""
    title: str
    words: str
    who: str
    tone: Tone = Tone.PLAIN


@dataclass(frozen=True, slots=True)
class RecordFront:
    """What a record answers first: is it good, who says so, measured with what."""

    verdict: str
    """What stops the unit comes first: its standing where QA holds or rejected it."""
    beside: str
    """The standing beside a judgement, or the judgement beside what stops the unit."""
    tone: Tone
    said: tuple[tuple[str, Tone], ...]
    """Who filed it, what QA said, and up to which entry this is told."""
    figures: tuple[FigureView, ...]
    open_points: tuple[tuple[str, Tone], ...]
    """Holds, deviations and declarations in words; a line says so where there are none."""
    measured_with: tuple[tuple[str, Tone], ...]
    """Instruments with serial number, certificate, and the state of their check."""
    amended: str = ""
    """Which amendment this is, of how many; empty: the record stands as it was filed."""


@dataclass(frozen=True, slots=True)
class RecordDetail:
    """One record, open: groups of terms, both traces, and its anchor in the journal."""

    row: RecordRow
    groups: tuple[TermGroup, ...]
    traces: tuple[TraceView, ...]
    anchor: str
    actions: tuple[ActionView, ...] = ()
    """QA's word on it; the id is the word. Done by ``act("dispose", ...)`` with unit and reason."""
    photos: tuple[PhotoView, ...] = ()
    no_record: str = ""
    """Why there is none, where the unit was not filed; all else but the row is empty then."""
    labelled: bool = False
    """It has no record yet, and a label all the same: it waits for its second reading."""
    front: RecordFront | None = None
    steps: tuple[TimelineRow, ...] = ()
    """The signed steps; of a unit that has no record yet, those until now."""
    place: str = ""
    """Order and position, and the specification that it was built by."""
    later: tuple[TimelineRow, ...] = ()
    """What was put on record after it was filed, oldest first."""
    acts: tuple[ActionView, ...] = ()
    """What may be done with it beside QA's word: amended, shipped, taken back."""
    forms: Mapping[str, TaskView] = field(default_factory=dict)
    """The form of each of these that has one, by its id."""


@dataclass(frozen=True, slots=True)
class CheckView:
    """A long work, such as the check of the journal: under way, or what the last one came to."""

    words: str
    """Empty when there was none."""
    tone: Tone
    share: float | None = None
    """How much of it is done, 0..1, while it is under way."""


class RecordsService(Protocol):
    """What a search covers, and the check of the journal."""

    def about_search(self, text: str) -> Future[str]:
        """Return which instrument a search names and how many units rest on it; empty: none."""

    def filter_form(self, text: str) -> Future[TaskView]:
        """Return the form of a search's filters, filled in as the text asks."""

    def write_data_sheet(self, unit_id: str, folder: Path) -> Future[Sequence[Path]]:
        """Write the data sheet of a unit's last shipment as PDF; gives the path."""

    def write_list(self, text: str, folder: Path) -> Future[Sequence[Path]]:
        """Write all that a search finds as CSV and PDF; gives the paths."""

    def write_records(self, text: str, folder: Path) -> Future[Sequence[Path]]:
        """Write the whole records of all that a search finds as JSON lines; gives the path."""

    def write_papers(self, text: str, folder: Path) -> Future[Sequence[Path]]:
        """Write the certificates of all that a search finds; gives the paths, none if stopped."""

    def stop_papers(self) -> None:
        """Stop writing papers; nothing of them is left."""

    def paper_batch(self) -> CheckView:
        """Return how far the writing of papers is, or what it came to; cheap to ask."""

    def verify_journal(self) -> Future[str]:
        """Check the whole journal; a sentence, or a ``StationError`` when anything does not fit."""

    def stop_check(self) -> None:
        """Stop a check that is under way."""

    def journal_check(self) -> CheckView:
        """Return how far the check is, or what it found; cheap enough to ask often."""
