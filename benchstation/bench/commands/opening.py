"""Putting a unit on the bench, from the queue or by hand, and taking an ended one off it."""

import uuid
from collections.abc import Iterable
from dataclasses import dataclass, replace
from datetime import datetime

from benchstation.bench.commands.orders import line_of
from benchstation.bench.commands.parsing import named
from benchstation.bench.judging import tried
from benchstation.bench.messages import Message, Severity, attention_if
from benchstation.bench.next_unit import NextUnit, earlier_of
from benchstation.bench.session import WORKERS, BenchSession, Command
from benchstation.domain.body_temperature import BOUND_K
from benchstation.domain.events import InRoomSince, RebuildOpened
from benchstation.domain.orders import FILED, STARTABLE, Line
from benchstation.domain.rebuild import opened_rebuild
from benchstation.domain.serials import LONGEST_SERIAL, serial_problem
from benchstation.domain.since import read_since, since_in_words
from benchstation.domain.specification import Specification
from benchstation.domain.unit_commands import NotAllowedError
from benchstation.driver_api.errors import StationError, in_field
from benchstation.quantities.formatter import local_day
from benchstation.store.order_queries import get_line, get_order, last_lot_of, lines_with_serial
from benchstation.store.queries import earlier_rebuilds


@dataclass(frozen=True, slots=True)
class OpenUnit(Command):
    """Put a unit on the bench and start its route."""

    roles = WORKERS
    serial: str
    lot: str
    specification_id: str = named("specification")
    order: str = ""
    position: str = ""
    since: str = ""
    """Since when it has been in this room, as typed; empty: nothing is said of it."""

    def __call__(self, session: BenchSession) -> Message:
        if session.rebuild is not None and not session.rebuild.ended:
            raise NotAllowedError(
                f"{session.rebuild.opened.serial} is on the bench.",
                advice="Finish or abandon it first.",
            )
        serial, lot = self._serial(session), self.lot
        specification, since = self._specification(session), self._in_room(session)
        order, position = self.order, self.position
        line = line_for(session, serial, order, position, specification.id)
        opened = RebuildOpened(
            uuid.uuid4().hex,
            serial,
            specification.family,
            specification.id,
            specification.revision,
            lot,
            line.order if line else order,
            (line.position if line else "") or position,
            line.line if line else "",
        )
        assert session.person is not None
        (entry,) = session.store.append(
            [opened], person=session.person.person_id, utc=session.clock.utc()
        )
        session.on_bench.take(opened_rebuild(entry, specification))
        here = ""
        if since is not None:
            step_id = specification.steps[0].id
            stay = InRoomSince(
                opened.unit_id, step_id, since.isoformat(timespec="seconds"), BOUND_K
            )
            session.journal([stay])
            here = f" In this room {since_in_words(since, session.clock.utc())}."
        stands = f" Order {line.order}." if line else ""
        before, severity = _before(session, opened)
        return Message(f"{serial} is open: {specification.family}.{stands}{here}{before}", severity)

    def wrong(self, session: BenchSession) -> Iterable[StationError]:
        return tried(
            lambda: self._serial(session),
            lambda: self._specification(session),
            lambda: self._in_room(session),
        )

    def _serial(self, session: BenchSession) -> str:
        serial = self.serial
        wrong = serial_problem(serial) if serial else "is missing"
        if wrong:
            raise NotAllowedError(
                f"the serial {wrong}.",
                where="Open a unit",
                advice=f"Scan or type it, up to {LONGEST_SERIAL} characters.",
                field="serial",
            )
        expected = session.on_bench.next_unit.serial
        if expected and expected.casefold() != serial.casefold():
            raise NotAllowedError(
                f"the form was filled for {expected}, and the serial is {serial}.",
                where="Open a unit",
                advice="Press Enter in the serial: the rest is looked up again.",
                field="serial",
            )
        return serial

    def _specification(self, session: BenchSession) -> Specification:
        """Return the specification in force of the chosen family, which takes the chosen lot."""
        found, lot = _current(session, self.specification_id), self.lot
        wanted = session.shop.lot_wanted(found[0], session.today) if found else ""
        if wanted and not lot:
            raise NotAllowedError(
                f"{wanted}.", where="Open a unit", advice="What you typed is kept.", field="lot"
            )
        if not found or lot not in session.shop.lots:
            raise NotAllowedError(
                f"{'no oil lot' if found else 'no family'} is chosen.",
                where="Open a unit",
                advice="Choose one; what you typed is kept.",
                field="lot" if found else "specification",
            )
        specification = found[0]
        closed = session.shop.why_closed(lot, session.today)
        if closed:
            raise NotAllowedError(
                f"lot {lot} is {closed}.",
                where="Open a unit",
                advice="Choose another lot.",
                field="lot",
            )
        chosen_lot = session.shop.lots[lot]
        if chosen_lot not in session.shop.lots_for(specification, session.today):
            raise NotAllowedError(
                f"lot {lot} is {chosen_lot.oil}; this family takes {specification.oil.grade}.",
                where="Open a unit",
                advice="Choose a lot of that oil.",
                field="lot",
            )
        return specification

    def _in_room(self, session: BenchSession) -> datetime | None:
        with in_field("since"):
            return read_since(self.since, session.clock.utc()) if self.since else None


def _before(session: BenchSession, opened: RebuildOpened) -> tuple[str, Severity]:
    """Return when this serial was here before; it needs attention when it was another family."""
    earlier = [
        unit
        for unit in earlier_rebuilds(session.store, opened.serial)
        if unit.unit_id != opened.unit_id
    ]
    if not earlier:
        return "", Severity.NORMAL
    last = earlier[0]
    times = "once" if len(earlier) == 1 else f"{len(earlier)} times"
    said = f" Here before {times}, last {local_day(last.sort_utc)} as {last.family}."
    return said, attention_if(last.family != opened.family)


