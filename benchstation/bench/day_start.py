"""The start of the day: what is to be seen to before the first unit, and how each line stands.

A line is done by the evidence itself where there is some: a figure of the air that counts, a check
of today. What leaves no evidence of its own is signed by a person. Any line may be put off with a
reason; that opens no lock, and what rests on the evidence stays barred.
"""

from collections.abc import Sequence
from dataclasses import dataclass, field
from datetime import date
from enum import StrEnum

from benchstation.bench.bench_air import BenchAir, Moment
from benchstation.bench.bench_instrument import BenchInstrument, BenchInstruments
from benchstation.bench.copying import CopyStanding
from benchstation.domain.air_evidence import AirQuantity
from benchstation.domain.events import DayLineSigned
from benchstation.domain.instrument_roles import InstrumentRole
from benchstation.metrology.due import Standing, standing
from benchstation.quantities.formatter import day_of
from benchstation.store.chain_store import ChainStore
from benchstation.store.journal import Entry

CHECK = "check "
"""Before the id of the instrument whose check is a line."""
AIR_LINES = {"air": AirQuantity.TEMPERATURE, "barometer": AirQuantity.PRESSURE}
CALIBRATIONS, BOTTLE, BACKUP = "calibrations", "bottle", "backup"
SIGNED_LINES = (CALIBRATIONS, BOTTLE, BACKUP)
"""Lines that a person signs: nothing else shows that they were seen to."""


class LineState(StrEnum):
    """How a line stands today."""

    DONE = "done"
    OPEN = "open"
    PUT_OFF = "put off"


@dataclass(frozen=True, slots=True)
class DayLine:
    """One line, and who signed it or put it off where somebody did."""

    key: str
    state: LineState
    signed: Entry | None = None
    instrument: BenchInstrument | None = None


@dataclass(slots=True)
class DayBook:
    """What was signed or put off, the last of each line."""

    last: dict[str, Entry] = field(default_factory=dict)

    def note(self, entry: Entry) -> None:
        """Take a fact that is on record."""
        if isinstance(entry.event, DayLineSigned):
            self.last[entry.event.line] = entry

    def today(self, line: str, day: date) -> Entry | None:
        """Return what was signed of a line on this day, as people of this place count days."""
        entry = self.last.get(line)
        return entry if entry is not None and day_of(entry.utc) == day else None


def day_book(journal: ChainStore) -> DayBook:
    """Read the book back from the journal."""
    book = DayBook()
    for entry in journal.entries(kind=DayLineSigned.kind):
        book.note(entry)
    return book


def day_lines(
    book: DayBook,
    air: BenchAir,
    instruments: BenchInstruments,
    now: Moment,
    copies: CopyStanding | None = None,
) -> tuple[DayLine, ...]:
    """Return the lines of today in the order in which they are best seen to."""
    day = day_of(now.utc)

    def line(key: str, *, done: bool, instrument: BenchInstrument | None = None) -> DayLine:
        signed = book.today(key, day)
        event = signed.event if signed is not None else None
        put_off = isinstance(event, DayLineSigned) and event.put_off
        if done or (signed is not None and not put_off and key in SIGNED_LINES):
            return DayLine(key, LineState.DONE, None if done else signed, instrument)
        return DayLine(key, LineState.PUT_OFF if put_off else LineState.OPEN, signed, instrument)

    rows = [
        line(key, done=not air.evidence(of, instruments, now).why_not(now.utc, air.limits))
        for key, of in AIR_LINES.items()
    ]
    for fitted in (*instruments.of(InstrumentRole.SCALE), *instruments.gauges_in_path):
        rows.append(line(CHECK + fitted.id, done=checked_today(fitted, now), instrument=fitted))
    rows.append(line(CALIBRATIONS, done=not due_soon(instruments, now)))
    rows.append(line(BOTTLE, done=False))
    rows.append(line(BACKUP, done=copies is not None and copies.made_today(now.utc)))
    return tuple(rows)


def checked_today(fitted: BenchInstrument, now: Moment) -> bool:
    """Return True when its newest check is of today and passed."""
    checked = fitted.checked
    return checked is not None and checked.passed and fitted.checked_on == day_of(now.utc)


def due_soon(instruments: BenchInstruments, now: Moment) -> Sequence[BenchInstrument]:
    """Return the instruments whose calibration is overdue, not on record or about to fall due."""
    today = day_of(now.utc)
    return [one for one in instruments if standing(_until(one), today) is not Standing.VALID]


def _until(fitted: BenchInstrument) -> date | None:
    until = fitted.registered.calibrated_until
    return date.fromisoformat(until) if until else None
