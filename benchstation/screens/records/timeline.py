"""What happened to a unit in order: its signed steps, and what was put on record after filing."""

from collections.abc import Mapping, Sequence
from dataclasses import dataclass

from benchstation.domain.amending import fields_of, title_of
from benchstation.domain.disposition import ALONE, STOPPED, meaning_of, plain_word, ruling_of
from benchstation.domain.events import (
    CustomerTold,
    Event,
    NoticeGiven,
    ReturnExamined,
    UnitAmended,
    UnitDisposed,
    UnitReturned,
    UnitShipped,
)
from benchstation.domain.rebuild import Rebuild
from benchstation.domain.shop_chain import ShopFact
from benchstation.domain.unit_record import UnitRecord
from benchstation.physics.shipping import RULES
from benchstation.quantities.formatter import QuantityFormatter, local_time
from benchstation.reports.evidence_words import evidence_in_words
from benchstation.reports.export import FiledRecord
from benchstation.screens.model.elements import Tone
from benchstation.screens.model.filters import question_in
from benchstation.screens.model.records import TimelineRow
from benchstation.screens.records.after_filing import value_in_words
from benchstation.screens.records.front import when
from benchstation.store.journal import Entry
from benchstation.store.words_on_units import Word


def step_rows(record: UnitRecord, words: QuantityFormatter) -> tuple[TimelineRow, ...]:
    """Return the signed steps; one that a deviation signs is marked."""
    deviating = {one.step for one in record.deviations}
    return tuple(
        TimelineRow(
            when(step.utc),
            step.title,
            evidence_in_words(step.evidence, words),
            step.name,
            Tone.CAUTION if step.id in deviating else Tone.PLAIN,
        )
        for step in record.steps
    )


def steps_until_now(
    rebuild: Rebuild, names: Mapping[str, str], words: QuantityFormatter
) -> tuple[TimelineRow, ...]:
    """Return the steps signed until now of a unit that has no record yet."""
    titles = {step.id: step.title for step in rebuild.specification.steps}
    return tuple(
        TimelineRow(
            local_time(signed.utc),
            titles[step],
            evidence_in_words(signed.evidence, words),
            names.get(signed.person, signed.person),
            Tone.CAUTION if rebuild.deviated(step) else Tone.PLAIN,
        )
        for step, signed in rebuild.signatures.items()
    )


def later_rows(
    said: Sequence[ShopFact],
    waiting: Sequence[Word],
    names: Mapping[str, str],
    filed: FiledRecord,
    words: QuantityFormatter,
) -> tuple[TimelineRow, ...]:
    """Return what was put on record of a unit since; words that contradict each other say so."""
    undecided = {fact.seq for fact, _ in waiting}
    known = {fact.seq for fact in said if fact.seq}
    every = [*said, *(fact for fact, _ in waiting if fact.seq not in known)]
    told = Told(filed, names, words)
    return tuple(told.row(fact, to_settle=fact.seq in undecided) for fact in every)


@dataclass(slots=True)
class Told:
    """Tells the facts about a unit one after the other."""

    filed: FiledRecord
    names: Mapping[str, str]
    words: QuantityFormatter
    amended: int = 0
    """How many amendments were told so far."""

    def row(self, fact: ShopFact, *, to_settle: bool) -> TimelineRow:
        """Return one fact, who put it on record and where it stands."""
        title, said, stops = self._said(fact.event)
        return TimelineRow(
            local_time(fact.utc),
            f"{title}{', to settle' if to_settle else ''}",
            f"{said}; {fact.bench} entry {fact.own or fact.seq}",
            self.names.get(fact.person, fact.person),
            Tone.CAUTION if stops or to_settle else Tone.PLAIN,
        )

    def _said(self, event: Event) -> tuple[str, str, bool]:
        match event:
            case UnitDisposed():
                standing = ruling_of(event.disposition)
                meaning = meaning_of(event.disposition)
                together = ", signed with others" if event.batch else ""
                said = f"{event.reason} (“{meaning}”{together})" if meaning else event.reason
                return f"QA: {standing}", said, standing in STOPPED
            case UnitAmended():
                return self._amendment(event)
            case UnitShipped():
                order = f", order {event.order}" if event.order else ""
                packed = f", {event.package}" if event.package else ""
                by = event.un or RULES.get(event.clause, event.clause)
                where = f", {' / '.join(event.address.splitlines())}" if event.address else ""
                return f"Shipped to {event.customer}", f"{by}{where}{order}{packed}", False
            case UnitReturned():
                found = f"; found: {event.found}" if event.found else ""
                return "Is back", f"complaint: {event.complaint}{found}", True
            case ReturnExamined():
                return "Examined", f"found: {event.found}", False
            case CustomerTold():
                return "Customer told", event.how, False
            case _:
                return event.kind, "", False

    def _amendment(self, event: UnitAmended) -> tuple[str, str, bool]:
        self.amended += 1
        total = len(self.filed.disposition.amendments)
        field = fields_of(self.filed.record).get(event.field)
        values = [str(event.old) or "nothing", str(event.new) or "nothing"]
        if field is not None:
            values = [value_in_words(field, value, self.words) for value in (event.old, event.new)]
        approver = plain_word(event.approved_by)
        by = self.names.get(approver, approver)
        alone = ", not independent" if event.approved_by.endswith(ALONE) else ""
        judged = f"; judged with it: {event.decision}, so on hold" if event.decision else ""
        title = title_of(self.filed.record, event.field)
        return (
            f"Amended, {self.amended} of {max(total, self.amended)}: {title}",
            f"“{values[0]}” is in truth “{values[1]}”: {event.reason}; approved by {by}{alone}"
            f"{judged}",
            bool(event.decision),
        )


def notice_rows(notices: Sequence[Entry], names: Mapping[str, str]) -> tuple[TimelineRow, ...]:
    """Return who was told of a unit, and which search had found it."""
    return tuple(
        TimelineRow(
            local_time(entry.utc),
            f"Told: {entry.event.told}",
            f"found by: {question_in(entry.event.question).in_words or 'all units'}",
            names.get(entry.person, entry.person),
        )
        for entry in notices
        if isinstance(entry.event, NoticeGiven)
    )
