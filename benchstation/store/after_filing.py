"""What the searched tables say of a filed unit after its filing: standing, names, where it went.

All of it follows from what is in force about the unit, and is written again from that.
"""

from collections.abc import Sequence
from datetime import datetime
from typing import Any

from sqlalchemy import Connection, bindparam, delete, insert, select, update

from benchstation.domain.amending import BETWEEN, ORDER, POSITION, SERIAL, shipments_in
from benchstation.domain.disposition import (
    Course,
    Standing,
    course_of,
    notice_text,
    standing_in,
    verdict_in,
)
from benchstation.domain.events import (
    Event,
    UnitAmended,
    UnitReturned,
    UnitShipped,
)
from benchstation.domain.materials import text_key
from benchstation.domain.shop_chain import SHOP, ShopFact, Subject
from benchstation.store import search_projections, superseding, unit_marks
from benchstation.store.column_limits import fitting, serial_key
from benchstation.store.schema import (
    shop_fact,
    unit,
    unit_customer,
    unit_former,
    unit_material,
)
from benchstation.store.shop_fact_rows import folded

_ANY = select(shop_fact.c.seq).where(shop_fact.c.subject == bindparam("subject")).limit(1)
_UNITS = select(unit).where(unit.c.unit_id == bindparam("this"))


def facts_about_unit(connection: Connection, bench: str, unit_id: str) -> Sequence[ShopFact]:
    """Return what is in force about a filed unit, of the shop and of the bench, in its order."""
    which = shop_fact.c.subject == f"{Subject.UNIT}:{unit_id}"
    shop, own = folded(connection, which, bench)
    return shop.in_force(own)


def renew(connection: Connection, bench: str, unit_id: str, here: str) -> None:
    """Write what is listed of a unit as it follows from what ``bench`` knows of it.

    ``here``: whose file it is. Only the shop's knows of rebuilds at other benches.
    """
    rows = connection.execute(_UNITS, {"this": unit_id}).mappings().all()
    keys = [(row["serial_key"], row["bench"]) for row in rows]
    # Of a unit that is being filed nothing was said as a rule, and somebody waits.
    subject = f"{Subject.UNIT}:{unit_id}"
    if rows and connection.execute(_ANY, {"subject": subject}).first() is not None:
        facts = facts_about_unit(connection, bench, unit_id)
        for row in rows:
            _write(connection, row, facts)
        now = connection.execute(_UNITS, {"this": unit_id})
        keys += [(row.serial_key, row.bench) for row in now]
    for key, of in dict.fromkeys(keys):
        for row in superseding.mark(connection, key, SHOP if here == SHOP else of):
            # A serial that was amended left it the last of its own.
            _write(connection, row, facts_about_unit(connection, bench, row["unit_id"]))


def stands_by_itself(connection: Connection, bench: str, row: Any) -> Standing:
    """Return where a filed unit stands by what was said of it, whatever was rebuilt since."""
    facts = facts_about_unit(connection, bench, row["unit_id"])
    return standing_in(course_of(fact.event for fact in facts), qa_hold=row["qa_hold"])


def _write(connection: Connection, row: Any, facts: Sequence[ShopFact]) -> None:
    events = [fact.event for fact in facts]
    course = course_of(events)
    values: dict[str, Any] = {
        "disposition": course.word,
        "standing": standing_in(course, qa_hold=row["qa_hold"]) if row["filed_seq"] else "",
        "amended": course.amended,
        "notice": notice_text(course.notices),
        **_verdict(connection, row, course),
        "shipped_utc": _last(facts, UnitShipped),
        "returned_utc": _last(facts, UnitReturned),
    }
    customers = customers_of(events)
    values["customer"] = customers[-1] if customers else ""
    this = unit.c.bench == row["bench"], unit.c.unit_id == row["unit_id"]
    names = _names(connection, row, events)
    if names is not None:
        values |= names[0]
        _keep(connection, row, unit_former, "name_key", search_projections.FORMER, names[1])
    connection.execute(update(unit).where(*this).values(fitting(unit, values)))
    keys = [text_key(customer) for customer in customers]
    _keep(connection, row, unit_customer, "customer_key", search_projections.CUSTOMER, keys)
    _keep_lots(connection, row, events)


