"""Lists of all that a question finds, in their own words: written from window and command line."""

from collections.abc import Iterator, Mapping, Sequence
from dataclasses import dataclass
from datetime import datetime
from itertools import islice
from pathlib import Path

from benchstation.domain.events import NoticeGiven, RecallListed
from benchstation.domain.record import stamp
from benchstation.driver_api.errors import StationError
from benchstation.quantities.formatter import file_stamp
from benchstation.reports.unit_list import (
    ListedUnit,
    ListHead,
    csv_lines,
    record_lines,
    write_lines,
    write_list_pdf,
)
from benchstation.screens.model.filters import question_in
from benchstation.screens.records.page import Records
from benchstation.screens.written import writing
from benchstation.store.chain_store import ChainStore
from benchstation.store.heads import told_to
from benchstation.store.journal import Entry
from benchstation.store.notices import notices_of
from benchstation.store.unit_rows import UnitRow

TRIES = 3
SOME = 200


@dataclass(frozen=True, slots=True)
class Written:
    """The files of a list, and the fact of it for the journal."""

    paths: Sequence[Path]
    fact: RecallListed


@dataclass(slots=True)
class Counted:
    """Units as they go by, and how many there were."""

    units: Iterator[UnitRow]
    count: int = 0

    def __iter__(self) -> Iterator[UnitRow]:
        """Return them one after the other."""
        for unit in self.units:
            self.count += 1
            yield unit


def write_list(
    records: Records, text: str, folder: Path, *, shop: str, person: str, now: datetime
) -> Written:
    """Write all units that a question finds as CSV and PDF, and say up to where the list tells.

    What is filed meanwhile would stand in one part and not in the other: then it is listed again.
    """
    stem = f"units_{file_stamp(now)}"
    with writing(folder):
        for _ in range(TRIES):
            head = head_of(records.store, text, shop=shop, person=person, now=now)
            units = Counted(records.each(text))
            path = folder / f"{stem}.csv"
            sha256 = write_lines(path, csv_lines(head, listed(records, units)))
            paper = write_list_pdf(
                head, listed(records, records.each(text)), folder / f"{stem}.pdf"
            )
            if told_to(records.store) == head.told_to:
                heads = tuple(one.words for one in head.told_to)
                fact = RecallListed(text, units.count, heads, sha256)
                return Written((path, paper), fact)
    raise StationError(
        "the records grow while the list is written.",
        where="Records",
        advice="Nothing is wrong with them. Write the list again.",
    )


def write_records(records: Records, text: str, folder: Path, now: datetime) -> Path:
    """Write the whole records of all filed units that a question finds, one a line of JSON."""
    with writing(folder):
        path = folder / f"records_{file_stamp(now)}.jsonl"
        write_lines(path, record_lines(records.store, records.each(text)))
    return path


def head_of(store: ChainStore, text: str, *, shop: str, person: str, now: datetime) -> ListHead:
    """Return what stands over a list."""
    return ListHead(shop, text, question_in(text).in_words, now, person, told_to(store))


def listed(records: Records, units: Iterator[UnitRow] | Counted) -> Iterator[ListedUnit]:
    """Return units as a list shows them, some at a time: with names, and who was told of each."""
    names, left = records.names(), iter(units)
    while some := list(islice(left, SOME)):
        notices = notices_of(records.store, [unit.unit_id for unit in some])
        for unit in some:
            told = tuple(notice_words(one, names) for one in notices.get(unit.unit_id, ()))
            opened, filed = (names.get(who, who) for who in (unit.technician, unit.filed_by))
            yield ListedUnit(unit, opened, filed, told)


def notice_words(entry: Entry, names: Mapping[str, str]) -> str:
    """Return who was told, by whom and when."""
    assert isinstance(entry.event, NoticeGiven)
    return f"{entry.event.told} ({names.get(entry.person, entry.person)}, {stamp(entry.utc)})"
