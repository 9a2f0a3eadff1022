"""Placing orders and taking their units from the queue to the bench."""

from collections.abc import Mapping, Sequence
from dataclasses import replace

from benchstation.bench.messages import Message, Severity, attention_if
from benchstation.bench.next_unit import NextUnit, earlier_of
from benchstation.bench.session import BenchSession
from benchstation.bench.sets import set_of
from benchstation.domain import orders
from benchstation.domain.events import Event, OrderChanged, OrderPlaced
from benchstation.domain.order_lists import read_units
from benchstation.domain.orders import STARTABLE, Line, LineState, Wanted
from benchstation.domain.specification import Specification
from benchstation.domain.unit_commands import YES, NotAllowedError
from benchstation.store.order_queries import get_line, get_order, last_lot_of, lines_with_serial


def place_order(session: BenchSession, fields: Mapping[str, str]) -> str:
    """Place an order of one, two or four units."""
    front = fields.get("family", "")
    rear = fields.get("rear_family", "") or front
    units = []
    count = next((n for n in orders.POSITIONS if str(n) == fields.get("count")), 1)
    for n in range(1, count + 1):
        position = fields.get(f"position{n}", "")
        family = rear if "rear" in position.casefold() else front
        units.append(Wanted(fields.get(f"serial{n}", ""), family, position))
    name = fields.get("order", "").strip()
    placed = orders.place(
        name,
        fields.get("due", ""),
        fields.get("note", ""),
        units,
        matched=fields.get("matched") == YES,
        families=_families(session),
        known=get_order(session.store, name),
    )
    session.journal([placed])
    return f"Order {name} is placed: {_count(len(units))}."


def _families(session: BenchSession) -> list[str]:
    return [s.id for s in session.shop.current_specifications()]


def _count(units: int) -> str:
    return "1 unit" if units == 1 else f"{units} units"


def change_order(session: BenchSession, fields: Mapping[str, str]) -> str:
    """Change due day, note or set mark of an order, with a reason."""
    known = get_order(session.store, fields.get("order", "").strip())
    if known is None:
        raise NotAllowedError("there is no such order.", where="Queue")
    changed = orders.change(
        known,
        fields.get("due", ""),
        fields.get("note", ""),
        fields.get("reason", ""),
        matched=fields.get("matched") == YES,
    )
    _journal(session, [changed])
    return f"Order {known.order} is changed."


def withdraw(session: BenchSession, fields: Mapping[str, str]) -> str:
    """Withdraw a waiting unit from its order, with a reason."""
    line = _line(session, fields.get("line", ""))
    _journal(session, [orders.withdraw(line, fields.get("reason", ""))])
    return f"{line.serial or line.position or 'The unit'} is withdrawn from {line.order}."


def _journal(session: BenchSession, events: Sequence[Event]) -> None:
    """Put a change of orders on record; a unit about to be filed is compared by what holds now."""
    session.journal(events)
    if session.rebuild is not None:
        session.matched = set_of(session.store, session.rebuild)


def import_units(session: BenchSession, fields: Mapping[str, str]) -> str:
    """Take all units of a list (CSV) into their orders, or none of them."""
    units = read_units(fields.get("csv", ""), session.shop.current_specifications())
    families, events = _families(session), list[OrderPlaced | OrderChanged]()
    for name, wanted in units.by_order().items():
        known = get_order(session.store, name)
        if known is None:
            due = units.due.get(name, "")
            placed = orders.place(
                name, due, "", wanted, matched=False, families=families, known=None
            )
            events.append(placed)
        else:
            events.append(orders.add_units(known, wanted, families))
    _journal(session, events)
    return f"Taken: {_count(len(units.rows))} in {len(events)} order{'s' * (len(events) != 1)}."


# --- from the queue to the bench -----------------------------------------------------------------


