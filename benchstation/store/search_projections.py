"""What a search goes by beside the units themselves: parts of names, evidence and checks.

``sort_utc`` stands in every row that leads to a unit, so that a lot or an instrument of a hundred
thousand units gives its newest fifty from one index.
"""

import re
from datetime import datetime
from typing import Any

from sqlalchemy import (
    Connection,
    Integer,
    String,
    Table,
    bindparam,
    delete,
    exists,
    func,
    insert,
    literal,
    select,
    update,
)

from benchstation.domain.events import CheckWithdrawn, HoldTested, InstrumentChecked, UnitEvent
from benchstation.domain.materials import text_key
from benchstation.store.column_limits import fitting
from benchstation.store.journal import Entry
from benchstation.store.schema import (
    KEY_LENGTH,
    PART_LENGTH,
    evidence,
    instrument,
    instrument_check,
    text_part,
    unit,
    unit_customer,
    unit_former,
    unit_instrument,
    unit_lot,
    unit_mark,
    unit_material,
    unit_word,
)

SERIAL, ORDER, FAMILY, LOT, PART, WORD = "serial", "order", "family", "lot", "part", "word"
FORMER, CUSTOMER = "former", "customer"
"""The sorts of names that a search looks into."""
GAUGE = "gauge"
LONGEST_LOT = 64
"""What was written at more length under a label is a text, and no lot."""

_OWN_UNIT = unit.c.bench == bindparam("own"), unit.c.unit_id == bindparam("this")
SORT_UTC = select(unit.c.sort_utc).where(*_OWN_UNIT).scalar_subquery()
"""The time that a unit is sorted by, of bench ``own`` and id ``this``."""
_LEADING: tuple[Table, ...] = (
    unit_instrument,
    unit_lot,
    unit_material,
    unit_word,
    unit_customer,
    unit_former,
    unit_mark,
)
_MOVE = [
    update(table).where(table.c.bench == bindparam("own"), table.c.unit_id == bindparam("this"))
    for table in _LEADING
]
_KNOWN = select(text_part.c.key).where(
    text_part.c.sort == bindparam("sort"),
    text_part.c.part == bindparam("part"),
    text_part.c.key == bindparam("key"),
    text_part.c.bench == bindparam("bench"),
)
_KEEP_PARTS = insert(text_part)
_KEEP_WORDS = insert(unit_word).values(sort_utc=SORT_UTC)
_FORGET_WORDS = delete(unit_word).where(
    unit_word.c.bench == bindparam("own"),
    unit_word.c.unit_id == bindparam("this"),
    unit_word.c.step_id == bindparam("step"),
)
_WORD = re.compile(r"\S+")
_LAST_CHECK = (
    select(func.coalesce(func.max(instrument_check.c.seq), 0))
    .where(
        instrument_check.c.bench == bindparam("own"),
        instrument_check.c.instrument_id == bindparam("instrument"),
    )
    .scalar_subquery()
)
# Only the first since the last check, in one statement: a unit's events name the same few.
_KEEP_EVIDENCE = insert(evidence).from_select(
    ["bench", "instrument_id", "seq", "unit_id"],
    select(
        bindparam("own", type_=String),
        bindparam("instrument", type_=String),
        bindparam("seq", type_=Integer),
        bindparam("this", type_=String),
    ).where(
        ~exists().where(
            evidence.c.bench == bindparam("own", type_=String),
            evidence.c.unit_id == bindparam("this", type_=String),
            evidence.c.instrument_id == bindparam("instrument", type_=String),
            evidence.c.seq > _LAST_CHECK,
        )
    ),
)
_GAUGES = (
    select(unit_instrument.c.instrument_id)
    .join(
        instrument,
        (instrument.c.bench == unit_instrument.c.bench)
        & (instrument.c.instrument_id == unit_instrument.c.instrument_id),
    )
    .where(
        unit_instrument.c.bench == bindparam("own"),
        unit_instrument.c.unit_id == bindparam("this"),
        instrument.c.role == literal(GAUGE),
    )
)
_WITHDRAW = update(instrument_check).where(
    instrument_check.c.bench == bindparam("own"), instrument_check.c.seq == bindparam("this")
)


def parts_of(key: str) -> list[str]:
    """Return what is left of a name from each of its letters on but the first, each once."""
    found = (key[at : at + PART_LENGTH] for at in range(1, len(key)))
    return list(dict.fromkeys(found))


def keep_parts(connection: Connection, bench: str, sort: str, key: str) -> None:
    """Keep the parts of a name, once for each bench however many units have it."""
    parts = parts_of(key)
    if not parts:
        return
    rows = [{"sort": sort, "part": part, "key": key, "bench": bench} for part in parts]
    if connection.execute(_KNOWN, rows[0]).first() is None:
        connection.execute(_KEEP_PARTS, rows)


def lot_key(lot: str) -> str:
    """Return the form in which lots of materials are compared: bounded, so that it has an index."""
    return text_key(lot)[:KEY_LENGTH]


def words_of(text: str) -> list[str]:
    """Return a text from the beginning of each of its words on, each once; a space ends them."""
    key = text_key(text)
    starts = (word.start() for word in _WORD.finditer(key))
    return list(dict.fromkeys(f"{key[at : at + PART_LENGTH]} " for at in starts))


def keep_words(connection: Connection, row: dict[str, Any], text: str) -> None:
    """Keep the words of a text that was written at length at an input."""
    own = {name: row[name] for name in ("bench", "unit_id", "step_id", "input")}
    this = {"own": row["bench"], "this": row["unit_id"]}
    rows = [{**this, **own, "part": part} for part in words_of(text)]
    if rows:
        connection.execute(_KEEP_WORDS, rows)


def forget_words(connection: Connection, bench: str, unit_id: str, step_id: str) -> None:
    """Delete the words of a step that is signed again."""
    connection.execute(_FORGET_WORDS, {"own": bench, "this": unit_id, "step": step_id})


def move(connection: Connection, entry: Entry, unit_id: str, sort_utc: datetime) -> None:
    """Sort all that leads to a unit by another time."""
    this = {"own": entry.bench, "this": unit_id, "sort_utc": sort_utc}
    for statement in _MOVE:
        connection.execute(statement, this)


def project(connection: Connection, entry: Entry) -> None:
    """Keep the checks that count."""
    match entry.event:
        case InstrumentChecked() as check:
            row: dict[str, Any] = {
                "bench": entry.bench,
                "instrument_id": check.instrument_id,
                "seq": entry.seq,
                "passed": check.passed,
                "counts": True,
            }
            connection.execute(insert(instrument_check), fitting(instrument_check, row))
        case CheckWithdrawn() as gone:
            this = {"own": entry.bench, "this": gone.entry, "counts": False}
            connection.execute(_WITHDRAW, this)


def keep_evidence(connection: Connection, entry: Entry, event: UnitEvent, names: set[str]) -> None:
    """Keep that a unit has evidence of instruments, once between two checks of each.

    A hold test names no instrument: it counts for each gauge that its unit rests on by then.
    """
    this = {"own": entry.bench, "this": event.unit_id}
    if isinstance(event, HoldTested):
        names = names | set(connection.execute(_GAUGES, this).scalars())
    if names:
        rows = [{**this, "instrument": name, "seq": entry.seq} for name in sorted(names)]
        connection.execute(_KEEP_EVIDENCE, rows)
