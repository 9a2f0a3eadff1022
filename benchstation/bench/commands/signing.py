"""Signing, accepting, going back and giving up at the step at hand."""

from collections.abc import Mapping

from benchstation.domain import unit_commands as commands
from benchstation.domain.unit_commands import require_step
from benchstation.bench.commands.evidence import SIGNED, deviation_events, evidence_events
from benchstation.bench.session import Desk


def sign(desk: Desk, fields: Mapping[str, str]) -> str:
    """Sign a step with its evidence."""
    rebuild = desk.unit()
    step = require_step(rebuild, *SIGNED)
    desk.keep_typed(fields)
    desk.require_no_pressure(step.title)
    events = evidence_events(desk, rebuild, step, fields)
    desk.journal(events)
    return f"{step.title}: signed."


def deviation(desk: Desk, fields: Mapping[str, str]) -> str:
    """Accept the step's result outside its limits, with a reason."""
    rebuild = desk.unit()
    step = require_step(rebuild)
    desk.keep_typed(fields)
    desk.require_no_pressure(step.title)
    desk.journal(deviation_events(desk, rebuild, step, fields))
    return f"{step.title}: accepted as a deviation; the unit goes to QA hold."


def back(desk: Desk, fields: Mapping[str, str]) -> str:
    """Go back to a signed step, with a reason."""
    rebuild = desk.unit()
    events = commands.reopen(
        rebuild,
        fields.get("step") or next(reversed(list(rebuild.signatures)), ""),
        fields.get("reason", ""),
        gas_in_unit=desk.gas_in_unit(),
    )
    desk.journal(events)
    current = desk.unit().current
    return f"Back at '{current.title if current else ''}'."


def abandon(desk: Desk, fields: Mapping[str, str]) -> str:
    """End the rebuild without a finished unit, with a reason."""
    gas = desk.gas_in_unit() or desk.unsafe_pressure_pa() is not None
    desk.journal(commands.abandon(desk.unit(), fields.get("reason", "")))
    desk.worry = gas
    warned = " There may be gas in it: let it out before anybody opens it." if gas else ""
    return f"Abandoned; all that was done stays on record.{warned}"
