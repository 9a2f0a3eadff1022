"""The searched tables of what belongs to the whole shop, as they follow from both chains.

A bench's rows are renewed where it takes entries of the shop's chain, those of the shop itself with
each of its entries: of the things that are named there, and of no others.
"""

from collections.abc import Iterable, Sequence
from datetime import datetime
from typing import Any

from sqlalchemy import Connection, bindparam, delete, insert, select, update

from benchstation.domain.disposition import Standing
from benchstation.domain.events import (
    Adopted,
    LineMoved,
    OrderPlaced,
    RebuildOpened,
    ShopTaken,
    SpecificationApproved,
)
from benchstation.domain.materials import text_key
from benchstation.domain.orders import (
    Line,
    LineState,
    Order,
    concerns,
    fold_orders,
    line_after,
)
from benchstation.domain.shop_chain import SHOP, ShopFact, Subject, event_in
from benchstation.store import after_filing
from benchstation.store.column_limits import fitting
from benchstation.store.journal import Entry
from benchstation.store.order_projections import COLUMNS, line_of, line_values
from benchstation.store.schema import (
    order_line,
    shop_fact,
    shop_order,
    specification,
    unit,
    unit_aside,
)
from benchstation.store.shop_fact_rows import NO_END, folded, subject_in
from benchstation.store.taken import taken

_TOUCHED = (
    select(shop_fact.c.subject)
    .distinct()
    .where(
        shop_fact.c.bench == SHOP,
        shop_fact.c.seq > bindparam("after"),
        shop_fact.c.seq <= bindparam("to"),
    )
)
_ORDER_OF = select(order_line.c.order).where(order_line.c.bench == bindparam("own"))
_MOVES = (RebuildOpened.kind, LineMoved.kind)
_STATES = {
    Standing.NOT_RELEASED: LineState.FILED,
    Standing.AWAITS_SECOND: LineState.FILED,
    Standing.RELEASED: LineState.RELEASED,
    Standing.RELEASED_ALONE: LineState.RELEASED,
    Standing.REJECTED: LineState.REJECTED,
    Standing.REJECTED_ALONE: LineState.REJECTED,
    Standing.SHIPPED: LineState.SHIPPED,
    Standing.SHIPPED_ALONE: LineState.SHIPPED,
    Standing.SHIPPED_REJECTED: LineState.REJECTED,
    Standing.RETURNED: LineState.RETURNED,
}
"""Where a line stands by its filed unit; what is not named here is held."""


def project(connection: Connection, entry: Entry, here: str) -> None:
    """Bring the tables up to date with an entry of the shop's chain, or the taking of some.

    ``here``: see :func:`projections.project`.
    """
    if entry.bench == SHOP and _moves_a_line(connection, entry):
        return
    if entry.bench == SHOP:
        subject = subject_in(entry.event)
        subjects = [subject] if subject is not None else []
    elif isinstance(entry.event, ShopTaken):
        between = {"after": taken(connection, entry.bench, entry.seq)[0], "to": entry.event.seq}
        subjects = list(connection.execute(_TOUCHED, between).scalars())
    else:
        return
    _renew(connection, entry, subjects, here)


def renewed_from(entry: Entry) -> bool:
    """Return True for an entry that is read again when tables are renewed."""
    return isinstance(entry.event, ShopTaken) or subject_in(entry.event) is not None


def _moves_a_line(connection: Connection, entry: Entry) -> bool:
    """Move one line of the shop by what comes last; False: its whole order must be looked at."""
    if not isinstance(entry.event, Adopted) or entry.event.what not in _MOVES:
        return False
    event = event_in(entry.event)
    # A unit may stand on another line than the one that it was started for.
    by_unit = isinstance(event, LineMoved)
    column = order_line.c.unit_id if by_unit else order_line.c.line
    name = getattr(event, "unit_id" if by_unit else "line", "")
    this = order_line.c.bench == SHOP, column == name
    row = connection.execute(select(*COLUMNS).where(*this)).first()
    line = line_of(row) if row is not None else None
    if line is None or line.state is LineState.WITHDRAWN:
        # A withdrawal that waits to be settled stays the last word on it.
        return False
    moved = line_after(line, event) if concerns(line, event) else line
    if moved != line:
        values: dict[str, Any] = line_values(moved)
        if moved.state is not line.state:
            values["changed_utc"] = entry.utc
        connection.execute(update(order_line).where(*this).values(fitting(order_line, values)))
    return True


def _renew(connection: Connection, entry: Entry, subjects: Iterable[str], here: str) -> None:
    bench, utc = entry.bench, entry.utc
    # In the shop's database more of its chain stands than this bench knew.
    known = entry.event.seq if isinstance(entry.event, ShopTaken) else NO_END
    orders: set[str] = set()
    for subject in subjects:
        sort, _, name = subject.partition(":")
        match sort:
            case Subject.SPECIFICATION:
                _renew_specification(connection, bench, subject, name, known)
            case Subject.UNIT:
                after_filing.renew(connection, bench, name, here)
                orders |= _orders_of(connection, bench, order_line.c.unit_id == name)
            case Subject.ORDER:
                orders.add(name)
            case Subject.LINE:
                orders |= _orders_of(connection, bench, order_line.c.line == name)
    for name in orders:
        _renew_order(connection, bench, name, utc, known)


