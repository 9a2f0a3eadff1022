"""Lines about units: to be released, on hold, with a deviation, waiting for a second reading."""

from collections.abc import Iterator, Mapping, Sequence
from datetime import UTC, datetime

from benchstation.domain.disposition import Standing
from benchstation.domain.events import EventError
from benchstation.domain.statement_words import worded
from benchstation.domain.unit_record import UnitRecord
from benchstation.quantities.formatter import local_time
from benchstation.screens.model.elements import TermGroup, TermView, Tone
from benchstation.screens.model.filters import OR, filtered
from benchstation.screens.worklist.lines import MOST, Desk, WorkLine
from benchstation.store.filters import By, Count, Filters, count_of, units_that
from benchstation.store.order_queries import units_at_hand
from benchstation.store.queries import record_of, units_with_notice
from benchstation.store.unit_rows import UnitRow
from benchstation.store.words_on_units import words_on

RECORDS, BENCH, QUEUE = "records", "bench", "queue"
OPEN_RECORD = "Open the record"
UNREAD = "its record cannot be read: verify the journal"
_WAITS, _HELD = Standing.NOT_RELEASED.value, Standing.ON_HOLD.value


def to_release(desk: Desk) -> Sequence[WorkLine]:
    """Return the units that QA has not judged, the newest first."""
    keys = {By.STANDING: (_WAITS,)}
    found = [
        _line(unit, f"{unit.decision}, {_filed(unit, desk)}", _tone(unit))
        for unit in _units(desk, keys)
    ]
    return [*found, *_rest(desk, keys, filtered(qa=_WAITS))]


def on_hold(desk: Desk) -> Sequence[WorkLine]:
    """Return the units on hold, each with why."""
    keys = {By.STANDING: (_HELD,)}
    found = [_held(desk, unit) for unit in _units(desk, keys)]
    return [*found, *_rest(desk, keys, filtered(qa=_HELD))]


def deviations(desk: Desk) -> Sequence[WorkLine]:
    """Return the units with a deviation that QA has not released, and who accepted it."""
    keys = {By.DEVIATION: ("yes",), By.STANDING: (_WAITS, _HELD)}
    found = []
    for unit in _units(desk, keys):
        record = _record(desk, unit)
        said = record.deviations if record is not None else ()
        terms = tuple(
            TermView(worded(one.subject), one.reason, f"{one.person}, {_when(one.utc)}")
            for one in said
        )
        who = sorted({one.person for one in said})
        why = f"accepted by {', '.join(who)}: {'; '.join(worded(one.subject) for one in said)}"
        group = (TermGroup("Deviations", terms),)
        found.append(_line(unit, why if said else UNREAD, Tone.CAUTION, group))
    question = filtered(deviation="yes", qa=f"{_WAITS}{OR}{_HELD}")
    return [*found, *_rest(desk, keys, question)]


def second_signatures(desk: Desk) -> Sequence[WorkLine]:
    """Return the units that one has released, and that another is still to release."""
    keys = {By.STANDING: (Standing.AWAITS_SECOND.value,)}
    found = [_line(unit, _filed(unit, desk), Tone.CAUTION) for unit in _units(desk, keys)]
    return [*found, *_rest(desk, keys, filtered(qa=Standing.AWAITS_SECOND.value))]


def returned(desk: Desk) -> Sequence[WorkLine]:
    """Return the units that came back and that QA has said nothing of since."""
    keys = {By.STANDING: (Standing.RETURNED.value,)}
    found = [_line(unit, f"from {unit.customer}", Tone.CAUTION) for unit in _units(desk, keys)]
    return [*found, *_rest(desk, keys, filtered(qa=Standing.RETURNED.value))]


def to_tell(desk: Desk) -> Sequence[WorkLine]:
    """Return the shipped units whose customer is to be told of something, and of what."""
    return [
        _line(unit, f"tell {unit.customer}: {unit.notice}", Tone.CAUTION)
        for unit in units_with_notice(desk.store, MOST)
    ]


def second_readings(desk: Desk) -> Sequence[WorkLine]:
    """Return the units that wait for their second reading, those that are due first."""
    now = datetime.now(UTC)
    waiting = [unit for unit in units_at_hand(desk.store) if unit.due_utc]
    found = []
    for unit in sorted(waiting, key=lambda unit: unit.due_utc):
        due = datetime.fromisoformat(unit.due_utc)
        is_due = due.astimezone(UTC) <= now
        why = "due now" if is_due else f"from {local_time(due)} on"
        found.append(
            WorkLine(
                unit.unit_id,
                unit.serial,
                why,
                Tone.CAUTION if is_due else Tone.QUIET,
                QUEUE,
                unit.unit_id,
                "Go to the queue",
                unit.family,
            )
        )
    return found


def _units(desk: Desk, keys: Mapping[By, tuple[str, ...]]) -> list[UnitRow]:
    return units_that(desk.store, Filters(keys), limit=MOST)


def _rest(desk: Desk, keys: Mapping[By, tuple[str, ...]], question: str) -> Iterator[WorkLine]:
    """Return a line that leads to all of them in Records, where there are more than are listed."""
    count: Count = count_of(desk.store, Filters(keys))
    if count.units > MOST:
        many = f"{'at least ' if count.more else ''}{count.units:,} in all"
        yield WorkLine(
            "", "All of them", many, Tone.QUIET, RECORDS, question, "See them in Records"
        )


def _line(unit: UnitRow, why: str, tone: Tone, groups: tuple[TermGroup, ...] = ()) -> WorkLine:
    question = filtered(unit=unit.unit_id)
    return WorkLine(
        unit.unit_id, unit.serial, why, tone, RECORDS, question, OPEN_RECORD, unit.family, groups
    )


def _held(desk: Desk, unit: UnitRow) -> WorkLine:
    said = words_on(desk.store, unit.unit_id)
    if said:
        fact, word = said[-1]
        who = desk.names.get(fact.person, fact.person)
        group = TermGroup("Held by QA", (TermView(word.reason, "", who),))
        return _line(unit, word.reason, Tone.CAUTION, (group,))
    record = _record(desk, unit)
    reasons = [worded(reason) for reason in record.qa_hold_reasons] if record else [UNREAD]
    terms = tuple(TermView(reason, "") for reason in reasons)
    return _line(unit, "; ".join(reasons), Tone.CAUTION, (TermGroup("On hold since filed", terms),))


def _record(desk: Desk, unit: UnitRow) -> UnitRecord | None:
    """Return its record; one that cannot be read hides no other line."""
    try:
        return record_of(desk.store, unit.unit_id)
    except EventError:
        return None


def _filed(unit: UnitRow, desk: Desk) -> str:
    who = desk.names.get(unit.filed_by, unit.filed_by)
    return f"filed {local_time(unit.filed_utc)} by {who}" if unit.filed_utc else ""


def _tone(unit: UnitRow) -> Tone:
    return Tone.QUIET if unit.decision == "pass" else Tone.CAUTION


def _when(utc: str) -> str:
    return local_time(datetime.fromisoformat(utc))
