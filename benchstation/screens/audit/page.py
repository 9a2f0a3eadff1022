"""Answers the page Audit trail: entries in plain words, found by person, kind, unit and time."""

import json
from collections.abc import Iterator, Mapping, Sequence
from dataclasses import dataclass
from datetime import datetime
from pathlib import Path

from benchstation.domain.events import EVENT_TYPES
from benchstation.domain.materials import text_key
from benchstation.domain.record import stamp
from benchstation.driver_api.errors import StationError
from benchstation.quantities.formatter import METRIC, QuantityFormatter, file_stamp, local_time
from benchstation.reports.unit_list import row_of, write_lines
from benchstation.screens.audit.words import details, sentence, title_of
from benchstation.screens.model.audit import AuditView
from benchstation.screens.model.elements import TermGroup, TermView, Tone
from benchstation.screens.model.filters import BY, FROM, LABELS, TO, UNIT, Question, question_in
from benchstation.screens.model.lists import ListDetail, ListRow
from benchstation.screens.records.filtering import UnclearError, people_called, time_of
from benchstation.screens.written import writing
from benchstation.store.audit import Wanted, each_entry, page_of
from benchstation.store.chain_store import ChainStore
from benchstation.store.errors import NotOnRecordError
from benchstation.store.filters import By, Filters, now_called, units_that
from benchstation.store.heads import told_to
from benchstation.store.journal import Entry

COLUMNS: Mapping[str, str] = {
    "bench": "whose chain it is",
    "entry": "its number there",
    "utc": "when, UTC",
    "local": "when, by the clock on the wall, with the zone named",
    "who": "name of whoever did it",
    "what": "what was done, in words",
    "says": "what it says of it: figures, reasons, lots, decisions",
    "unit": "the rebuild it belongs to; empty: none",
    "hash": "its SHA-256 in the chain",
}
"""Each column of the CSV, and what stands in it."""
NARROWED_BY = (FROM, TO, "serial", UNIT, BY)
"""The filters that hold of an entry."""
_TONES = {"alarm": Tone.CAUTION, "unit.deviation": Tone.CAUTION, "bench.loss_accepted": Tone.DANGER}


@dataclass(frozen=True, slots=True)
class Audit:
    """Every method may take a while and is called in one thread."""

    store: ChainStore

    def find(self, text: str, before: str = "", words: QuantityFormatter = METRIC) -> AuditView:
        """Return a page of the entries that a text names."""
        names, question = self._names(), question_in(text)
        try:
            wanted = self._wanted(question, names)
        except UnclearError as error:
            return AuditView((), str(error), "")
        page = page_of(self.store, wanted, before=before)
        rows = [self._row(entry, names, words) for entry in page.entries]
        return AuditView(rows, _said(question), page.before)

    def open(self, key: str, words: QuantityFormatter = METRIC) -> ListDetail:
        """Open one entry."""
        bench, _, seq = key.rpartition(" ")
        names = self._names()
        place = json.dumps({bench: int(seq) + 1})
        found = page_of(self.store, Wanted(), before=place, limit=1).entries
        if not found or found[0].seq != int(seq):
            raise NotOnRecordError("there is no such entry.", where="Audit trail")
        entry = found[0]
        said = tuple(
            TermView(_begun(label) or "Says", text)
            for label, text in details(entry.event, names, words)
        )
        chain = (
            TermView("Chain", f"{entry.bench}, entry {entry.seq}"),
            TermView("Time", local_time(entry.utc), stamp(entry.utc)),
            TermView("Who", names.get(entry.person, entry.person)),
            TermView("Hash", entry.hash),
        )
        groups = (TermGroup("Says", said), TermGroup("On record", chain))
        return ListDetail(self._row(entry, names, words), groups)

    def write(self, text: str, folder: Path, now: datetime) -> Sequence[Path]:
        """Write all entries that a text names as CSV, and up to where it tells."""
        names, question = self._names(), question_in(text)
        try:
            wanted = self._wanted(question, names)
        except UnclearError as error:
            raise StationError(
                f"nothing can be listed: {error}", where="Audit trail", advice="Ask otherwise."
            ) from error
        path = folder / f"audit_{file_stamp(now)}.csv"
        with writing(folder):
            write_lines(path, self._lines(question, wanted, names))
        return (path,)

    def _lines(
        self, question: Question, wanted: Wanted, names: Mapping[str, str]
    ) -> Iterator[bytes]:
        yield f"# Audit trail: {question.in_words or 'all entries'}\r\n".encode()
        for head in told_to(self.store):
            yield f"# Tells up to: {head.words}\r\n".encode()
        yield row_of(COLUMNS)
        for entry in each_entry(self.store, wanted):
            yield row_of(
                (
                    entry.bench,
                    str(entry.seq),
                    stamp(entry.utc),
                    local_time(entry.utc),
                    names.get(entry.person, entry.person),
                    title_of(entry.kind),
                    sentence(entry.event, names),
                    getattr(entry.event, "unit_id", ""),
                    entry.hash,
                )
            )

    def _names(self) -> dict[str, str]:
        return {key: person.name for key, person in self.store.people().items()}

    def _wanted(self, question: Question, names: Mapping[str, str]) -> Wanted:
        """Return which entries a question names; raise where it names none."""
        for name in question.filters:
            if name not in NARROWED_BY:
                known = ", ".join(NARROWED_BY)
                raise UnclearError(f"{LABELS[name]}: the trail is narrowed by {known} alone.")
        people: tuple[str, ...] = ()
        if by := question.filters.get("by"):
            people = tuple(people_called("By", by, names))
        kinds: tuple[str, ...] = ()
        if question.words:
            key = question.words.casefold()
            kinds = tuple(
                k for k in EVENT_TYPES if key in title_of(k).casefold() or k.startswith(key)
            )
            if not kinds:
                raise UnclearError(f"No kind of entry is called “{question.words}”.")
        unit = question.filters.get("unit", "")
        if serial := question.filters.get("serial"):
            key = text_key(serial)
            keys = (key, *now_called(self.store, key))
            named = units_that(self.store, Filters({By.SERIAL: keys}), limit=1)
            if not named:
                raise UnclearError(f"Serial: “{serial}” is not on record.")
            unit = named[0].unit_id
        since, until = time_of(question, FROM, 0), time_of(question, TO, 1)
        return Wanted(kinds, people, unit, since, until)

    def _row(self, entry: Entry, names: Mapping[str, str], words: QuantityFormatter) -> ListRow:
        kind = entry.kind
        tone = _TONES.get(kind) or _TONES.get(kind.partition(".")[0], Tone.QUIET)
        who = names.get(entry.person, entry.person)
        says = sentence(entry.event, names, words)
        return ListRow(
            f"{entry.bench} {entry.seq}",
            _begun(title_of(kind)),
            (local_time(entry.utc), *((says,) if says else ())),
            f"{entry.bench} {entry.seq}",
            tone,
            who,
        )


def _begun(words: str) -> str:
    """Return words as a sentence begins with them; QA and PIN stay as they are."""
    return words[:1].upper() + words[1:]


def _said(question: Question) -> str:
    return f"Shown: {question.in_words}." if question.in_words else ""