def _orders_of(connection: Connection, bench: str, which: Any) -> set[str]:
    found = connection.execute(_ORDER_OF.where(which), {"own": bench}).scalars()
    return {text_key(order) for order in found}


def _facts(
    connection: Connection, bench: str, subjects: Sequence[str], known: int = NO_END
) -> Sequence[ShopFact]:
    shop, own = folded(connection, shop_fact.c.subject.in_(subjects), bench, known)
    return shop.in_force(own)


def _renew_specification(
    connection: Connection, bench: str, subject: str, name: str, known: int
) -> None:
    here = specification.c.bench == bench, specification.c.specification_id == name
    connection.execute(delete(specification).where(*here))
    rows = {}
    for fact in _facts(connection, bench, [subject], known):
        event = fact.event
        if isinstance(event, SpecificationApproved):
            rows[event.revision] = {
                "bench": bench,
                "specification_id": name,
                "revision": event.revision,
                "family": event.family,
                "title": event.title,
                "content_sha256": event.content_sha256,
                "seq": fact.seq or fact.own,
            }
    if rows:
        connection.execute(
            insert(specification), [fitting(specification, row) for row in rows.values()]
        )


def _renew_order(connection: Connection, bench: str, name: str, utc: datetime, known: int) -> None:
    subjects = [f"{Subject.ORDER}:{name}"]
    facts = _facts(connection, bench, subjects, known)
    lines = [line.line for order in fold_orders(facts).values() for line in order.lines]
    subjects += [f"{Subject.LINE}:{line}" for line in lines]
    shop, own = folded(connection, shop_fact.c.subject.in_(subjects), bench, known)
    begun = [fact.event for fact in (*shop.facts, *(c.fact for c in shop.open.values()))]
    begun += [entry.event for entry in own]
    units = [event.unit_id for event in begun if isinstance(event, RebuildOpened)]
    subjects += [f"{Subject.UNIT}:{unit_id}" for unit_id in units]
    facts = _facts(connection, bench, subjects, known)
    same = shop_order.c.bench == bench, shop_order.c.order_key == name
    named = connection.execute(select(shop_order.c.order).where(*same)).scalars().all()
    of_it = order_line.c.bench == bench, order_line.c.order.in_(named)
    columns = order_line.c.line, order_line.c.state, order_line.c.changed_utc
    rows = connection.execute(select(*columns).where(*of_it))
    before = {row.line: (row.state, row.changed_utc) for row in rows}
    connection.execute(delete(order_line).where(*of_it))
    connection.execute(delete(shop_order).where(*same))
    for order in fold_orders(facts).values():
        if text_key(order.order) == name:
            _write_order(connection, bench, order, _placed(facts, order), utc)
            _write_lines(connection, bench, order, before, utc)


def _placed(facts: Iterable[ShopFact], order: Order) -> ShopFact | None:
    return next(
        (f for f in facts if isinstance(f.event, OrderPlaced) and f.event.order == order.order),
        None,
    )


def _write_order(
    connection: Connection, bench: str, order: Order, placed: ShopFact | None, utc: datetime
) -> None:
    row = {
        "bench": bench,
        "order": order.order,
        "order_key": text_key(order.order),
        "due": order.due,
        "note": order.note,
        "matched": order.matched,
        "placed_by": placed.person if placed is not None else "",
        "placed_utc": placed.utc if placed is not None else utc,
    }
    connection.execute(insert(shop_order), fitting(shop_order, row))


def _write_lines(
    connection: Connection,
    bench: str,
    order: Order,
    before: dict[str, tuple[str, datetime]],
    utc: datetime,
) -> None:
    for place, line in enumerate(order.lines):
        now = _of_own_unit(connection, bench, line)
        was, changed = before.get(line.line, ("", utc))
        row = {
            **line_values(now),
            "bench": bench,
            "line": line.line,
            "order": order.order,
            "place": place,
            "changed_utc": changed if was == now.state else utc,
        }
        connection.execute(insert(order_line), fitting(order_line, row))


def _of_own_unit(connection: Connection, bench: str, line: Line) -> Line:
    """Return a line as the bench's own unit stands, where that is the one that counts."""
    if not line.unit_id or line.state is LineState.WITHDRAWN:
        return line
    this = unit.c.bench == bench, unit.c.unit_id == line.unit_id
    row = connection.execute(select(unit).where(*this)).mappings().first()
    if row is None:
        return line
    state: LineState
    state, reason, unit_id = line.state, "", line.unit_id
    if row["state"] == "open":
        state = LineState.STARTED
    elif row["state"] == "abandoned":
        state, unit_id = LineState.WAITING, ""
    elif row["state"] == "aside":
        aside = connection.execute(
            select(unit_aside.c.reason, unit_aside.c.due_utc).where(
                unit_aside.c.bench == bench, unit_aside.c.unit_id == line.unit_id
            )
        ).first()
        waits = aside is not None and bool(aside.due_utc)
        state = LineState.SECOND if waits else LineState.ASIDE
        reason = aside.reason if aside is not None else ""
    else:
        stands = after_filing.stands_by_itself(connection, bench, row)
        state = _STATES.get(stands, LineState.HELD)
        reason = line.reason
    return Line(
        line.order, line.line, line.serial, line.specification_id, line.position, state,
        unit_id, reason,
    )  # fmt: skip
