"""Setting a unit aside and fetching it, handing it over and taking it over."""

from collections.abc import Mapping

from benchstation.domain import unit_commands as commands, pausing
from benchstation.domain.unit_commands import NotAllowedError
from benchstation.domain.specification import StepKind
from benchstation.bench.commands import capturing, signing_in, materials as stores
from benchstation.bench.session import Desk, not_captured
from benchstation.store.order_queries import units_at_hand


def set_aside(desk: Desk, fields: Mapping[str, str]) -> str:
    """Take the unit off the bench for a while; the tare goes, and what was asked for."""
    rebuild = desk.unit()
    gas, gauge_pa = desk.gas_in_unit(), desk.gauge.good_value(desk.clock.seconds())
    reason = fields.get("reason", "")
    events = pausing.set_aside(
        rebuild, reason, gas_in_unit=gas, gauge_pa=gauge_pa, units=desk.display
    )
    capturing.cancel(desk, {})
    undo = desk.lose_tare("the unit is set aside")
    desk.journal(events)
    said = desk.unit().asides[-1].gas
    desk.take(None)
    desk.worry = said != pausing.PROVEN_OUT or bool(undo)
    return f"{rebuild.opened.serial} is set aside. Gas: {said}. {undo}".rstrip()


def fetch(desk: Desk, fields: Mapping[str, str]) -> str:
    """Put a unit that lies aside back on the bench."""
    if desk.rebuild is not None and not desk.rebuild.ended:
        raise NotAllowedError(
            f"{desk.rebuild.opened.serial} is on the bench.",
            where="Queue",
            advice="File it or set it aside first.",
        )
    wanted = fields.get("unit", "")
    aside = [u for u in units_at_hand(desk.store) if u.state == "aside"]
    if wanted not in [u.unit_id for u in aside]:
        raise NotAllowedError("this unit does not lie aside.", where="Queue")
    before, rebuild = desk.rebuild, desk.folded(wanted)
    events = pausing.fetch(rebuild)
    desk.take(rebuild)
    try:
        desk.journal(events)
    except BaseException:
        desk.take(before)
        raise
    rebuild = desk.unit()
    step = commands.going_step(rebuild)
    desk.worry = rebuild.proof_due or rebuild.asides[-1].gas != pausing.PROVEN_OUT
    gas = " Prove anew that its gas is out." if rebuild.proof_due else ""
    if not gas and desk.worry:
        gas = f" Gas: {rebuild.asides[-1].gas}."
    if step.kind is StepKind.CHARGE:
        gas = f"{gas} The charge is captured anew."
    lots = stores.withdrawn_in(desk, wanted)
    desk.worry = desk.worry or bool(lots)
    lost = rebuild.uncaptured
    undo = f" {not_captured(lost.uncaptured_kg, desk.words)}" if lost else ""
    desk.worry = desk.worry or bool(undo)
    return f"{rebuild.opened.serial} is back at '{step.title}'.{gas}{lots}{undo}"


def prove(desk: Desk, fields: Mapping[str, str]) -> str:
    """Prove anew that the gas is out of a unit that lay aside."""
    gauge_pa = desk.gauge.good_value(desk.clock.seconds())
    instrument = desk.gauge.registered.instrument_id
    units = desk.display
    desk.journal(pausing.prove_zero(desk.unit(), fields, gauge_pa, instrument, units=units))
    return f"The gas is out; go on with '{commands.going_step(desk.unit()).title}'."


def to_release(desk: Desk, fields: Mapping[str, str]) -> str:
    """Go back to the release, where the gas cannot be proven out otherwise."""
    rebuild = desk.unit()
    release = rebuild.specification.step_of(StepKind.RELEASE)
    reason = fields.get("reason", "")
    desk.journal(commands.reopen(rebuild, release.id, reason, gas_in_unit=True))
    return f"Back at '{release.title}'."


def hand_over(desk: Desk, fields: Mapping[str, str]) -> str:
    """Leave the unit to somebody else with a note, and sign out."""
    rebuild = desk.unit()
    desk.journal(pausing.hand_over(rebuild, fields.get("reason", "")))
    out = signing_in.hand_over(desk, None)
    return f"{rebuild.opened.serial} is handed over; whoever signs in sees the note. {out}"


def take_over(desk: Desk, fields: Mapping[str, str]) -> str:
    """Confirm that the note was read, and go on."""
    assert desk.person is not None
    desk.journal(pausing.take_over(desk.unit(), desk.person))
    return f"{desk.person.name} goes on with {desk.unit().opened.serial}."
