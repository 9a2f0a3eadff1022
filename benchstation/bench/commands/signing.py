"""Signing, accepting, going back and giving up at the step at hand."""

from collections.abc import Mapping

from benchstation.bench.commands.evidence import SIGNED, deviation_events, evidence_events
from benchstation.bench.messages import Message, attention_if
from benchstation.bench.session import BenchSession
from benchstation.domain import unit_commands as commands
from benchstation.domain.unit_commands import require_step


def sign(session: BenchSession, fields: Mapping[str, str]) -> str:
    """Sign a step with its evidence."""
    rebuild = session.unit()
    step = require_step(rebuild, *SIGNED)
    session.keep_typed(fields)
    session.require_no_pressure(step.title)
    events = evidence_events(session, rebuild, step, fields)
    session.journal(events)
    return f"{step.title}: signed."


def deviation(session: BenchSession, fields: Mapping[str, str]) -> str:
    """Accept the step's result outside its limits, with a reason."""
    rebuild = session.unit()
    step = require_step(rebuild)
    session.keep_typed(fields)
    session.require_no_pressure(step.title)
    session.journal(deviation_events(session, rebuild, step, fields))
    return f"{step.title}: accepted as a deviation; the unit goes to QA hold."


def back(session: BenchSession, fields: Mapping[str, str]) -> str:
    """Go back to a signed step, with a reason."""
    rebuild = session.unit()
    events = commands.reopen(
        rebuild,
        fields.get("step") or next(reversed(list(rebuild.signatures)), ""),
        fields.get("reason", ""),
        gas_in_unit=session.gas_in_unit(),
    )
    session.journal(events)
    current = session.unit().current
    return f"Back at '{current.title if current else ''}'."


def abandon(session: BenchSession, fields: Mapping[str, str]) -> Message:
    """End the rebuild without a finished unit, with a reason."""
    gas = session.gas_in_unit() or session.unsafe_pressure_pa() is not None
    session.journal(commands.abandon(session.unit(), fields.get("reason", "")))
    warned = " There may be gas in it: let it out before anybody opens it." if gas else ""
    return Message(f"Abandoned; all that was done stays on record.{warned}", attention_if(gas))
