"""QA's words on a unit, of the bench and of the shop's desk: what is in force, in its order."""

from collections.abc import Sequence

from benchstation.domain.events import UnitDisposed
from benchstation.domain.shop_chain import ShopFact, Subject
from benchstation.store.chain_store import ChainStore
from benchstation.store.shop_fact_rows import NO_END

Word = tuple[ShopFact, UnitDisposed]


def words_on(store: ChainStore, unit_id: str, before: int = NO_END) -> Sequence[Word]:
    """Return the words that are in force on a unit; the last one says where it stands.

    Where two contradict each other and nobody has settled it, the stricter comes last. ``before``:
    as it was when the chain's own entry of this number was written.
    """
    facts = store.facts_about(_subject(unit_id), before)
    return [(fact, fact.event) for fact in facts if isinstance(fact.event, UnitDisposed)]


def words_waiting(store: ChainStore, unit_id: str) -> Sequence[Word]:
    """Return the words on a unit that contradict another and wait for a person to settle it."""
    waiting = [c.fact for c in store.conflicts() if c.subject == _subject(unit_id)]
    return [(fact, fact.event) for fact in waiting if isinstance(fact.event, UnitDisposed)]


def _subject(unit_id: str) -> str:
    return f"{Subject.UNIT}:{unit_id}"
