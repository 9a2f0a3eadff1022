"""What a unit is found by beside its names: who signed, deviations, verdict.

One row a mark, and one index that leads from a mark to its units, the newest first.
"""

from collections.abc import Iterable

from sqlalchemy import Connection, String, bindparam, delete, exists, insert, select

from benchstation.domain.events import DeviationSigned, StepSigned, UnitEvent, UnitFiled
from benchstation.store.column_limits import fitting
from benchstation.store.journal import Entry
from benchstation.store.schema import unit, unit_mark
from benchstation.store.search_projections import SORT_UTC

SIGNED, ACCEPTED, DEVIATION, VERDICT = "signed", "accepted", "deviation", "verdict"
"""The sorts of marks; ``ACCEPTED``: by whom a deviation was."""
YES = "yes"
_OWN = unit_mark.c.bench == bindparam("own"), unit_mark.c.unit_id == bindparam("this")
_SORT = unit_mark.c.sort == bindparam("which")
# Only what is not there yet, in one statement: a unit's steps are signed by the same few.
_ADD = insert(unit_mark).from_select(
    ["bench", "unit_id", "sort", "key", "sort_utc"],
    select(
        unit.c.bench,
        unit.c.unit_id,
        bindparam("which", type_=String),
        bindparam("mark", type_=String),
        unit.c.sort_utc,
    ).where(
        unit.c.bench == bindparam("own"),
        unit.c.unit_id == bindparam("this"),
        ~exists().where(*_OWN, _SORT, unit_mark.c.key == bindparam("mark", type_=String)),
    ),
)
_FORGET = delete(unit_mark).where(*_OWN, _SORT)
_KEEP = insert(unit_mark).values(sort_utc=SORT_UTC)


def add(connection: Connection, bench: str, unit_id: str, sort: str, mark: str) -> None:
    """Add a mark to a unit that may have others of its sort."""
    fitting(unit_mark, {"key": mark})
    connection.execute(_ADD, {"own": bench, "this": unit_id, "which": sort, "mark": mark})


def put(connection: Connection, bench: str, unit_id: str, sort: str, marks: Iterable[str]) -> None:
    """Replace the marks of a sort that a unit has by these."""
    this = {"own": bench, "this": unit_id}
    connection.execute(_FORGET, {**this, "which": sort})
    for mark in marks:
        row = fitting(unit_mark, {"bench": bench, "unit_id": unit_id, "sort": sort, "key": mark})
        connection.execute(_KEEP, {**this, **row})


def project(connection: Connection, entry: Entry, event: UnitEvent) -> None:
    """Mark a unit by what was done to it."""
    match event:
        case StepSigned():
            add(connection, entry.bench, event.unit_id, SIGNED, entry.person)
        case DeviationSigned():
            add(connection, entry.bench, event.unit_id, ACCEPTED, entry.person)
            add(connection, entry.bench, event.unit_id, DEVIATION, YES)
        case UnitFiled():
            put(connection, entry.bench, event.unit_id, VERDICT, [event.decision])
