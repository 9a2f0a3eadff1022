"""Setting a unit aside and fetching it, handing it over and taking it over."""

from collections.abc import Mapping
from dataclasses import dataclass

from benchstation.bench.capture.next_step import not_captured
from benchstation.bench.commands.evidence import bench_now
from benchstation.bench.commands.parsing import named
from benchstation.bench.commands.signing_in import change_person
from benchstation.bench.locks import gas_in_unit
from benchstation.bench.messages import Message, attention_if
from benchstation.bench.session import WORKERS, BenchSession, Command
from benchstation.bench.signed_in import BY_HAND
from benchstation.bench.tare_loss import lose_tare
from benchstation.bench.withdrawn import withdrawn_from
from benchstation.domain import pausing
from benchstation.domain import unit_commands as commands
from benchstation.domain.specification import StepKind
from benchstation.domain.statement_words import GAS
from benchstation.domain.statements import Code, Gas, Statement
from benchstation.domain.unit_commands import NotAllowedError
from benchstation.store.order_queries import units_at_hand


@dataclass(frozen=True, slots=True)
class SetAside(Command):
    """Take the unit off the bench for a while; the tare goes, and what was asked for."""

    roles = WORKERS
    reason: str

    def __call__(self, session: BenchSession) -> Message:
        rebuild = session.unit()
        gas, gauge_pa = gas_in_unit(session), session.gauge.good_value(session.clock.seconds())
        reason = self.reason
        events = pausing.set_aside(
            rebuild, reason, gas_in_unit=gas, gauge_pa=gauge_pa, units=session.display
        )
        session.work.stop()
        undo = lose_tare(session, Statement(Code.SET_ASIDE))
        session.journal(events)
        said = session.unit().asides[-1].gas
        session.on_bench.take(None)
        severity = attention_if(said is not Gas.PROVEN_OUT or undo)
        return Message(
            f"{rebuild.opened.serial} is set aside. Gas: {GAS[said]}. {undo}".rstrip(), severity
        )


@dataclass(frozen=True, slots=True)
class Fetch(Command):
    """Put a unit that lies aside back on the bench."""

    roles = WORKERS
    unit_id: str = named("unit")

    def __call__(self, session: BenchSession) -> Message:
        if session.rebuild is not None and not session.rebuild.ended:
            raise NotAllowedError(
                f"{session.rebuild.opened.serial} is on the bench.",
                where="Queue",
                advice="File it or set it aside first.",
            )
        wanted = self.unit_id
        aside = [u for u in units_at_hand(session.store) if u.state == "aside"]
        if wanted not in [u.unit_id for u in aside]:
            raise NotAllowedError("this unit is not set aside.", where="Queue")
        before, rebuild = session.rebuild, session.on_bench.folded(wanted)
        events = pausing.fetch(rebuild)
        session.on_bench.take(rebuild)
        try:
            session.journal(events)
        except BaseException:
            session.on_bench.take(before)
            raise
        rebuild = session.unit()
        step = commands.going_step(rebuild)
        unproven = rebuild.proof_due or rebuild.asides[-1].gas is not Gas.PROVEN_OUT
        gas = " Prove again that its gas is out." if rebuild.proof_due else ""
        if not gas and unproven:
            gas = f" Gas: {GAS[rebuild.asides[-1].gas]}."
        if step.kind is StepKind.CHARGE:
            gas = f"{gas} Capture the charge again."
        gone = withdrawn_from(session.shop, rebuild)
        lots = "".join(f" L{lot.words[1:]}." for lot in gone)
        lost = rebuild.uncaptured
        undo = f" {not_captured(lost.uncaptured_kg, session.words)}" if lost else ""
        said = f"{rebuild.opened.serial} is back at '{step.title}'.{gas}{lots}{undo}"
        return Message(said, attention_if(unproven or lots or undo))


@dataclass(frozen=True, slots=True)
class ProveZero(Command):
    """Prove anew that the gas is out of a unit that lay aside."""

    roles = WORKERS
    form: Mapping[str, str]

    def __call__(self, session: BenchSession) -> Message:
        rebuild = session.unit()
        release = rebuild.specification.step_of(StepKind.RELEASE)
        now = bench_now(session, rebuild, release, self.form)
        session.journal(pausing.prove_zero(rebuild, self.form, now))
        return Message(
            f"The gas is out; continue with '{commands.going_step(session.unit()).title}'."
        )


@dataclass(frozen=True, slots=True)
class GoToRelease(Command):
    """Go back to the release, where the gas cannot be proven out otherwise."""

    roles = WORKERS
    reason: str

    def __call__(self, session: BenchSession) -> Message:
        rebuild = session.unit()
        release = rebuild.specification.step_of(StepKind.RELEASE)
        session.journal(commands.reopen(rebuild, release.id, self.reason, gas_in_unit=True))
        return Message(f"Back at '{release.title}'.")


@dataclass(frozen=True, slots=True)
class HandOver(Command):
    """Leave the unit to somebody else with a note, and sign out."""

    roles = WORKERS
    reason: str

    def __call__(self, session: BenchSession) -> Message:
        rebuild = session.unit()
        session.journal(pausing.hand_over(rebuild, self.reason))
        out = change_person(session, None, BY_HAND)
        return Message(
            f"{rebuild.opened.serial} is handed over; whoever signs in sees the note. {out}"
        )


@dataclass(frozen=True, slots=True)
class TakeOver(Command):
    """Confirm that the note was read, and go on."""

    roles = WORKERS

    def __call__(self, session: BenchSession) -> Message:
        assert session.person is not None
        session.journal(pausing.take_over(session.unit(), session.person))
        return Message(f"{session.person.name} continues with {session.unit().opened.serial}.")
