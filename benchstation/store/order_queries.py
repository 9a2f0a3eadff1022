"""Orders, what waits in them and what lies aside. Callable from any thread, one snapshot each."""

from collections.abc import Sequence
from dataclasses import dataclass
from datetime import datetime

from sqlalchemy import Connection, RowMapping, select, union

from benchstation.domain.materials import text_key
from benchstation.domain.orders import DONE, Line, LineState, Order
from benchstation.domain.shop_chain import SHOP
from benchstation.domain.statements import Gas
from benchstation.store.chain_store import ChainStore
from benchstation.store.column_limits import serial_key
from benchstation.store.order_projections import lines_in
from benchstation.store.schema import order_line, shop_order, unit, unit_aside


@dataclass(frozen=True, slots=True)
class BenchUnit:
    """A unit on the bench or set aside; ``reason`` and ``gas`` only for the latter."""

    bench: str
    unit_id: str
    serial: str
    family: str
    order: str
    position: str
    state: str
    reason: str
    gas: Gas | None
    since_utc: datetime | None
    due_utc: str = ""
    """From when on a unit that waits is read again; empty: it does not wait for that."""


def find_orders(store: ChainStore, done_since: datetime) -> list[Order]:
    """Return every order with a unit that is not done, or that was done since then.

    The ones that are due first come first, those without a day last.
    """
    going = [state.value for state in LineState if state not in DONE]
    mine = select(order_line.c.order).where(order_line.c.bench == store.bench)
    late = order_line.c.changed_utc >= done_since
    # Two questions, each of its own index: of many orders few are open.
    names = union(mine.where(order_line.c.state.in_(going)), mine.where(late))
    with store.reading() as connection:
        query = select(shop_order).where(
            shop_order.c.bench == store.bench, shop_order.c.order.in_(names)
        )
        found = [_order(connection, row) for row in connection.execute(query).mappings()]
    return sorted(found, key=lambda order: (order.due or "9999", order.order))


def get_order(store: ChainStore, name: str) -> Order | None:
    """Return an order by its name, whatever its case."""
    with store.reading() as connection:
        query = select(shop_order).where(
            shop_order.c.bench == store.bench, shop_order.c.order_key == text_key(name)
        )
        row = connection.execute(query).mappings().first()
        return _order(connection, row) if row is not None else None


def get_line(store: ChainStore, line: str) -> Line | None:
    """Return a line by its id."""
    with store.reading() as connection:
        return next(iter(lines_in(connection, store.bench, order_line.c.line == line)), None)


def lines_with_serial(store: ChainStore, serial: str) -> Sequence[Line]:
    """Return every line that names a serial, whatever its case."""
    with store.reading() as connection:
        this = order_line.c.serial_key == serial_key(serial)
        return lines_in(connection, store.bench, this)


def units_at_hand(store: ChainStore) -> list[BenchUnit]:
    """Return the unit on the bench and those set aside, the one on the bench first.

    For a shop those of all benches.
    """
    same = (unit_aside.c.bench == unit.c.bench) & (unit_aside.c.unit_id == unit.c.unit_id)
    query = (
        select(
            unit.c.bench,
            unit.c.unit_id,
            unit.c.serial,
            unit.c.family,
            unit.c.order,
            unit.c.position,
            unit.c.state,
            unit_aside.c.reason,
            unit_aside.c.gas,
            unit_aside.c.since_utc,
            unit_aside.c.due_utc,
        )
        .join(unit_aside, same, isouter=True)
        .where(unit.c.state.in_(("open", "aside")))
        .order_by(unit.c.state.desc(), unit.c.bench, unit.c.opened_seq)
    )
    if store.bench != SHOP:
        query = query.where(unit.c.bench == store.bench)
    with store.reading() as connection:
        rows = connection.execute(query).all()
    return [
        BenchUnit(
            *row[:7],
            row.reason or "",
            Gas(row.gas) if row.gas else None,
            row.since_utc,
            row.due_utc or "",
        )
        for row in rows
    ]


def last_lot_of(store: ChainStore, lots: Sequence[str]) -> str:
    """Return the one of these oil lots that a unit was opened with last; empty: none was."""
    query = select(unit.c.oil_lot).where(unit.c.bench == store.bench, unit.c.oil_lot.in_(lots))
    with store.reading() as connection:
        return connection.execute(query.order_by(unit.c.opened_seq.desc()).limit(1)).scalar() or ""


def _order(connection: Connection, row: RowMapping) -> Order:
    name = row["order"]
    lines = tuple(lines_in(connection, row["bench"], order_line.c.order == name))
    return Order(name, row["due"], row["note"], row["matched"], lines)
