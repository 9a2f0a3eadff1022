"""Placing orders and changing them."""

from collections.abc import Iterable, Mapping, Sequence
from dataclasses import dataclass
from functools import partial

from benchstation.bench.commands.parsing import document, made_from, named
from benchstation.bench.judging import tried
from benchstation.bench.messages import Message
from benchstation.bench.session import WORKERS, BenchSession, Command
from benchstation.bench.sets import set_of
from benchstation.domain import orders
from benchstation.domain.events import Event, OrderChanged, OrderPlaced
from benchstation.domain.order_lists import events_of, read_units
from benchstation.domain.orders import Line, Wanted
from benchstation.domain.unit_commands import NotAllowedError
from benchstation.driver_api.errors import StationError
from benchstation.store.order_queries import get_line, get_order


def _wanted(form: Mapping[str, str]) -> tuple[Wanted, ...]:
    """Return the units that the form names, one where it says no number that an order may have."""
    front = form.get("family", "")
    rear = form.get("rear_family", "") or front
    count = next((n for n in orders.POSITIONS if str(n) == form.get("count")), 1)
    units = []
    for n in range(1, count + 1):
        position = form.get(f"position{n}", "")
        family = rear if "rear" in position.casefold() else front
        units.append(Wanted(form.get(f"serial{n}", ""), family, position))
    return tuple(units)


@dataclass(frozen=True, slots=True)
class PlaceOrder(Command):
    """Place an order of one, two or four units."""

    roles = WORKERS
    order: str
    due: str
    note: str
    matched: bool
    units: tuple[Wanted, ...] = made_from(_wanted)

    def __call__(self, session: BenchSession) -> Message:
        session.journal([self._placed(session)])
        return Message(f"Order {self.order} is placed: {_count(len(self.units))}.")

    def wrong(self, session: BenchSession) -> Iterable[StationError]:
        return tried(lambda: self._placed(session))

    def _placed(self, session: BenchSession) -> OrderPlaced:
        return orders.place(
            self.order,
            self.due,
            self.note,
            self.units,
            matched=self.matched,
            families=_families(session),
            known=get_order(session.store, self.order),
        )


def _families(session: BenchSession) -> list[str]:
    return [s.id for s in session.shop.current_specifications()]


def _count(units: int) -> str:
    return "1 unit" if units == 1 else f"{units} units"


@dataclass(frozen=True, slots=True)
class ChangeOrder(Command):
    """Change due day, note or set mark of an order, with a reason."""

    roles = WORKERS
    order: str
    due: str
    note: str
    reason: str
    matched: bool

    def __call__(self, session: BenchSession) -> Message:
        changed = self._changed(session)
        _journal(session, [changed])
        return Message(f"Order {changed.order} is changed.")

    def wrong(self, session: BenchSession) -> Iterable[StationError]:
        return tried(lambda: self._changed(session))

    def _changed(self, session: BenchSession) -> OrderChanged:
        known = get_order(session.store, self.order)
        if known is None:
            raise NotAllowedError("there is no such order.", where="Queue")
        return orders.change(known, self.due, self.note, self.reason, matched=self.matched)


@dataclass(frozen=True, slots=True)
class WithdrawUnit(Command):
    """Withdraw a waiting unit from its order, with a reason."""

    roles = WORKERS
    reason: str
    line_id: str = named("line")

    def __call__(self, session: BenchSession) -> Message:
        known = line_of(session, self.line_id)
        _journal(session, [orders.withdraw(known, self.reason)])
        named = known.serial or known.position or "The unit"
        return Message(f"{named} is withdrawn from {known.order}.")


def line_of(session: BenchSession, line_id: str) -> Line:
    """Return the unit of an order that was chosen; raise when none was."""
    known = get_line(session.store, line_id)
    if known is None:
        raise NotAllowedError("no unit of an order is chosen.", where="Queue")
    return known


def _journal(session: BenchSession, events: Sequence[Event]) -> None:
    """Put a change of orders on record; a unit about to be filed is compared by what holds now."""
    session.journal(events)
    if session.rebuild is not None:
        session.work.compare(set_of(session.store, session.rebuild))


@dataclass(frozen=True, slots=True)
class ImportUnits(Command):
    """Take all units of a list (CSV) into their orders, or none of them."""

    roles = WORKERS
    csv: str = document()

    def __call__(self, session: BenchSession) -> Message:
        units = read_units(self.csv, session.shop.current_specifications())
        events = events_of(units, partial(get_order, session.store), _families(session))
        _journal(session, events)
        count = f"{len(events)} order{'s' * (len(events) != 1)}"
        return Message(f"Imported: {_count(len(units.rows))} in {count}.")
