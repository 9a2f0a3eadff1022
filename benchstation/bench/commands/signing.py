"""Signing, accepting, going back and giving up at the step at hand."""

from collections.abc import Iterable, Mapping
from dataclasses import dataclass

from benchstation.bench.commands.evidence import bench_now, deviation_events, evidence_events
from benchstation.bench.commands.parsing import named
from benchstation.bench.gas_ticks import note_ticks, without_early
from benchstation.bench.locks import gas_in_unit, require_no_pressure, unsafe_pressure_pa
from benchstation.bench.messages import Message, attention_if
from benchstation.bench.session import LEADS_AND_QA, WORKERS, BenchSession, Command, SignedCommand
from benchstation.domain import unit_commands as commands
from benchstation.domain.signing import SIGNED, wrong_at_step
from benchstation.domain.unit_commands import require_step
from benchstation.driver_api.errors import StationError


@dataclass(frozen=True, slots=True)
class Sign(Command):
    """Sign a step with its evidence."""

    roles = WORKERS
    form: Mapping[str, str]

    def __call__(self, session: BenchSession) -> Message:
        rebuild = session.unit()
        step = require_step(rebuild, *SIGNED)
        note_ticks(session, self.form)
        session.work.keep_typed(self.form)
        require_no_pressure(session, step.title)
        form = without_early(session, self.form)
        events = evidence_events(session, rebuild, step, form)
        session.journal(events)
        return Message(f"{step.title}: signed.")

    def wrong(self, session: BenchSession) -> Iterable[StationError]:
        try:
            rebuild = session.unit()
            step = require_step(rebuild, *SIGNED)
            form = without_early(session, self.form)
            now = bench_now(session, rebuild, step, form)
        except StationError:
            # What bars the step as a whole stands where its action says why not.
            return ()
        return wrong_at_step(rebuild, step, form, now)


@dataclass(frozen=True, slots=True)
class AcceptDeviation(SignedCommand):
    """Accept the step's result outside its limits, with a reason."""

    roles = LEADS_AND_QA
    form: Mapping[str, str]

    def __call__(self, session: BenchSession) -> Message:
        rebuild = session.unit()
        step = require_step(rebuild)
        note_ticks(session, self.form)
        session.work.keep_typed(self.form)
        require_no_pressure(session, step.title)
        session.journal(deviation_events(session, rebuild, step, self.form))
        return Message(f"{step.title}: accepted as a deviation; the unit goes to QA hold.")


@dataclass(frozen=True, slots=True)
class GoBack(Command):
    """Go back to a signed step, with a reason."""

    roles = WORKERS
    reason: str
    step_id: str = named("step", default="")

    def __call__(self, session: BenchSession) -> Message:
        rebuild = session.unit()
        events = commands.reopen(
            rebuild,
            self.step_id or next(reversed(list(rebuild.signatures)), ""),
            self.reason,
            gas_in_unit=gas_in_unit(session),
        )
        session.journal(events)
        current = session.unit().current
        return Message(f"Back at '{current.title if current else ''}'.")


@dataclass(frozen=True, slots=True)
class Abandon(Command):
    """End the rebuild without a finished unit, with a reason."""

    roles = WORKERS
    reason: str

    def __call__(self, session: BenchSession) -> Message:
        gas = gas_in_unit(session) or unsafe_pressure_pa(session) is not None
        session.journal(commands.abandon(session.unit(), self.reason))
        warned = " There may be gas in it: let it out before anybody opens it." if gas else ""
        return Message(f"Abandoned; all that was done stays on record.{warned}", attention_if(gas))
