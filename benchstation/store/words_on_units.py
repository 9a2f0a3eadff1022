"""What is in force about a filed unit, of the bench and of the shop's desk, in its order."""

from collections.abc import Sequence
from datetime import datetime

from sqlalchemy import select

from benchstation.domain.amending import shipments_in
from benchstation.domain.disposition import (
    ALONE,
    Amendment,
    Disposition,
    Notice,
    Return,
    Ruling,
    Shipment,
    Standing,
    Superseded,
    course_of,
    meaning_of,
    plain_word,
    ruling_of,
    standing_in,
)
from benchstation.domain.events import (
    PersonEnrolled,
    ReturnExamined,
    UnitAmended,
    UnitDisposed,
    UnitFiled,
    UnitReturned,
    UnitShipped,
)
from benchstation.domain.shop_chain import SHOP, ShopFact, Subject
from benchstation.store.after_filing_rules import signatures_asked
from benchstation.store.chain_store import ChainStore
from benchstation.store.errors import NotOnRecordError
from benchstation.store.schema import journal
from benchstation.store.shop_fact_rows import NO_END
from benchstation.store.superseding import later_filing

Word = tuple[ShopFact, UnitDisposed]


def facts_on(store: ChainStore, unit_id: str, before: int = NO_END) -> Sequence[ShopFact]:
    """Return all that is in force about a filed unit.

    Where two words contradict each other and nobody has settled it, the stricter comes last.
    ``before``: as it was when the chain's own entry of this number was written.
    """
    return store.facts_about(_subject(unit_id), before)


def words_on(store: ChainStore, unit_id: str) -> Sequence[Word]:
    """Return QA's words that are in force on a unit."""
    return [(f, f.event) for f in facts_on(store, unit_id) if isinstance(f.event, UnitDisposed)]


def words_waiting(store: ChainStore, unit_id: str) -> Sequence[Word]:
    """Return the words on a unit that contradict another and wait for a person to settle it."""
    waiting = [c.fact for c in store.conflicts() if c.subject == _subject(unit_id)]
    return [(fact, fact.event) for fact in waiting if isinstance(fact.event, UnitDisposed)]


def signatures_for_release(store: ChainStore) -> int:
    """Return how many people of QA release a unit, as it is known here."""
    with store.reading() as connection:
        return signatures_asked(connection, store.bench)


def filed_in(store: ChainStore, unit_id: str) -> UnitFiled:
    """Return how a unit was filed. Raises :class:`NotOnRecordError` for one that was not."""
    for entry in reversed(store.entries(unit_id=unit_id, kind=UnitFiled.kind)):
        if isinstance(entry.event, UnitFiled):
            return entry.event
    raise NotOnRecordError("this unit is not filed.", advice="Nothing was changed.")


def disposition_of(
    store: ChainStore,
    unit_id: str,
    *,
    qa_hold: bool,
    told_to: int | None = None,
    until: datetime | None = None,
) -> Disposition:
    """Return what became of a filed unit, as it is known at the end of the own chain.

    ``told_to``: as it was known at that entry; what benches filed counts in the shop up to the time
    of that, or ``until``. Raises :class:`NotOnRecordError`: there is no such entry.
    """
    last = store.entry_at(store.head()[0] if told_to is None else told_to)
    if last is None:
        raise NotOnRecordError(f"the journal has no entry {told_to}.", where=store.where)
    facts = facts_on(store, unit_id, last.seq + 1)
    people = (fact.event for fact in store.facts(Subject.PERSON, before=last.seq + 1))
    names = {e.person_id: e.name for e in people if isinstance(e, PersonEnrolled)}
    course = course_of(fact.event for fact in facts)
    stood = standing_in(course, qa_hold=qa_hold)
    latest = None if told_to is None else max(last.utc, until or last.utc)
    later = _superseded(store, unit_id, stood, last.seq + 1, latest)
    shipped = [(f, f.event) for f in facts if isinstance(f.event, UnitShipped)]
    sent_to = shipments_in(fact.event for fact in facts)
    amended = [(f, f.event) for f in facts if isinstance(f.event, UnitAmended)]
    return Disposition(
        Standing.SUPERSEDED if later is not None else stood,
        tuple(_ruling(f, f.event, names) for f in facts if isinstance(f.event, UnitDisposed)),
        last.seq,
        last.utc,
        tuple(_amendment(n, fact, event, names) for n, (fact, event) in enumerate(amended, 1)),
        tuple(
            Shipment(event, to, names.get(f.person, f.person), f.utc, *_proof(f))
            for (f, event), to in zip(shipped, sent_to, strict=True)
        ),
        _returns(facts, names),
        tuple(notice for notice in Notice if notice in course.notices),
        course.failing,
        later,
    )


def _superseded(
    store: ChainStore, unit_id: str, stood: Standing, before: int, until: datetime | None
) -> Superseded | None:
    with store.reading() as connection:
        row = later_filing(connection, store.bench, unit_id, before, until)
        if row is None:
            return None
        this = journal.c.bench == row["bench"], journal.c.seq == row["filed_seq"]
        own = connection.execute(select(journal.c.hash).where(*this)).scalar_one()
    return Superseded(row["bench"], row["filed_seq"], own, row["filed_utc"], stood)


def _ruling(fact: ShopFact, word: UnitDisposed, names: dict[str, str]) -> Ruling:
    return Ruling(
        ruling_of(word.disposition),
        word.reason,
        names.get(fact.person, fact.person),
        fact.utc,
        fact.own or fact.seq,
        meaning_of(word.disposition),
        word.batch,
    )


def _amendment(number: int, fact: ShopFact, event: UnitAmended, names: dict[str, str]) -> Amendment:
    approver = plain_word(event.approved_by)
    return Amendment(
        number,
        event.field,
        event.old,
        event.new,
        event.reason,
        names.get(fact.person, fact.person),
        names.get(approver, approver),
        not event.approved_by.endswith(ALONE),
        event.decision,
        fact.utc,
        fact.own or fact.seq,
    )


def _returns(facts: Sequence[ShopFact], names: dict[str, str]) -> tuple[Return, ...]:
    found: list[Return] = []
    for fact in facts:
        event, who = fact.event, names.get(fact.person, fact.person)
        if isinstance(event, UnitReturned):
            found.append(Return(event.complaint, event.found, who, fact.utc, *_proof(fact)))
        elif isinstance(event, ReturnExamined) and found:
            last = found[-1]
            found[-1] = Return(last.complaint, event.found, who, last.utc, last.entry, last.bench)
    return tuple(found)


def _proof(fact: ShopFact) -> tuple[int, str]:
    """Return the entry that a fact stands in, and in whose chain."""
    return (fact.own, fact.bench) if fact.own else (fact.seq, SHOP)


def _subject(unit_id: str) -> str:
    return f"{Subject.UNIT}:{unit_id}"
