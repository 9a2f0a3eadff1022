"""Filing a finished unit, and QA's word on it."""

from collections.abc import Mapping

from benchstation import __version__
from benchstation.domain import unit_commands as commands
from benchstation.domain.unit_commands import NotAllowedError, require_step
from benchstation.domain.events import InstrumentRegistered
from benchstation.domain.matching import set_in_record
from benchstation.domain.record import Surround, file_unit
from benchstation.domain.specification import StepKind
from benchstation.bench.session import Desk
from benchstation.bench.sets import set_of
from benchstation.store.queries import instruments_behind


def file(desk: Desk, fields: Mapping[str, str]) -> str:
    """File the finished unit's record, once and for good."""
    rebuild = desk.unit()
    assert desk.person is not None
    step = require_step(rebuild, StepKind.FILE)
    # Compared anew: what the screen shows may be older than the set's last filed unit.
    matched = desk.matched = set_of(desk.store, rebuild)
    if matched is not None and matched.against and not rebuild.deviated(step.id):
        raise NotAllowedError(
            f"it does not match its set: {', '.join(s.what for s in matched.against)}.",
            where=rebuild.opened.serial,
            advice="Work it again, or have a lead or QA accept it as a deviation.",
        )
    surround = Surround(
        desk.shop.name,
        desk.shop.bench,
        f"benchstation {__version__}",
        desk.person.person_id,
        desk.shop.people,
        desk.shop.lots[rebuild.opened.oil_lot],
        _instruments(desk, rebuild.unit_id),
        desk.watch.limits,
        desk.shop.lots,
        set_in_record(matched.order, matched.members, matched.spreads) if matched else None,
    )
    filed = file_unit(rebuild, surround, desk.clock.utc())
    desk.journal([filed])
    desk.worry = filed.qa_hold
    held = ", on QA hold" if filed.qa_hold else ""
    return f"{rebuild.opened.serial} is filed: {filed.decision}{held}."


def _instruments(desk: Desk, unit_id: str) -> list[InstrumentRegistered]:
    """Give scales, then gauges: those the evidence rests on, the fitted one where there is none."""
    used = instruments_behind(desk.store, unit_id)
    roles = {instrument.role for instrument in used}
    fitted = [f.registered for f in (desk.scale, desk.gauge) if f.registered.role not in roles]
    return sorted([*used, *fitted], key=lambda instrument: instrument.role != "scale")


def dispose(desk: Desk, fields: Mapping[str, str]) -> str:
    """Put QA's word on a filed unit on record."""
    assert desk.person is not None
    unit_id, word = fields.get("unit", ""), fields.get("disposition", "")
    desk.journal([commands.dispose(unit_id, word, fields.get("reason", ""), desk.person)])
    return f"This unit is {word}."