def look_up(session: BenchSession, fields: Mapping[str, str]) -> Message:
    """Fill the form of the next unit from the queue, by its serial."""
    serial = fields.get("serial", "").strip()
    if not serial or not serial.isprintable() or len(serial) > orders.LONGEST_SERIAL:
        session.intake = NextUnit()
        return Message("Scan or type the serial.")
    lines = lines_with_serial(session.store, serial)
    waiting = [line for line in lines if line.state in STARTABLE]
    earlier = earlier_of(session.store, serial, "")
    chosen = get_line(session.store, session.intake.line) if session.intake.line else None
    said = Message(f"{serial} does not wait in the queue: choose family and lot.")
    session.intake = NextUnit(serial, earlier=earlier)
    if len(waiting) == 1:
        session.intake = replace(_from_line(session, waiting[0]), earlier=earlier)
        said = _ready(session)
    elif waiting:
        names = " and ".join(line.order for line in waiting)
        which = f"{serial} waits in {names}: write the order, or start it from the queue (F3)."
        said = Message(which, Severity.ATTENTION)
        session.intake = replace(
            _from_line(session, waiting[0]), order="", line="", earlier=earlier
        )
    elif chosen is not None and not chosen.serial and chosen.state in STARTABLE:
        # A unit that waits without a serial was chosen in the queue: this is it.
        known = _from_line(session, chosen)
        session.intake = replace(known, serial=serial, earlier=earlier)
        said = _ready(session)
    elif filed := [line for line in lines if line.state in _FILED]:
        already = f"{serial} is {filed[-1].state} in order {filed[-1].order} already."
        said = Message(already, Severity.ATTENTION)
    return said


_FILED = (LineState.FILED, LineState.HELD, LineState.RELEASED)


def _ready(session: BenchSession) -> Message:
    intake = session.intake
    if not intake.lot:
        wanted = _lot_wanted(session)
        said = wanted or "choose the oil lot, then start"
        return Message(f"Order {intake.order}: {said}.", attention_if(wanted))
    return Message(f"Order {intake.order}, {intake.position or 'no position'}: Enter starts it.")


def start_line(session: BenchSession, fields: Mapping[str, str]) -> str | Message:
    """Start a waiting unit; where its serial or lot is missing, fill the form as far as known."""
    line = _line(session, fields.get("line", ""))
    if line.state not in STARTABLE:
        raise NotAllowedError(f"this unit is {line.state}.", where="Queue")
    if session.rebuild is not None and not session.rebuild.ended:
        raise NotAllowedError(
            f"{session.rebuild.opened.serial} is on the bench.",
            where="Queue",
            advice="File it or set it aside first.",
        )
    session.take(None)
    intake = _from_line(session, line)
    if intake.serial and intake.lot:
        session.intake = intake
        return session.actions["open"].do(session, intake.fields())
    session.intake = intake
    missing = "Scan its serial" if not intake.serial else "Choose the oil lot"
    wanted = _lot_wanted(session)
    missing = f"First: {wanted}. {missing}" if wanted else missing
    said = f"{missing}, then start: order {line.order}, {line.position or 'no position'}."
    return Message(said, attention_if(wanted))


def _lot_wanted(session: BenchSession) -> str:
    """Say which oil the next unit waits for; empty: there is a lot, or the family is unknown."""
    key = session.intake.specification_id
    return next(map(session.shop.lot_wanted, _current(session, key)), "")


def _current(session: BenchSession, specification_id: str) -> list[Specification]:
    return [s for s in session.shop.current_specifications() if s.id == specification_id]


def _line(session: BenchSession, line_id: str) -> Line:
    line = get_line(session.store, line_id)
    if line is None:
        raise NotAllowedError("no unit of an order is chosen.", where="Queue")
    return line


def _from_line(session: BenchSession, line: Line) -> NextUnit:
    return NextUnit(
        line.serial,
        line.specification_id,
        _usual_lot(session, line.specification_id),
        line.order,
        line.position,
        line.line,
        earlier_of(session.store, line.serial, "") if line.serial else None,
    )


def _usual_lot(session: BenchSession, specification_id: str) -> str:
    """Return the open lot of this oil that was used last, or the one that came first."""
    found = _current(session, specification_id)
    if not found:
        return ""
    lots = [lot.lot for lot in session.shop.lots_for(found[0])]
    return last_lot_of(session.store, lots) or next(iter(lots), "")


def line_for(
    session: BenchSession, serial: str, order: str, position: str, specification_id: str
) -> Line | None:
    """Return the unit of an order that is meant: by what was looked up, or by serial and order.

    A unit that waits without a serial is meant when order, family and position fit.
    """
    known = get_order(session.store, order) if order else None
    if known is None:
        return None
    waiting = [
        line
        for line in known.lines
        if line.state in STARTABLE and line.specification_id == specification_id
    ]
    same = [line for line in waiting if line.serial.casefold() == serial.casefold()]
    if same:
        return same[0]
    blank = [line for line in waiting if not line.serial]
    if session.intake.line and (chosen := [b for b in blank if b.line == session.intake.line]):
        return chosen[0]
    there = [line for line in blank if line.position.casefold() == position.casefold()]
    return there[0] if there else blank[0] if len(blank) == 1 and not position else None
