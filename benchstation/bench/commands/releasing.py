"""QA's word on filed units: by one or by two people, of one unit or of several at once."""

import uuid
from collections.abc import Sequence
from dataclasses import dataclass, replace

from benchstation.bench.commands.parsing import named
from benchstation.bench.messages import Message
from benchstation.bench.session import QA, BenchSession, Command, SignedCommand
from benchstation.bench.sets import set_around, unfiled_of
from benchstation.bench.signed_twice import sign_twice
from benchstation.domain.disposition import (
    ALONE,
    FIRST,
    HELD,
    RELEASED,
    Standing,
    ruling_of,
)
from benchstation.domain.duties import JUDGES, names_of, others, worked_on
from benchstation.domain.events import RecordShown, ReleaseRuleSet, UnitDisposed
from benchstation.domain.orders import LineState
from benchstation.domain.releasing import WHERE, dispose, signature_of_two, why_not_together
from benchstation.domain.unit_commands import NotAllowedError
from benchstation.store.after_filing_rules import first_signature
from benchstation.store.journal import Entry
from benchstation.store.queries import filed_of_order, get_unit
from benchstation.store.words_on_units import facts_on, filed_in, signatures_for_release

MOST_TOGETHER = 200
_HAS_ITS_WORD = (LineState.RELEASED, LineState.SHIPPED)


@dataclass(frozen=True, slots=True)
class Dispose(SignedCommand):
    """Put QA's word on a filed unit on record."""

    roles = QA
    disposition: str
    reason: str
    unit_id: str = named("unit")

    def __call__(self, session: BenchSession) -> Message:
        assert session.person is not None
        said = dispose(self.unit_id, self.disposition, self.reason, session.person)
        entries = session.store.entries(unit_id=self.unit_id)
        workers = worked_on((entry.person, entry.event) for entry in entries)
        if said.disposition == RELEASED and signatures_for_release(session.store) > 1:
            said = _of_two(session, said, workers)
        elif said.disposition != HELD and session.person.person_id in workers:
            waits = self._alone(session, workers, entries)
            if waits:
                return Message(waits)
            said = replace(said, disposition=f"{said.disposition}{ALONE}")
        session.journal([said])
        if said.disposition == FIRST:
            return Message(f"Signed. {_second(session, workers)}")
        return Message(f"This unit is {ruling_of(said.disposition)}.")

    def _alone(
        self, session: BenchSession, workers: frozenset[str], entries: Sequence[Entry]
    ) -> str:
        """Return what is missing for a word on one's own work; raise where another could say it."""
        able = others(session.shop.people, JUDGES, workers)
        if able:
            raise NotAllowedError(
                "whoever worked on a unit does not release or reject it.",
                where=WHERE,
                advice=f"Have {names_of(able)} sign in. A hold is always possible.",
            )
        words = sum(isinstance(entry.event, UnitDisposed) for entry in entries)
        return sign_twice(session, self.disposition, f"{self.unit_id}:{words}")


def _of_two(session: BenchSession, said: UnitDisposed, workers: frozenset[str]) -> UnitDisposed:
    assert session.person is not None
    first = first_signature(facts_on(session.store, said.unit_id))
    who = first.person if first is not None else ""
    return replace(said, disposition=signature_of_two(session.person.person_id, who, workers))


def _second(session: BenchSession, workers: frozenset[str]) -> str:
    """Return in words who could sign second."""
    assert session.person is not None
    able = others(session.shop.people, JUDGES, {*workers, session.person.person_id})
    who = names_of(able) if able else "another person of QA, who is to be enrolled"
    return f"It awaits a second signature: have {who} sign it."


@dataclass(frozen=True, slots=True)
class ReleaseTogether(SignedCommand):
    """Release all filed units of an order, or those named, by one signature: all or none.

    Each gets an entry of its own. Whoever signs has opened the record of each as it stands.
    """

    roles = QA
    reason: str
    order: str = ""
    unit_id: str = named("unit", default="")
    """A unit of the order, where that is not named itself."""
    units: str = ""
    """Ids with blanks between, in place of an order."""

    def __call__(self, session: BenchSession) -> Message:
        order = self.order
        if self.unit_id and not order:
            order = get_unit(session.store, self.unit_id).order
        ids = list(dict.fromkeys(self.units.split() or filed_of_order(session.store, order)))
        if not ids or len(ids) > MOST_TOGETHER:
            what = f"1 to {MOST_TOGETHER} units are released together."
            raise NotAllowedError(what, where=WHERE, advice="Name an order with filed units.")
        return _release_all(session, ids, self.reason, order or WHERE)


