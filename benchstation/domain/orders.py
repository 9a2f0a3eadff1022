"""Orders and what stands in them: pure, a fold of facts; each command checks, then gives events.

One unit of an order is a line. What a fact does to a line is said once, in :func:`line_after`; the
fold here and the tables that people search both go through it.
"""

import uuid
from collections.abc import Iterable, Mapping, Sequence
from dataclasses import dataclass, replace
from datetime import date
from enum import StrEnum

from benchstation.domain.disposition import FIRST, plain_word
from benchstation.domain.events import (
    Event,
    LineMoved,
    OrderChanged,
    OrderedUnit,
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
from benchstation.domain.rebuild import Fact
from benchstation.domain.serials import serial_problem
from benchstation.domain.unit_commands import NotAllowedError

LONGEST_NAME, LONGEST_NOTE, MOST_LINES = 40, 400, 200
POSITIONS: Mapping[int, tuple[str, ...]] = {
    1: ("",),
    2: ("left", "right"),
    4: ("front left", "front right", "rear left", "rear right"),
}
"""Usual positions of a single unit, an axle and a set of four."""


class LineState(StrEnum):
    """Where a unit of an order stands."""

    WAITING = "waiting"
    STARTED = "started"
    ASIDE = "set aside"
    SECOND = "2nd reading"
    FILED = "filed"
    HELD = "on QA hold"
    RELEASED = "released"
    REJECTED = "rejected"
    SHIPPED = "shipped"
    RETURNED = "returned"
    WITHDRAWN = "withdrawn"


STARTABLE = (LineState.WAITING, LineState.REJECTED)
FILED = (
    LineState.FILED,
    LineState.HELD,
    LineState.RELEASED,
    LineState.SHIPPED,
    LineState.RETURNED,
)
"""The record of its unit is there and counts: one that left still belongs to its set."""
DONE = (
    LineState.FILED,
    LineState.RELEASED,
    LineState.SHIPPED,
    LineState.RETURNED,
    LineState.WITHDRAWN,
)


@dataclass(frozen=True, slots=True)
class Line:
    """One unit of an order. ``reason``: why it is withdrawn or lies aside."""

    order: str
    line: str
    serial: str
    specification_id: str
    position: str
    state: LineState = LineState.WAITING
    unit_id: str = ""
    reason: str = ""


@dataclass(frozen=True, slots=True)
class Order:
    """An order with its units in the order they came."""

    order: str
    due: str
    note: str
    matched: bool
    lines: tuple[Line, ...]


def lines_of(event: OrderPlaced | OrderChanged) -> tuple[Line, ...]:
    """Return the units that an event brings to its order."""
    return tuple(
        Line(event.order, unit.line, unit.serial, unit.specification_id, unit.position)
        for unit in event.lines
    )


def line_after(line: Line, event: Event) -> Line:
    """Return a line after a fact about it or about the unit that it was started as."""
    match event:
        case OrderUnitWithdrawn():
            return replace(line, state=LineState.WITHDRAWN, reason=event.reason)
        case RebuildOpened():
            serial, unit = event.serial, event.unit_id
            return replace(line, state=LineState.STARTED, serial=serial, unit_id=unit, reason="")
        case UnitSetAside():
            return replace(line, state=LineState.ASIDE, reason=event.reason)
        case UnitWaits():
            return replace(line, state=LineState.SECOND, reason="")
        case UnitFetched():
            return replace(line, state=LineState.STARTED, reason="")
        case RebuildAbandoned():
            return replace(line, state=LineState.WAITING, unit_id="", reason=event.reason)
        case UnitFiled():
            held = LineState.HELD if event.qa_hold else LineState.FILED
            return replace(line, state=held, reason="")
        case LineMoved():
            state, reason = LineState(event.state), event.reason
            unit = "" if state is LineState.WAITING else line.unit_id
            return replace(line, state=state, unit_id=unit, reason=reason)
        case UnitDisposed():
            words = {
                "released": LineState.RELEASED,
                "rejected": LineState.REJECTED,
                FIRST: LineState.FILED,
            }
            return replace(
                line,
                state=words.get(plain_word(event.disposition), LineState.HELD),
                reason=event.reason,
            )
        case UnitAmended() if event.decision and line.state is not LineState.REJECTED:
            return replace(line, state=LineState.HELD, reason=event.reason)
        case UnitShipped():
            return replace(line, state=LineState.SHIPPED, reason="")
        case UnitReturned():
            return replace(line, state=LineState.RETURNED, reason=event.complaint)
        case _:
            return line


def concerns(line: Line, event: Event) -> bool:
    """Return True when an event is about this line."""
    named = "" if isinstance(event, LineMoved) else getattr(event, "line", "")
    return named == line.line if named else bool(line.unit_id) and line.unit_id == _unit(event)


def _unit(event: Event) -> str:
    return str(getattr(event, "unit_id", ""))


def fold_orders(facts: Iterable[Fact]) -> dict[str, Order]:
    """Return every order, by name, from facts of any kind in their order."""
    orders: dict[str, Order] = {}
    for fact in facts:
        event = fact.event
        if isinstance(event, OrderPlaced | OrderChanged):
            known = orders.get(event.order)
            lines = (*(known.lines if known else ()), *lines_of(event))
            orders[event.order] = Order(event.order, event.due, event.note, event.matched, lines)
            continue
        for name, order in orders.items():
            if any(concerns(line, event) for line in order.lines):
                lines = tuple(
                    line_after(line, event) if concerns(line, event) else line
                    for line in order.lines
                )
                orders[name] = replace(order, lines=lines)
    return orders


# --- commands ------------------------------------------------------------------------------------


@dataclass(frozen=True, slots=True)
class Wanted:
    """A unit that an order shall have."""

    serial: str
    specification_id: str
    position: str


def place(
    order: str,
    due: str,
    note: str,
    units: Sequence[Wanted],
    *,
    matched: bool,
    families: Iterable[str],
    known: Order | None,
) -> OrderPlaced:
    """Return a new order; ``known`` is the one of that name, if there is one already."""
    name = order.strip()
    if known is not None:
        raise NotAllowedError(
            f"there is an order {name} already.",
            where="Queue",
            advice="Choose another name; units come to an order by a list of units.",
            field="order",
        )
    lines = _checked(name, due, note, units, families, ())
    if matched and len(lines) < 2:
        raise _refused("a set needs two units or more.")
    return OrderPlaced(name, due.strip(), note.strip(), matched, lines)


def add_units(known: Order, units: Sequence[Wanted], families: Iterable[str]) -> OrderChanged:
    """Return an order with more units."""
    lines = _checked(known.order, known.due, known.note, units, families, known.lines)
    return OrderChanged(
        known.order, known.due, known.note, known.matched, "units came to it", lines
    )


def change(known: Order, due: str, note: str, reason: str, *, matched: bool) -> OrderChanged:
    """Return an order with another due day, note or set mark."""
    _check_order(known.order, due, note)
    if not reason.strip():
        raise _refused("a change of an order needs a reason.", "Say why in a few words.", "reason")
    if (due.strip(), note.strip(), matched) == (known.due, known.note, known.matched):
        raise _refused("nothing of it is different.")
    return OrderChanged(known.order, due.strip(), note.strip(), matched, reason.strip())


def withdraw(line: Line, reason: str) -> OrderUnitWithdrawn:
    """Take a unit that waits out of its order."""
    if line.state not in STARTABLE:
        raise _refused(f"this unit is {line.state}, so it cannot be withdrawn.")
    if not reason.strip():
        raise _refused("withdrawing needs a reason.", "Say why in a few words.")
    return OrderUnitWithdrawn(line.order, line.line, reason.strip())


def _refused(what: str, advice: str = "Nothing was changed.", field: str = "") -> NotAllowedError:
    return NotAllowedError(what, where="Queue", advice=advice, field=field)


def text_problem(text: str, longest: int) -> str:
    """Return what is wrong with a text that comes from outside; empty: nothing."""
    if len(text) > longest:
        return f"is longer than {longest} characters"
    return "" if text.isprintable() else "cannot be printed"


def _check_order(name: str, due: str, note: str) -> None:
    wrong = "is missing" if not name else text_problem(name, LONGEST_NAME)
    if wrong:
        raise _refused(f"the order's name {wrong}.", field="order")
    if text_problem(note.strip(), LONGEST_NOTE):
        raise _refused(f"the note {text_problem(note.strip(), LONGEST_NOTE)}.", field="note")
    if due.strip():
        try:
            date.fromisoformat(due.strip())
        except ValueError:
            raise _refused(
                f"'{due.strip()[:20]}' is no day.",
                "Write it as 2026-03-31, or leave it empty.",
                "due",
            ) from None


def _checked(
    name: str,
    due: str,
    note: str,
    units: Sequence[Wanted],
    families: Iterable[str],
    there: Sequence[Line],
) -> tuple[OrderedUnit, ...]:
    _check_order(name, due, note)
    if not units or len(units) + len(there) > MOST_LINES:
        raise _refused(f"an order has 1 to {MOST_LINES} units.")
    waiting = [line for line in there if line.state is not LineState.WITHDRAWN]
    serials = [line.serial.casefold() for line in waiting if line.serial]
    places = [line.position.casefold() for line in waiting if line.position]
    known, lines = set(families), []
    for number, unit in enumerate(units, 1):
        serial, position = unit.serial.strip(), unit.position.strip()
        for what, text, wrong, seen in (
            ("serial", serial, serial_problem(serial), serials),
            ("position", position, text_problem(position, LONGEST_NAME), places),
        ):
            if wrong:
                raise _refused(f"the {what} '{text[:20]}' {wrong}.", field=f"{what}{number}")
            if text and text.casefold() in seen:
                twice = f"the {what} {text} is in this order twice."
                raise _refused(twice, field=f"{what}{number}")
            seen.append(text.casefold())
        if unit.specification_id not in known:
            kept = "Choose one; what you typed is kept."
            raise _refused("a unit's family is missing.", kept, "family")
        lines.append(
            OrderedUnit(
                uuid.uuid4().hex,
                unit.serial.strip(),
                unit.specification_id,
                unit.position.strip(),
            )
        )
    return tuple(lines)
