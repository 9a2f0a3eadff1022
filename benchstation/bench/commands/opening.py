"""Putting a unit on the bench, and taking an ended one off it."""

import uuid
from collections.abc import Mapping

from benchstation.bench.commands.orders import line_for
from benchstation.bench.messages import Message, Severity, attention_if
from benchstation.bench.session import BenchSession
from benchstation.domain.events import RebuildOpened
from benchstation.domain.orders import LONGEST_SERIAL
from benchstation.domain.rebuild import opened_rebuild
from benchstation.domain.unit_commands import NotAllowedError
from benchstation.store.queries import earlier_rebuilds


def open_unit(session: BenchSession, fields: Mapping[str, str]) -> Message:
    """Put a unit on the bench and start its route."""
    if session.rebuild is not None and not session.rebuild.ended:
        raise NotAllowedError(
            f"{session.rebuild.opened.serial} is on the bench.",
            advice="Finish or abandon it first.",
        )
    serial = fields.get("serial", "").strip()
    lot = fields.get("lot", "")
    chosen = fields.get("specification", "")
    found = [s for s in session.shop.current_specifications() if s.id == chosen]
    if not serial or not serial.isprintable() or len(serial) > LONGEST_SERIAL:
        raise NotAllowedError(
            "the serial is missing or cannot be printed.",
            where="Open a unit",
            advice=f"Scan or type it, up to {LONGEST_SERIAL} characters.",
            field="serial",
        )
    if session.intake.serial and session.intake.serial.casefold() != serial.casefold():
        raise NotAllowedError(
            f"the form was filled for {session.intake.serial}, and the serial is {serial}.",
            where="Open a unit",
            advice="Press Enter in the serial: the rest is looked up anew.",
            field="serial",
        )
    wanted = session.shop.lot_wanted(found[0]) if found else ""
    if wanted and not lot:
        raise NotAllowedError(
            f"{wanted}.", where="Open a unit", advice="What you typed is kept.", field="lot"
        )
    if not found or lot not in session.shop.lots:
        raise NotAllowedError(
            "the specification or the oil lot is missing.",
            where="Open a unit",
            advice="Choose both; what you typed is kept.",
            field="lot" if found else "specification",
        )
    specification = found[0]
    closed = session.shop.closed_lots.get(lot)
    if closed is not None:
        raise NotAllowedError(
            f"lot {lot} is {closed.why}.",
            where="Open a unit",
            advice="Choose another lot.",
            field="lot",
        )
    chosen_lot = session.shop.lots[lot]
    if chosen_lot not in session.shop.lots_for(specification):
        raise NotAllowedError(
            f"lot {lot} is {chosen_lot.oil}; this family takes {specification.oil.grade}.",
            where="Open a unit",
            advice="Choose a lot of that oil.",
            field="lot",
        )
    order, position = fields.get("order", "").strip(), fields.get("position", "").strip()
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
    session.take(opened_rebuild(entry, specification))
    stands = f" Order {line.order}." if line else ""
    before, severity = _before(session, opened)
    return Message(f"{serial} is open: {specification.family}.{stands}{before}", severity)


def _before(session: BenchSession, opened: RebuildOpened) -> tuple[str, Severity]:
    """Say when this serial was here before; it needs attention when it was another family."""
    earlier = [
        unit
        for unit in earlier_rebuilds(session.store, opened.serial)
        if unit.unit_id != opened.unit_id
    ]
    if not earlier:
        return "", Severity.NORMAL
    last = earlier[0]
    times = "once" if len(earlier) == 1 else f"{len(earlier)} times"
    said = f" Here before {times}, last {last.sort_utc:%Y-%m-%d} as {last.family}."
    return said, attention_if(last.family != opened.family)


def next_unit(session: BenchSession, fields: Mapping[str, str]) -> str:
    """Take an ended unit off the bench."""
    if session.rebuild is not None and not session.rebuild.ended:
        raise NotAllowedError("this unit is not filed yet.", where=session.rebuild.opened.serial)
    session.take(None)
    return "The bench is free."