@dataclass(frozen=True, slots=True)
class ReleaseSet(SignedCommand):
    """Release the units of a unit's set, as :class:`ReleaseTogether`: the whole set is filed."""

    roles = QA
    reason: str
    unit_id: str = named("unit")

    def __call__(self, session: BenchSession) -> Message:
        order = get_unit(session.store, self.unit_id).order
        lines = set_around(session.store, order, self.unit_id)
        if not lines:
            raise NotAllowedError(
                "this unit belongs to no set.", where=WHERE, advice="Release it alone."
            )
        if missing := unfiled_of(lines):
            raise NotAllowedError(
                f"its set is not filed as a whole: {missing}.",
                where=order,
                advice="Nothing was released. Have them filed, or release this unit alone.",
            )
        # One that was released alone before has its word.
        ids = [line.unit_id for line in lines if line.state not in _HAS_ITS_WORD]
        return _release_all(session, ids, self.reason, order)


def _release_all(session: BenchSession, ids: Sequence[str], reason: str, where: str) -> Message:
    """Put a release of each of these on record by one signature, or of none."""
    batch, two = uuid.uuid4().hex, signatures_for_release(session.store) > 1
    said, against = [], []
    for unit_id in ids:
        try:
            said.append(_word(session, unit_id, reason, batch, two=two))
        except NotAllowedError as error:
            against.append(f"{filed_in(session.store, unit_id).serial}: {error.what}")
    if against:
        raise NotAllowedError(
            f"not all of these {len(ids)} can be released: {'; '.join(against)}",
            where=where,
            advice="Nothing was released. See to these first, or release the others alone.",
        )
    session.journal(said)
    first = sum(word.disposition == FIRST for word in said)
    done = [f"{len(said) - first} released"] * (first < len(said))
    done += [f"{first} await a second signature"] * bool(first)
    return Message(f"Signed once for all: {', '.join(done)}.")


def _word(
    session: BenchSession, unit_id: str, reason: str, batch: str, *, two: bool
) -> UnitDisposed:
    """Return the release of one unit among others; raise where something stands against it."""
    assert session.person is not None
    person, facts = session.person, facts_on(session.store, unit_id)
    filed = filed_in(session.store, unit_id)
    standing = Standing(get_unit(session.store, unit_id).standing)
    seen = last_look(session, unit_id) == len(facts)
    if why := why_not_together(standing, seen=seen):
        raise NotAllowedError(f"{why}.", where=filed.serial)
    said = dispose(unit_id, RELEASED, reason, person, batch)
    entries = session.store.entries(unit_id=unit_id)
    workers = worked_on((entry.person, entry.event) for entry in entries)
    if two:
        return _of_two(session, said, workers)
    if person.person_id in workers:
        raise NotAllowedError("you worked on it.", where=filed.serial)
    return said


def last_look(session: BenchSession, unit_id: str) -> int | None:
    """Return how many facts were on record when whoever is signed in looked at a record last."""
    assert session.person is not None
    looks = [
        entry.event.facts
        for entry in session.store.entries(unit_id=unit_id, kind=RecordShown.kind)
        if isinstance(entry.event, RecordShown) and entry.person == session.person.person_id
    ]
    return looks[-1] if looks else None


@dataclass(frozen=True, slots=True)
class NoteShown(Command):
    """Note that QA has the whole record of a unit before them, once for each state of it."""

    roles = QA
    unit_id: str = named("unit")

    def __call__(self, session: BenchSession) -> Message:
        facts = len(facts_on(session.store, self.unit_id))
        if last_look(session, self.unit_id) != facts:
            session.journal([RecordShown(self.unit_id, facts)])
        return Message()


@dataclass(frozen=True, slots=True)
class SetReleaseRule(SignedCommand):
    """Set how many people of QA release a unit in this shop."""

    roles = QA
    signatures: str
    reason: str

    def __call__(self, session: BenchSession) -> Message:
        if self.signatures not in ("1", "2"):
            raise NotAllowedError("one or two people release a unit.", where=WHERE)
        if not self.reason:
            raise NotAllowedError("this needs a reason.", where=WHERE, field="reason")
        session.journal([ReleaseRuleSet(int(self.signatures), self.reason)])
        two = "Two people of QA release a unit from now on, each by an own signature."
        return Message(two if self.signatures == "2" else "One of QA releases a unit from now on.")
