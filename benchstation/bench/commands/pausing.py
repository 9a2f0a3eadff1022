"""Setting a unit aside and fetching it, handing it over and taking it over."""

from collections.abc import Mapping

from benchstation.bench.commands import capturing, materials, signing_in
from benchstation.bench.messages import Message, attention_if
from benchstation.bench.session import BenchSession, not_captured
from benchstation.domain import pausing
from benchstation.domain import unit_commands as commands
from benchstation.domain.specification import StepKind
from benchstation.domain.statement_words import GAS
from benchstation.domain.statements import Code, Gas, Statement
from benchstation.domain.unit_commands import NotAllowedError
from benchstation.store.order_queries import units_at_hand


def set_aside(session: BenchSession, fields: Mapping[str, str]) -> Message:
    """Take the unit off the bench for a while; the tare goes, and what was asked for."""
    rebuild = session.unit()
    gas, gauge_pa = session.gas_in_unit(), session.gauge.good_value(session.clock.seconds())
    reason = fields.get("reason", "")
    events = pausing.set_aside(
        rebuild, reason, gas_in_unit=gas, gauge_pa=gauge_pa, units=session.display
    )
    capturing.cancel(session, {})
    undo = session.lose_tare(Statement(Code.SET_ASIDE))
    session.journal(events)
    said = session.unit().asides[-1].gas
    session.take(None)
    severity = attention_if(said is not Gas.PROVEN_OUT or undo)
    return Message(
        f"{rebuild.opened.serial} is set aside. Gas: {GAS[said]}. {undo}".rstrip(), severity
    )


def fetch(session: BenchSession, fields: Mapping[str, str]) -> Message:
    """Put a unit that lies aside back on the bench."""
    if session.rebuild is not None and not session.rebuild.ended:
        raise NotAllowedError(
            f"{session.rebuild.opened.serial} is on the bench.",
            where="Queue",
            advice="File it or set it aside first.",
        )
    wanted = fields.get("unit", "")
    aside = [u for u in units_at_hand(session.store) if u.state == "aside"]
    if wanted not in [u.unit_id for u in aside]:
        raise NotAllowedError("this unit does not lie aside.", where="Queue")
    before, rebuild = session.rebuild, session.folded(wanted)
    events = pausing.fetch(rebuild)
    session.take(rebuild)
    try:
        session.journal(events)
    except BaseException:
        session.take(before)
        raise
    rebuild = session.unit()
    step = commands.going_step(rebuild)
    unproven = rebuild.proof_due or rebuild.asides[-1].gas is not Gas.PROVEN_OUT
    gas = " Prove anew that its gas is out." if rebuild.proof_due else ""
    if not gas and unproven:
        gas = f" Gas: {GAS[rebuild.asides[-1].gas]}."
    if step.kind is StepKind.CHARGE:
        gas = f"{gas} The charge is captured anew."
    lots = materials.withdrawn_in(session, wanted)
    lost = rebuild.uncaptured
    undo = f" {not_captured(lost.uncaptured_kg, session.words)}" if lost else ""
    said = f"{rebuild.opened.serial} is back at '{step.title}'.{gas}{lots}{undo}"
    return Message(said, attention_if(unproven or lots or undo))


def prove(session: BenchSession, fields: Mapping[str, str]) -> str:
    """Prove anew that the gas is out of a unit that lay aside."""
    gauge_pa = session.gauge.good_value(session.clock.seconds())
    instrument = session.gauge.registered.instrument_id
    units = session.display
    session.journal(pausing.prove_zero(session.unit(), fields, gauge_pa, instrument, units=units))
    return f"The gas is out; continue with '{commands.going_step(session.unit()).title}'."


def to_release(session: BenchSession, fields: Mapping[str, str]) -> str:
    """Go back to the release, where the gas cannot be proven out otherwise."""
    rebuild = session.unit()
    release = rebuild.specification.step_of(StepKind.RELEASE)
    reason = fields.get("reason", "")
    session.journal(commands.reopen(rebuild, release.id, reason, gas_in_unit=True))
    return f"Back at '{release.title}'."


def hand_over(session: BenchSession, fields: Mapping[str, str]) -> str:
    """Leave the unit to somebody else with a note, and sign out."""
    rebuild = session.unit()
    session.journal(pausing.hand_over(rebuild, fields.get("reason", "")))
    out = signing_in.hand_over(session, None)
    return f"{rebuild.opened.serial} is handed over; whoever signs in sees the note. {out}"


def take_over(session: BenchSession, fields: Mapping[str, str]) -> str:
    """Confirm that the note was read, and go on."""
    assert session.person is not None
    session.journal(pausing.take_over(session.unit(), session.person))
    return f"{session.person.name} continues with {session.unit().opened.serial}."
