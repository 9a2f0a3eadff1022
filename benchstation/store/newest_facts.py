"""The last entry of a kind about each thing: what a start reads must not grow with the units."""

from sqlalchemy import Connection, bindparam, delete, insert, update

from benchstation.domain.events import (
    AirRead,
    AlarmChanged,
    Event,
    RepeatabilityMeasured,
    ScaleResponded,
    SearchSaved,
    TareProven,
)
from benchstation.store.column_limits import fitting
from benchstation.store.journal import Entry
from benchstation.store.schema import newest_fact

_ABOUT = (
    newest_fact.c.bench == bindparam("own"),
    newest_fact.c.kind == bindparam("this"),
    newest_fact.c.name == bindparam("about"),
    newest_fact.c.part == bindparam("of"),
)
_REPLACE = update(newest_fact).where(*_ABOUT)
_FORGET = delete(newest_fact).where(*_ABOUT)
_KEEP = insert(newest_fact)


def about(event: Event) -> tuple[str, str] | None:
    """Return what an event is the newest of; ``None``: of nothing that is asked for so."""
    match event:
        case AirRead():
            return event.quantity, ""
        case RepeatabilityMeasured() | ScaleResponded() | TareProven():
            return event.instrument_id, ""
        case SearchSaved():
            return event.person_id, event.name
        case AlarmChanged():
            return event.gauge_id, event.alarm
    return None


def project(connection: Connection, entry: Entry) -> None:
    """Keep an entry as the newest of what it is about."""
    found = about(entry.event)
    if found is None:
        return
    this = dict(zip(("own", "this", "about", "of"), (entry.bench, entry.kind, *found), strict=True))
    if not connection.execute(_REPLACE, {**this, "seq": entry.seq}).rowcount:
        names = dict(zip(newest_fact.c.keys(), (*this.values(), entry.seq), strict=True))
        connection.execute(_KEEP, fitting(newest_fact, names))
    if isinstance(entry.event, AlarmChanged) and entry.event.gauge_id:
        # Earlier forms named no gauge: there was but one.
        connection.execute(_FORGET, {**this, "about": ""})
