"""Placing orders and taking their units from the queue to the bench."""

from collections.abc import Mapping, Sequence
from dataclasses import replace

from benchstation.domain import orders
from benchstation.domain.unit_commands import YES, NotAllowedError
from benchstation.domain.events import Event, OrderChanged, OrderPlaced
from benchstation.domain.orders import STARTABLE, Line, LineState, Wanted
from benchstation.domain.specification import Specification
from benchstation.bench.session import Desk
from benchstation.bench.next_unit import Intake, earlier_of
from benchstation.domain.order_lists import read_units
from benchstation.bench.sets import set_of
from benchstation.store.order_queries import get_line, get_order, last_lot_of, lines_with_serial


def place_order(desk: Desk, fields: Mapping[str, str]) -> str:
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
        families=_families(desk),
        known=get_order(desk.store, name),
    )
    desk.journal([placed])
    return f"Order {name} is placed: {_count(len(units))}."


def _families(desk: Desk) -> list[str]:
    return [s.id for s in desk.shop.current_specifications()]


def _count(units: int) -> str:
    return "1 unit" if units == 1 else f"{units} units"


def change_order(desk: Desk, fields: Mapping[str, str]) -> str:
    """Change due day, note or set mark of an order, with a reason."""
    known = get_order(desk.store, fields.get("order", "").strip())
    if known is None:
        raise NotAllowedError("there is no such order.", where="Queue")
    changed = orders.change(
        known,
        fields.get("due", ""),
        fields.get("note", ""),
        fields.get("reason", ""),
        matched=fields.get("matched") == YES,
    )
    _journal(desk, [changed])
    return f"Order {known.order} is changed."


def withdraw(desk: Desk, fields: Mapping[str, str]) -> str:
    """Withdraw a waiting unit from its order, with a reason."""
    line = _line(desk, fields.get("line", ""))
    _journal(desk, [orders.withdraw(line, fields.get("reason", ""))])
    return f"{line.serial or line.position or 'The unit'} is withdrawn from {line.order}."


def _journal(desk: Desk, events: Sequence[Event]) -> None:
    """Put a change of orders on record; a unit about to be filed is compared by what holds now."""
    desk.journal(events)
    if desk.rebuild is not None:
        desk.matched = set_of(desk.store, desk.rebuild)


def import_units(desk: Desk, fields: Mapping[str, str]) -> str:
    """Take all units of a list (CSV) into their orders, or none of them."""
    units = read_units(fields.get("csv", ""), desk.shop.current_specifications())
    families, events = _families(desk), list[OrderPlaced | OrderChanged]()
    for name, wanted in units.by_order().items():
        known = get_order(desk.store, name)
        if known is None:
            due = units.due.get(name, "")
            placed = orders.place(
                name, due, "", wanted, matched=False, families=families, known=None
            )
            events.append(placed)
        else:
            events.append(orders.add_units(known, wanted, families))
    _journal(desk, events)
    return f"Taken: {_count(len(units.rows))} in {len(events)} order{'s' * (len(events) != 1)}."


# --- from the queue to the bench -----------------------------------------------------------------


def look_up(desk: Desk, fields: Mapping[str, str]) -> str:
    """Fill the form of the next unit from the queue, by its serial."""
    serial = fields.get("serial", "").strip()
    if not serial or not serial.isprintable() or len(serial) > orders.LONGEST_SERIAL:
        desk.intake = Intake()
        return "Scan or type the serial."
    lines = lines_with_serial(desk.store, serial)
    waiting = [line for line in lines if line.state in STARTABLE]
    earlier = earlier_of(desk.store, serial, "")
    chosen = get_line(desk.store, desk.intake.line) if desk.intake.line else None
    said, concern = f"{serial} does not wait in the queue: choose family and lot.", False
    desk.intake = Intake(serial, earlier=earlier)
    if len(waiting) == 1:
        desk.intake = replace(_from_line(desk, waiting[0]), earlier=earlier)
        said, concern = _ready(desk)
    elif waiting:
        names = " and ".join(line.order for line in waiting)
        said = f"{serial} waits in {names}: write the order, or start it from the queue (F3)."
        desk.intake = replace(_from_line(desk, waiting[0]), order="", line="", earlier=earlier)
        concern = True
    elif chosen is not None and not chosen.serial and chosen.state in STARTABLE:
        # A unit that waits without a serial was chosen in the queue: this is it.
        known = _from_line(desk, chosen)
        desk.intake = replace(known, serial=serial, earlier=earlier)
        said, concern = _ready(desk)
    elif filed := [line for line in lines if line.state in _FILED]:
        said = f"{serial} is {filed[-1].state} in order {filed[-1].order} already."
        concern = True
    desk.worry = concern
    return said


