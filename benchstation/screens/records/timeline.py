"""What happened to a unit in order: its signed steps, and what was put on record after filing."""

from collections.abc import Iterator, Mapping, Sequence
from datetime import datetime

from benchstation.domain.disposition import STOPPED, meaning_of, ruling_of
from benchstation.domain.events import NoticeGiven, UnitDisposed
from benchstation.domain.rebuild import Rebuild
from benchstation.domain.shop_chain import ShopFact
from benchstation.domain.unit_record import UnitRecord
from benchstation.quantities.formatter import QuantityFormatter, local_time
from benchstation.reports.amended_words import (
    amendable,
    amendment_words,
    return_words,
    shipment_words,
)
from benchstation.reports.evidence_words import evidence_in_words
from benchstation.reports.export import FiledRecord
from benchstation.screens.model.elements import Tone
from benchstation.screens.model.filters import question_in
from benchstation.screens.model.records import TimelineRow
from benchstation.screens.records.front import when
from benchstation.store.journal import Entry
from benchstation.store.words_on_units import Word

Dated = tuple[datetime, TimelineRow]


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
    filed: FiledRecord,
    words_said: tuple[Sequence[Word], Sequence[Word]],
    notices: Sequence[Entry],
    names: Mapping[str, str],
    words: QuantityFormatter,
) -> tuple[TimelineRow, ...]:
    """Return what was put on record since a unit was filed, oldest first.

    ``words_said`` are QA's words in force, and those that contradict another and wait.
    """
    said, waiting = words_said
    dated = [*_rulings(said, waiting, names), *_told(notices, names), *_after(filed, words)]
    return tuple(row for _, row in sorted(dated, key=lambda one: one[0]))


def _rulings(
    said: Sequence[Word], waiting: Sequence[Word], names: Mapping[str, str]
) -> Iterator[Dated]:
    undecided = {fact.seq for fact, _ in waiting}
    known = {fact.seq for fact, _ in said if fact.seq}
    for fact, word in (*said, *(one for one in waiting if one[0].seq not in known)):
        yield fact.utc, _ruling(fact, word, fact.seq in undecided, names)


def _ruling(
    fact: ShopFact, word: UnitDisposed, to_settle: bool, names: Mapping[str, str]
) -> TimelineRow:
    standing, meaning = ruling_of(word.disposition), meaning_of(word.disposition)
    signed = f'; signed: "{meaning}"' if meaning else ""
    return TimelineRow(
        local_time(fact.utc),
        f"QA: {standing}{', to settle' if to_settle else ''}",
        f"{word.reason}{signed}; {fact.bench} entry {fact.own or fact.seq}",
        names.get(fact.person, fact.person),
        Tone.CAUTION if to_settle or standing in STOPPED else Tone.PLAIN,
    )


def _told(notices: Sequence[Entry], names: Mapping[str, str]) -> Iterator[Dated]:
    """Return who was told of a unit, and which search had found it."""
    for entry in notices:
        if isinstance(entry.event, NoticeGiven):
            yield (
                entry.utc,
                TimelineRow(
                    local_time(entry.utc),
                    f"Told: {entry.event.told}",
                    f"found by: {question_in(entry.event.question).in_words or 'all units'}",
                    names.get(entry.person, entry.person),
                ),
            )


def _after(filed: FiledRecord, words: QuantityFormatter) -> Iterator[Dated]:
    """Return amendments, shipments and returns."""
    said = filed.disposition
    fields, count = amendable(filed.record, said.shipments), len(said.amendments)
    for one in said.amendments:
        title, what, who = amendment_words(one, fields, words)
        head = f"Amendment {one.number} of {count}: {title}"
        tone = Tone.CAUTION if one.decision else Tone.PLAIN
        yield (
            one.utc,
            TimelineRow(local_time(one.utc), head, f"{what}; entry {one.entry}", who, tone),
        )
    for sent in said.shipments:
        entry = f"{shipment_words(sent.shipped)}; {sent.bench} entry {sent.entry}"
        yield sent.utc, TimelineRow(local_time(sent.utc), "Shipped", entry, sent.person)
    for back in said.returns:
        entry = f"{return_words(back)}; {back.bench} entry {back.entry}"
        row = TimelineRow(local_time(back.utc), "Returned", entry, back.person, Tone.CAUTION)
        yield back.utc, row