@dataclass(frozen=True, slots=True)
class TakeNextUnit(Command):
    """Take an ended unit off the bench."""

    def __call__(self, session: BenchSession) -> Message:
        if session.rebuild is not None and not session.rebuild.ended:
            raise NotAllowedError(
                "this unit is not filed yet.", where=session.rebuild.opened.serial
            )
        session.on_bench.take(None)
        return Message("The bench is free.")


# --- from the queue to the bench -----------------------------------------------------------------


@dataclass(frozen=True, slots=True)
class LookUp(Command):
    """Fill the form of the next unit from the queue, by its serial."""

    roles = WORKERS
    serial: str

    def __call__(self, session: BenchSession) -> Message:
        serial = self.serial
        wrong = serial_problem(serial)
        if not serial or wrong:
            session.on_bench.expect(NextUnit())
            told = f"The serial {wrong}. " if wrong else ""
            return Message(f"{told}Scan or type the serial.", attention_if(wrong))
        lines = lines_with_serial(session.store, serial)
        waiting = [line for line in lines if line.state in STARTABLE]
        earlier = earlier_of(session.store, serial, "")
        known = session.on_bench.next_unit.line
        chosen = get_line(session.store, known) if known else None
        said = Message(f"{serial} does not wait in the queue: choose family and lot.")
        session.on_bench.expect(NextUnit(serial, earlier=earlier))
        if len(waiting) == 1:
            session.on_bench.expect(replace(_from_line(session, waiting[0]), earlier=earlier))
            said = _ready(session)
        elif waiting:
            names = " and ".join(line.order for line in waiting)
            which = f"{serial} waits in {names}: write the order, or start it from the queue (F3)."
            said = Message(which, Severity.ATTENTION)
            several = replace(_from_line(session, waiting[0]), order="", line="", earlier=earlier)
            session.on_bench.expect(several)
        elif chosen is not None and not chosen.serial and chosen.state in STARTABLE:
            # A unit that waits without a serial was chosen in the queue: this is it.
            blank = _from_line(session, chosen)
            session.on_bench.expect(replace(blank, serial=serial, earlier=earlier))
            said = _ready(session)
        elif filed := [line for line in lines if line.state in FILED]:
            already = f"{serial} is {filed[-1].state} in order {filed[-1].order} already."
            said = Message(already, Severity.ATTENTION)
        return said


def _ready(session: BenchSession) -> Message:
    expected = session.on_bench.next_unit
    if not expected.lot:
        wanted = _lot_wanted(session)
        said = wanted or "choose the oil lot, then start"
        return Message(f"Order {expected.order}: {said}.", attention_if(wanted))
    return Message(
        f"Order {expected.order}, {expected.position or 'no position'}: Enter starts it."
    )


@dataclass(frozen=True, slots=True)
class StartLine(Command):
    """Start a waiting unit; where its serial or lot is missing, fill the form as far as known."""

    roles = WORKERS
    line_id: str = named("line")

    def __call__(self, session: BenchSession) -> Message:
        chosen = line_of(session, self.line_id)
        if chosen.state not in STARTABLE:
            raise NotAllowedError(f"this unit is {chosen.state}.", where="Queue")
        if session.rebuild is not None and not session.rebuild.ended:
            raise NotAllowedError(
                f"{session.rebuild.opened.serial} is on the bench.",
                where="Queue",
                advice="File it or set it aside first.",
            )
        session.on_bench.take(None)
        expected = _from_line(session, chosen)
        session.on_bench.expect(expected)
        if expected.serial and expected.lot:
            opens = OpenUnit(
                expected.serial,
                expected.lot,
                expected.specification_id,
                expected.order,
                expected.position,
            )
            return opens(session)
        missing = "Scan its serial" if not expected.serial else "Choose the oil lot"
        wanted = _lot_wanted(session)
        missing = f"First: {wanted}. {missing}" if wanted else missing
        where = f"order {chosen.order}, {chosen.position or 'no position'}"
        return Message(f"{missing}, then start: {where}.", attention_if(wanted))


def _lot_wanted(session: BenchSession) -> str:
    """Return which oil the next unit waits for; empty: there is a lot, or the family is unknown."""
    key = session.on_bench.next_unit.specification_id
    wanted = (session.shop.lot_wanted(s, session.today) for s in _current(session, key))
    return next(wanted, "")


def _current(session: BenchSession, specification_id: str) -> list[Specification]:
    return [s for s in session.shop.current_specifications() if s.id == specification_id]


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
    lots = [lot.lot for lot in session.shop.lots_for(found[0], session.today)]
    return last_lot_of(session.store, lots) or next(iter(lots), "")


def line_for(
    session: BenchSession, serial: str, order: str, position: str, specification_id: str
) -> Line | None:
    """Return the unit of an order that is meant: by what was looked up, or by serial and order.

    A unit that waits without a serial is meant when order, family and position fit.
    """
    placed = get_order(session.store, order) if order else None
    if placed is None:
        return None
    waiting = [
        line
        for line in placed.lines
        if line.state in STARTABLE and line.specification_id == specification_id
    ]
    same = [line for line in waiting if line.serial.casefold() == serial.casefold()]
    if same:
        return same[0]
    blank = [line for line in waiting if not line.serial]
    known = session.on_bench.next_unit.line
    if known and (chosen := [b for b in blank if b.line == known]):
        return chosen[0]
    there = [line for line in blank if line.position.casefold() == position.casefold()]
    return there[0] if there else blank[0] if len(blank) == 1 and not position else None