_FILED = (LineState.FILED, LineState.HELD, LineState.RELEASED)


def _ready(desk: Desk) -> tuple[str, bool]:
    intake = desk.intake
    if not intake.lot:
        wanted = _lot_wanted(desk)
        said = wanted or "choose the oil lot, then start"
        return f"Order {intake.order}: {said}.", bool(wanted)
    return f"Order {intake.order}, {intake.position or 'no position'}: Enter starts it.", False


def start_line(desk: Desk, fields: Mapping[str, str]) -> str:
    """Start a waiting unit; where its serial or lot is missing, fill the form as far as known."""
    line = _line(desk, fields.get("line", ""))
    if line.state not in STARTABLE:
        raise NotAllowedError(f"this unit is {line.state}.", where="Queue")
    if desk.rebuild is not None and not desk.rebuild.ended:
        raise NotAllowedError(
            f"{desk.rebuild.opened.serial} is on the bench.",
            where="Queue",
            advice="File it or set it aside first.",
        )
    desk.take(None)
    intake = _from_line(desk, line)
    if intake.serial and intake.lot:
        desk.intake = intake
        return desk.actions["open"].do(desk, intake.fields())
    desk.intake = intake
    missing = "Scan its serial" if not intake.serial else "Choose the oil lot"
    wanted = _lot_wanted(desk)
    desk.worry = bool(wanted)
    missing = f"First: {wanted}. {missing}" if wanted else missing
    return f"{missing}, then start: order {line.order}, {line.position or 'no position'}."


def _lot_wanted(desk: Desk) -> str:
    """Say which oil the next unit waits for; empty: there is a lot, or the family is unknown."""
    key = desk.intake.specification_id
    return next(map(desk.shop.lot_wanted, _current(desk, key)), "")


def _current(desk: Desk, specification_id: str) -> list[Specification]:
    return [s for s in desk.shop.current_specifications() if s.id == specification_id]


def _line(desk: Desk, line_id: str) -> Line:
    line = get_line(desk.store, line_id)
    if line is None:
        raise NotAllowedError("no unit of an order is chosen.", where="Queue")
    return line


def _from_line(desk: Desk, line: Line) -> Intake:
    return Intake(
        line.serial,
        line.specification_id,
        _usual_lot(desk, line.specification_id),
        line.order,
        line.position,
        line.line,
        earlier_of(desk.store, line.serial, "") if line.serial else None,
    )


def _usual_lot(desk: Desk, specification_id: str) -> str:
    """Give the open lot of this oil that was used last, or the one that came first."""
    found = _current(desk, specification_id)
    if not found:
        return ""
    lots = [lot.lot for lot in desk.shop.lots_for(found[0])]
    return last_lot_of(desk.store, lots) or next(iter(lots), "")


def line_for(
    desk: Desk, serial: str, order: str, position: str, specification_id: str
) -> Line | None:
    """Give the unit of an order that is meant: by what was looked up, or by serial and order.

    A unit that waits without a serial is meant when order, family and position fit.
    """
    known = get_order(desk.store, order) if order else None
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
    if desk.intake.line and (chosen := [b for b in blank if b.line == desk.intake.line]):
        return chosen[0]
    there = [line for line in blank if line.position.casefold() == position.casefold()]
    return there[0] if there else blank[0] if len(blank) == 1 and not position else None
