"""Which later rebuild of the same serial took a filed unit's place.

A serial counts as it is amended. A rebuild that was begun but not filed takes no place: it may be
a serial scanned by mistake.
"""

from collections.abc import Sequence
from datetime import datetime
from typing import Any

from sqlalchemy import ColumnElement, Connection, select, union, update

from benchstation.domain.amending import SERIAL
from benchstation.domain.disposition import Standing
from benchstation.domain.events import UnitAmended
from benchstation.domain.shop_chain import SHOP, Subject
from benchstation.store.chain_order import in_filed_order, in_opened_order
from benchstation.store.column_limits import serial_key
from benchstation.store.schema import unit, unit_former
from benchstation.store.shop_facts import facts_about


def mark(connection: Connection, key: str, bench: str) -> Sequence[Any]:
    """Mark all filed units of a serial but the last; return those marked that are so no longer.

    Of the shop, or of one bench: what another does changes nothing in its rows.
    """
    same = select(unit).where(unit.c.serial_key == key)
    # Of a serial there are few; by bench and state all that a bench has filed would be read.
    rows = in_opened_order(
        row
        for row in connection.execute(same).mappings()
        if row["state"] == "filed" and bench in (SHOP, row["bench"])
    )
    for row in rows[:-1]:
        if row["standing"] != Standing.SUPERSEDED:
            this = unit.c.bench == row["bench"], unit.c.unit_id == row["unit_id"]
            values = {"standing": Standing.SUPERSEDED.value}
            connection.execute(update(unit).where(*this).values(values))
    return [row for row in rows[-1:] if row["standing"] == Standing.SUPERSEDED]


def _at(bench: str) -> list[ColumnElement[bool]]:
    return [] if bench == SHOP else [unit.c.bench == bench]


def later_filing(
    connection: Connection, here: str, unit_id: str, before: int, until: datetime | None
) -> Any:
    """Return the row of the rebuild that took a filed unit's place first; ``None``: none did.

    As it was known when the chain ``here`` had its entry ``before`` next. For the shop the filings
    of all benches count until a time; ``None``: all.
    """
    own = connection.execute(select(unit).where(unit.c.unit_id == unit_id)).mappings().first()
    if own is None:
        return None
    key = _key_at(connection, here, own, before)
    former = select(unit_former.c.bench, unit_former.c.unit_id).where(unit_former.c.name_key == key)
    named = select(unit.c.bench, unit.c.unit_id).where(unit.c.serial_key == key)
    both = union(named, former).subquery()
    query = (
        select(unit)
        .join(both, (both.c.bench == unit.c.bench) & (both.c.unit_id == unit.c.unit_id))
        .where(unit.c.state == "filed", unit.c.unit_id != unit_id, *_at(here))
    )
    rows = in_opened_order([own, *connection.execute(query).mappings()])
    later = in_filed_order(rows[rows.index(own) + 1 :])
    for row in later:
        of_shop = here == SHOP and (until is None or row["filed_utc"] <= until)
        known = row["filed_seq"] < before if row["bench"] == here else of_shop
        if known and _key_at(connection, here, row, before) == key:
            return row
    return None


def _key_at(connection: Connection, here: str, row: Any, before: int) -> str:
    """Return the key of a unit's serial as it was amended by then."""
    serial = str(row["serial_as_filed"])
    facts = facts_about(connection, here, f"{Subject.UNIT}:{row['unit_id']}", before)
    for fact in facts:
        if isinstance(fact.event, UnitAmended) and fact.event.field == SERIAL:
            serial = str(fact.event.new)
    return serial_key(serial)
