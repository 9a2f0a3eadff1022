"""The tables of orders and of units that lie aside, kept from the journal as it grows.

What a fact does to a line is the pure rule of ``rebuild.orders``; here it is only read and written.
"""

from typing import Any

from sqlalchemy import ColumnElement, Connection, bindparam, delete, func, insert, select, update

from benchstation.domain.events import (
    OrderChanged,
    OrderPlaced,
    OrderUnitWithdrawn,
    RebuildAbandoned,
    RebuildOpened,
    UnitAmended,
    UnitDisposed,
    UnitFetched,
    UnitFiled,
    UnitReturned,
    UnitSetAside,
    UnitShipped,
    UnitWaits,
)
from benchstation.domain.materials import text_key
from benchstation.domain.orders import Line, LineState, line_after, lines_of
from benchstation.domain.statements import Gas
from benchstation.store.column_limits import fitting, serial_key, unfit
from benchstation.store.journal import Entry
from benchstation.store.schema import order_line, shop_order, unit_aside

_NAMES = (
    "order", "line", "serial", "specification_id", "position", "state", "unit_id", "reason",
)  # fmt: skip
COLUMNS = [order_line.c[name] for name in _NAMES]
_OWN = order_line.c.bench == bindparam("own")
_BY_LINE = select(*COLUMNS).where(_OWN, order_line.c.line == bindparam("this"))
_BY_UNIT = select(*COLUMNS).where(_OWN, order_line.c.unit_id == bindparam("this"))
_COUNT = select(func.count()).where(_OWN, order_line.c.order == bindparam("this"))
_CHANGE = update(order_line).where(_OWN, order_line.c.line == bindparam("this"))
_CHANGE_ORDER = update(shop_order).where(
    shop_order.c.bench == bindparam("own"), shop_order.c.order == bindparam("this")
)
_FORGET = delete(unit_aside).where(
    unit_aside.c.bench == bindparam("own"), unit_aside.c.unit_id == bindparam("this")
)


def line_of(row: Any) -> Line:
    """Return the line of a row of :data:`COLUMNS`."""
    order, line, serial, family, position, state, unit, reason = row
    return Line(order, line, serial, family, position, LineState(state), unit, reason)


def project(connection: Connection, entry: Entry) -> None:
    """Bring the tables up to date with one more entry."""
    event = entry.event
    match event:
        case OrderPlaced():
            row = {
                "bench": entry.bench,
                "placed_by": entry.person,
                "placed_utc": entry.utc,
                **_order(event),
            }
            connection.execute(insert(shop_order), fitting(shop_order, row))
            _bring(connection, entry, event)
        case OrderChanged():
            values = fitting(shop_order, _order(event))
            connection.execute(_CHANGE_ORDER, {"own": entry.bench, "this": event.order, **values})
            _bring(connection, entry, event)
        case OrderUnitWithdrawn():
            _move(connection, entry, event.line)
        case RebuildOpened() if event.line:
            _move(connection, entry, event.line)
        case (
            UnitSetAside()
            | UnitWaits()
            | UnitFetched()
            | RebuildAbandoned()
            | UnitFiled()
            | UnitDisposed()
            | UnitAmended()
            | UnitShipped()
            | UnitReturned()
        ):
            _lie(connection, entry)
            _move(connection, entry)


def _order(event: OrderPlaced | OrderChanged) -> dict[str, Any]:
    return {
        "order": event.order,
        "order_key": text_key(event.order),
        "due": event.due,
        "note": event.note,
        "matched": event.matched,
    }


def _bring(connection: Connection, entry: Entry, event: OrderPlaced | OrderChanged) -> None:
    try:
        lines = lines_of(event)
    except KeyError as error:
        raise unfit("a unit of the order has no name of its own") from error
    there = connection.execute(_COUNT, {"own": entry.bench, "this": event.order}).scalar_one()
    for place, line in enumerate(lines, there):
        row = {**line_values(line), "line": line.line, "order": line.order, "place": place}
        row |= {"bench": entry.bench, "changed_utc": entry.utc}
        connection.execute(insert(order_line), fitting(order_line, row))


def line_values(line: Line) -> dict[str, Any]:
    """Return what the table keeps of a line beside its order and id."""
    return {
        "serial": line.serial,
        "serial_key": serial_key(line.serial),
        "specification_id": line.specification_id,
        "position": line.position,
        "state": line.state.value,
        "unit_id": line.unit_id,
        "reason": line.reason,
    }


def _move(connection: Connection, entry: Entry, line_id: str = "") -> None:
    """Change the line that an entry is about, if there is one."""
    this = {"own": entry.bench, "this": line_id or getattr(entry.event, "unit_id", "")}
    row = connection.execute(_BY_LINE if line_id else _BY_UNIT, this).first()
    if row is None:
        return
    line = line_after(line_of(row), entry.event)
    values = fitting(order_line, {**line_values(line), "changed_utc": entry.utc})
    connection.execute(_CHANGE, {"own": entry.bench, "this": line.line, **values})


def _lie(connection: Connection, entry: Entry) -> None:
    event = entry.event
    if isinstance(event, UnitSetAside):
        values = {"reason": event.reason, "gas": event.gas.value, "due_utc": ""}
        _put(connection, entry, values)
    elif isinstance(event, UnitWaits):
        _put(connection, entry, {"reason": "", "gas": Gas.CHARGED.value, "due_utc": event.due_utc})
    elif isinstance(event, UnitFetched):
        connection.execute(_FORGET, {"own": entry.bench, "this": event.unit_id})


def _put(connection: Connection, entry: Entry, values: dict[str, str]) -> None:
    unit_id = getattr(entry.event, "unit_id", "")
    row = {"bench": entry.bench, "unit_id": unit_id, **values, "since_utc": entry.utc}
    connection.execute(insert(unit_aside), fitting(unit_aside, row))


def lines_in(connection: Connection, bench: str, where: ColumnElement[bool]) -> list[Line]:
    """Return the lines of a bench that fit, in the order they came."""
    query = select(*COLUMNS).where(_OWN, where).order_by(order_line.c.order, order_line.c.place)
    return [line_of(row) for row in connection.execute(query, {"own": bench})]
