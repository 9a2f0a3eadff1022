"""What may be said and done about a filed unit: the journal takes nothing else."""

from collections.abc import Sequence

from sqlalchemy import Connection, select

from benchstation.domain.amending import current_value
from benchstation.domain.disposition import (
    ALONE,
    FIRST,
    RELEASED,
    RELEASES,
    Standing,
    course_of,
    plain_word,
    standing_in,
)
from benchstation.domain.events import (
    CustomerTold,
    Event,
    RecordShown,
    ReleaseRuleSet,
    ReturnExamined,
    UnitAmended,
    UnitDisposed,
    UnitFiled,
    UnitReturned,
    UnitShipped,
)
from benchstation.domain.shop_chain import RELEASE_RULE, SHOP, ShopFact
from benchstation.domain.unit_record import record_in
from benchstation.store import journal
from benchstation.store.after_filing import facts_about_unit
from benchstation.store.errors import NotInOrderError
from benchstation.store.schema import journal as entries
from benchstation.store.schema import shop_fact, unit
from benchstation.store.shop_fact_rows import NO_END, folded
from benchstation.store.superseding import later_filing

ONLY_FILED = "only a filed unit can be released, held or rejected."
MOST_SIGNATURES = 2


def signatures_asked(connection: Connection, bench: str) -> int:
    """Return how many people of QA release a unit, as it is known here."""
    shop, own = folded(connection, shop_fact.c.subject == RELEASE_RULE, bench)
    said = [fact.event for fact in shop.in_force(own)]
    rules = [event.signatures for event in said if isinstance(event, ReleaseRuleSet)]
    return rules[-1] if rules else 1


def admit(connection: Connection, bench: str, event: Event, person: str, where: str) -> None:
    """Accept an event about a filed unit or the release, or raise :class:`NotInOrderError`."""
    if isinstance(event, ReleaseRuleSet):
        _rule(connection, bench, event, where)
        return
    filed = _filed(connection, bench, getattr(event, "unit_id", ""))
    if not filed:
        raise NotInOrderError(
            ONLY_FILED if isinstance(event, UnitDisposed) else "only of a filed unit can this be.",
            where=where,
            advice="Nothing was added.",
        )
    if isinstance(event, RecordShown):
        return
    facts = facts_about_unit(connection, bench, filed[0].unit_id)
    match event:
        case UnitDisposed():
            _disposing(connection, bench, event, person, facts, where)
        case UnitAmended():
            _amending(filed[0], event, person, facts, where)
        case UnitShipped():
            standing = _standing(filed, facts)
            if _is_superseded(connection, bench, event.unit_id):
                standing = Standing.SUPERSEDED
            if standing not in RELEASES:
                raise _refused(f"the unit is {standing}: only a released unit is shipped.", where)
        case UnitReturned():
            if _standing(filed, facts) is Standing.RETURNED:
                raise _refused("the unit is back already.", where)
        case ReturnExamined():
            if not any(isinstance(fact.event, UnitReturned) for fact in facts):
                raise _refused("the unit never came back.", where)
        case CustomerTold():
            if not course_of(fact.event for fact in facts).notices:
                raise _refused("there is nothing to tell its customer.", where)


def _filed(connection: Connection, bench: str, unit_id: str) -> list[UnitFiled]:
    """Return how a unit was filed: at the bench itself, for the shop at any of its benches."""
    query = select(unit.c.bench, unit.c.filed_seq).where(
        unit.c.unit_id == unit_id, unit.c.state == "filed"
    )
    if bench != SHOP:
        query = query.where(unit.c.bench == bench)
    found = []
    for row in connection.execute(query):
        this = entries.c.bench == row.bench, entries.c.seq == row.filed_seq
        event = journal.entry_of(connection.execute(select(entries).where(*this)).one()).event
        assert isinstance(event, UnitFiled)
        found.append(event)
    return found


def _standing(filed: Sequence[UnitFiled], facts: Sequence[ShopFact]) -> Standing:
    course = course_of(fact.event for fact in facts)
    return standing_in(course, qa_hold=any(one.qa_hold for one in filed))


def _is_superseded(connection: Connection, bench: str, unit_id: str) -> bool:
    return later_filing(connection, bench, unit_id, NO_END, None) is not None


def _disposing(
    connection: Connection,
    bench: str,
    event: UnitDisposed,
    person: str,
    facts: Sequence[ShopFact],
    where: str,
) -> None:
    plain = plain_word(event.disposition)
    if plain not in (RELEASED, FIRST):
        return
    if _is_superseded(connection, bench, event.unit_id):
        raise _refused("a later rebuild of this serial is filed: that one is released.", where)
    asked = signatures_asked(connection, bench)
    if plain == FIRST:
        if asked < MOST_SIGNATURES:
            raise _refused("one signature releases a unit in this shop.", where)
        return
    if asked < MOST_SIGNATURES:
        return
    if event.disposition.endswith(ALONE):
        raise _refused("this shop has two people of QA release a unit.", where)
    first = first_signature(facts)
    if first is None or first.person == person:
        raise _refused(
            "this shop has two people of QA release a unit.",
            where,
            "Have another person of QA sign it.",
        )


def first_signature(facts: Sequence[ShopFact]) -> ShopFact | None:
    """Return the first of two signatures that waits for the second; ``None``: there is none.

    Nothing may have been said or amended since: it was given for the record as it stood.
    """
    said = [fact for fact in facts if isinstance(fact.event, UnitDisposed | UnitAmended)]
    last = said[-1] if said else None
    first = last is not None and isinstance(last.event, UnitDisposed)
    return last if first and last is not None and _is_first(last.event) else None


def _is_first(event: Event) -> bool:
    return isinstance(event, UnitDisposed) and event.disposition == FIRST


def _amending(
    filed: UnitFiled, event: UnitAmended, person: str, facts: Sequence[ShopFact], where: str
) -> None:
    alone = event.approved_by.endswith(ALONE)
    if not event.approved_by or (event.approved_by == person and not alone):
        raise _refused("an amendment is approved by another person.", where)
    stands = current_value(record_in(filed.record), [fact.event for fact in facts], event.field)
    if stands is None:
        raise _refused("this field cannot be amended.", where)
    if stands != event.old or event.new == event.old:
        raise _refused(
            "the record says something else there by now.", where, "Open it again and look."
        )


def _rule(connection: Connection, bench: str, event: ReleaseRuleSet, where: str) -> None:
    if event.signatures not in range(1, MOST_SIGNATURES + 1):
        raise _refused("one or two people release a unit.", where)
    if event.signatures == signatures_asked(connection, bench):
        raise _refused("it is so already.", where)


def _refused(what: str, where: str, advice: str = "Nothing was added.") -> NotInOrderError:
    return NotInOrderError(what, where=where, advice=advice)