def _verdict(connection: Connection, row: Any, course: Course) -> dict[str, str]:
    """Return the verdict since what was amended; nothing where nothing was, now or before."""
    if not row["filed_seq"] or not (course.amended or row["amended"]):
        return {}
    decision = verdict_in(course, row["decision_as_filed"])
    unit_marks.put(connection, row["bench"], row["unit_id"], unit_marks.VERDICT, [decision])
    return {"decision": decision}


def customers_of(events: Sequence[Event]) -> list[str]:
    """Return whom a unit was shipped to, in order, each shipment as it was amended since."""
    return [shipped.customer for shipped in shipments_in(events)]


def _last(facts: Sequence[ShopFact], kind: type[Event]) -> datetime | None:
    return next((fact.utc for fact in reversed(facts) if isinstance(fact.event, kind)), None)


def _names(
    connection: Connection, row: Any, events: Sequence[Event]
) -> tuple[dict[str, Any], list[str]] | None:
    """Return the names as amended, and the keys of those before; ``None``: they never changed."""
    amended = [e for e in events if isinstance(e, UnitAmended) and e.field in _FIELDS]
    this = unit_former.c.bench == row["bench"], unit_former.c.unit_id == row["unit_id"]
    before = connection.execute(select(unit_former.c.name_key).where(*this).limit(1)).first()
    if not amended and before is None:
        return None
    now = {name: str(row[f"{name}_as_filed"]) for name in _FIELDS}
    former: list[str] = []
    for event in amended:
        if event.field != POSITION:
            former.append(text_key(now[event.field]))
        now[event.field] = str(event.new)
    keys = {"serial_key": serial_key(now[SERIAL]), "order_key": text_key(now[ORDER])}
    for sort in (search_projections.SERIAL, search_projections.ORDER):
        search_projections.keep_parts(connection, row["bench"], sort, keys[f"{sort}_key"])
    gone = [key for key in former if key and key not in keys.values()]
    return {**now, **keys}, gone


_FIELDS = (SERIAL, ORDER, POSITION)
_AMENDED = " amended"
"""Behind the name of an input: its lot as it was amended. The lot of before leads to it too."""


def _keep_lots(connection: Connection, row: Any, events: Sequence[Event]) -> None:
    """List the lots that an amendment put in place of others."""
    of_unit = unit_material.c.bench == row["bench"], unit_material.c.unit_id == row["unit_id"]
    connection.execute(
        delete(unit_material).where(*of_unit, unit_material.c.input.endswith(_AMENDED))
    )
    amended = [e for e in events if isinstance(e, UnitAmended) and e.decision]
    lots = {e.field: e.new for e in amended if isinstance(e.new, str) and BETWEEN in e.field}
    for key, lot in lots.items():
        step_id, name, *_ = key.split(BETWEEN)
        at = unit_material.c.step_id == step_id, unit_material.c.input == name
        kept = connection.execute(select(unit_material).where(*of_unit, *at)).first()
        if kept is None:
            continue
        values = {
            "bench": row["bench"],
            "unit_id": row["unit_id"],
            "step_id": step_id,
            "input": f"{name}{_AMENDED}",
            "sort": kept.sort,
            "number": kept.number,
            "lot": lot,
            "lot_key": search_projections.lot_key(lot),
            "sort_utc": row["sort_utc"],
        }
        connection.execute(insert(unit_material), fitting(unit_material, values))
        search_projections.keep_parts(
            connection, row["bench"], search_projections.PART, values["lot_key"]
        )


def _keep(
    connection: Connection, row: Any, table: Any, column: str, sort: str, keys: Sequence[str]
) -> None:
    """Write the names that lead to a unit in place of those that did."""
    own = table.c.bench == row["bench"], table.c.unit_id == row["unit_id"]
    there = set(connection.execute(select(table.c[column]).where(*own)).scalars())
    if there == set(keys):
        return
    connection.execute(delete(table).where(*own))
    named = {"bench": row["bench"], "unit_id": row["unit_id"], "sort_utc": row["sort_utc"]}
    for key in dict.fromkeys(keys):
        connection.execute(insert(table), fitting(table, {**named, column: key}))
        search_projections.keep_parts(connection, row["bench"], sort, key)
