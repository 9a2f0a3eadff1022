"""Filing a finished unit, and QA's word on it."""

from dataclasses import dataclass

from benchstation import __version__
from benchstation.bench.clock_check import ran_back_since_opening
from benchstation.bench.commands.parsing import named
from benchstation.bench.messages import Message, attention_if
from benchstation.bench.session import QA, WORKERS, BenchSession, Command, SignedCommand
from benchstation.bench.sets import set_of
from benchstation.bench.withdrawn import lacking_at_filing
from benchstation.domain import unit_commands as commands
from benchstation.domain.events import InstrumentChecked, InstrumentRegistered, LearnedLate
from benchstation.domain.instrument_roles import InstrumentRole
from benchstation.domain.matching import set_in_record
from benchstation.domain.record import RecordContext, file_unit, stamp
from benchstation.domain.specification import StepKind
from benchstation.domain.statements import Statement
from benchstation.domain.unit_commands import NotAllowedError, require_step
from benchstation.domain.unit_record import RecordedCheck
from benchstation.store.queries import instruments_behind
from benchstation.store.recall import last_checks


@dataclass(frozen=True, slots=True)
class FileUnit(Command):
    """File the finished unit's record, once and for good."""

    roles = WORKERS

    def __call__(self, session: BenchSession) -> Message:
        rebuild = session.unit()
        assert session.person is not None
        step = require_step(rebuild, StepKind.FILE)
        missing = lacking_at_filing(session.shop, rebuild)
        if missing and not rebuild.deviated(step.id):
            raise NotAllowedError(
                f"{missing}.",
                where=rebuild.opened.serial,
                advice="Make good for it, or have a lead or QA accept it as a deviation.",
            )
        # Compared anew: what the screen shows may be older than the set's last filed unit.
        matched = session.work.compare(set_of(session.store, rebuild))
        if matched is not None and matched.against and not rebuild.deviated(step.id):
            raise NotAllowedError(
                f"it does not match its set: {', '.join(s.what for s in matched.against)}.",
                where=rebuild.opened.serial,
                advice="Work it again, or have a lead or QA accept it as a deviation.",
            )
        context = RecordContext(
            session.shop.name,
            session.shop.bench,
            f"benchstation {__version__}",
            session.person.person_id,
            session.shop.people,
            session.shop.lots[rebuild.opened.oil_lot],
            _instruments(session, rebuild.unit_id),
            session.watch.limits,
            session.shop.lots,
            _checks(session),
            set_in_record(matched.order, matched.members, matched.spreads) if matched else None,
            learned_late=_learned_late(session, rebuild.unit_id),
            clock_ran_back=ran_back_since_opening(session.store, rebuild.unit_id),
        )
        filed = file_unit(rebuild, context, session.clock.utc())
        session.journal([filed])
        held = ", on QA hold" if filed.qa_hold else ""
        said = f"{rebuild.opened.serial} is filed: {filed.decision}{held}."
        return Message(said, attention_if(filed.qa_hold))


def _checks(session: BenchSession) -> dict[str, RecordedCheck]:
    """Return the newest check that counts of each instrument, as a record has it."""
    return {
        e.event.instrument_id: RecordedCheck(
            e.event.check,
            e.event.nominal,
            e.event.observed,
            e.event.tolerance,
            e.event.passed,
            stamp(e.utc),
            e.event.zero,
            e.event.weight,
        )
        for e in last_checks(session.store).values()
        if isinstance(e.event, InstrumentChecked)
    }


def _learned_late(session: BenchSession, unit_id: str) -> tuple[Statement, ...]:
    """Return what the shop had decided while this unit was worked on, each once."""
    learned = session.store.entries(unit_id=unit_id, kind=LearnedLate.kind)
    said = [entry.event.what for entry in learned if isinstance(entry.event, LearnedLate)]
    return tuple(one for place, one in enumerate(said) if one not in said[:place])


def _instruments(session: BenchSession, unit_id: str) -> list[InstrumentRegistered]:
    """Return scales, then gauges: those the evidence rests on, the fitted one where none is."""
    used = instruments_behind(session.store, unit_id)
    roles = {instrument.role for instrument in used}
    needed = (session.scale.registered, session.gauge.registered)
    found = [*used, *(one for one in needed if one.role not in roles)]
    order = list(InstrumentRole)
    return sorted(found, key=lambda instrument: order.index(InstrumentRole(instrument.role)))


@dataclass(frozen=True, slots=True)
class Dispose(SignedCommand):
    """Put QA's word on a filed unit on record."""

    roles = QA
    disposition: str
    reason: str
    unit_id: str = named("unit")

    def __call__(self, session: BenchSession) -> Message:
        assert session.person is not None
        session.journal(
            [commands.dispose(self.unit_id, self.disposition, self.reason, session.person)]
        )
        return Message(f"This unit is {self.disposition}.")
