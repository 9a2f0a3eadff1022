"""Filing a finished unit."""

from dataclasses import dataclass

from benchstation import __version__
from benchstation.bench.clock_check import ran_back_since_opening
from benchstation.bench.messages import Message, attention_if
from benchstation.bench.put_back import put_back_since_opening
from benchstation.bench.session import WORKERS, BenchSession, Command
from benchstation.bench.sets import set_of
from benchstation.bench.virtual import virtual_during
from benchstation.bench.withdrawn import lacking_at_filing
from benchstation.domain.events import (
    InstrumentChecked,
    InstrumentRegistered,
    LearnedLate,
    SpecificationApproved,
    SpecificationDrafted,
)
from benchstation.domain.instrument_roles import InstrumentRole
from benchstation.domain.matching import set_in_record
from benchstation.domain.record import RecordContext, file_unit, stamp
from benchstation.domain.shop_chain import Subject
from benchstation.domain.specification import Specification, StepKind
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
                advice="Correct it, or have a lead or QA accept it as a deviation.",
            )
        # Compared anew: what the screen shows may be older than the set's last filed unit.
        matched = session.work.compare(set_of(session.store, rebuild))
        if matched is not None and matched.refusal and not rebuild.deviated(step.id):
            raise NotAllowedError(
                f"{matched.refusal}.",
                where=rebuild.opened.serial,
                advice="Rework it, or have a lead or QA accept it as a deviation.",
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
            virtual=virtual_during(session.store, rebuild),
            written_by=_written_by(session, rebuild.specification),
            learned_late=_learned_late(session, rebuild.unit_id),
            clock_ran_back=ran_back_since_opening(session.store, rebuild.unit_id),
            records_lack=put_back_since_opening(session.store, rebuild.unit_id),
        )
        filed = file_unit(rebuild, context, session.clock.utc())
        session.journal([filed])
        held = ", on QA hold" if filed.qa_hold else ""
        said = f"{rebuild.opened.serial} is filed: {filed.decision}{held}."
        return Message(said, attention_if(filed.qa_hold))


def _written_by(session: BenchSession, specification: Specification) -> tuple[str, str]:
    """Return who wrote a specification and who approved it, by name; empty: not on record."""
    written = approved = ""
    for fact in session.store.facts(Subject.SPECIFICATION):
        event = fact.event
        if not isinstance(event, SpecificationDrafted | SpecificationApproved):
            continue
        if (event.specification_id, event.revision) != (specification.id, specification.revision):
            continue
        known = session.shop.people.get(fact.person)
        name = known.name if known is not None else fact.person
        if isinstance(event, SpecificationApproved):
            approved = name
        elif event.content_sha256 == specification.sha256():
            written = name
    return written, approved


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
