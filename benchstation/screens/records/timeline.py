"""What happened to a unit in order: its signed steps, and what was put on record after filing."""

from collections.abc import Mapping, Sequence

from benchstation.domain.disposition import REJECTIONS, Standing, ruling_of
from benchstation.domain.events import NoticeGiven, UnitDisposed
from benchstation.domain.rebuild import Rebuild
from benchstation.domain.shop_chain import ShopFact
from benchstation.domain.unit_record import UnitRecord
from benchstation.quantities.formatter import QuantityFormatter, local_time
from benchstation.reports.evidence_words import evidence_in_words
from benchstation.screens.model.elements import Tone
from benchstation.screens.model.filters import question_in
from benchstation.screens.model.records import TimelineRow
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
    said: Sequence[Word], waiting: Sequence[Word], names: Mapping[str, str]
) -> tuple[TimelineRow, ...]:
    """Return what QA said since a unit was filed; words that contradict each other say so."""
    undecided = {fact.seq for fact, _ in waiting}
    known = {fact.seq for fact, _ in said if fact.seq}
    every = [*said, *(one for one in waiting if one[0].seq not in known)]
    return tuple(_ruling(fact, word, fact.seq in undecided, names) for fact, word in every)


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


def _ruling(
    fact: ShopFact, word: UnitDisposed, to_settle: bool, names: Mapping[str, str]
) -> TimelineRow:
    standing = ruling_of(word.disposition)
    stops = to_settle or standing in REJECTIONS or standing is Standing.ON_HOLD
    return TimelineRow(
        local_time(fact.utc),
        f"QA: {standing}{', to settle' if to_settle else ''}",
        f"{word.reason}; {fact.bench} entry {fact.own or fact.seq}",
        names.get(fact.person, fact.person),
        Tone.CAUTION if stops else Tone.PLAIN,
    )
