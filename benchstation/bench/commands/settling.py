"""Settling what two said differently of one thing: at the shop's desk, by who has seen both."""

import uuid
from dataclasses import dataclass
from typing import ClassVar

from benchstation.bench.commands.enrolment import free_id
from benchstation.bench.commands.parsing import named
from benchstation.bench.messages import Message
from benchstation.bench.session import LEADS_AND_QA, BenchSession, SignedCommand
from benchstation.domain.events import (
    Event,
    MaterialReceived,
    OilLotReceived,
    OrderPlaced,
    PersonEnrolled,
    RebuildOpened,
    SpecificationApproved,
    UnitAmended,
    UnitDisposed,
)
from benchstation.domain.people import Person, Role
from benchstation.domain.shop_chain import SHOP, Conflict, Decision, settle
from benchstation.domain.unit_commands import NotAllowedError
from benchstation.store.chain_store import ChainStore
from benchstation.store.order_queries import get_order

WHERE = "To settle"
SAID = {
    Decision.SHOP: "Settled: the shop's version stays.",
    Decision.BENCH: "Settled: the bench's version is in force.",
    Decision.BOTH: "Settled: both are kept",
}


def why_not_here(store: ChainStore, by: Person | None, event: Event) -> str:
    """Return in words why ``by`` cannot settle this here; empty: nothing against it."""
    if store.bench != SHOP:
        return "it is settled at the shop's desk"
    if isinstance(event, UnitDisposed | UnitAmended) and by is not None and not by.has(Role.QA):
        return "QA settles what QA said"
    return ""


@dataclass(frozen=True, slots=True)
class _Settle(SignedCommand):
    """Settle a conflict, for a reason."""

    roles = LEADS_AND_QA
    decision: ClassVar[Decision]
    reason: str
    conflict: str
    other: str = named("other", default="")

    def __call__(self, session: BenchSession) -> Message:
        found = next((c for c in session.store.conflicts() if str(c.seq) == self.conflict), None)
        if found is None:
            raise NotAllowedError("it is settled already.", where=WHERE, advice="Nothing to do.")
        event = found.fact.event
        why = why_not_here(session.store, session.person, event)
        if why:
            raise NotAllowedError(f"{why}.", where=WHERE, advice="Nothing was changed.")
        order = None
        other = ""
        if self.decision is Decision.BOTH:
            other = _other(session, found, self.other.strip())
            if isinstance(event, RebuildOpened):
                order = get_order(session.store, event.order)
        session.journal(settle(found, self.decision, self.reason, other, order))
        return Message(_said(self.decision, event, other))


class KeepShops(_Settle):
    """Keep what the shop has; the bench's version counts no more."""

    __slots__ = ()
    decision = Decision.SHOP


class PutBenchs(_Settle):
    """Put the bench's version in force."""

    __slots__ = ()
    decision = Decision.BENCH


class KeepBoth(_Settle):
    """Keep both, the bench's under another number or name."""

    __slots__ = ()
    decision = Decision.BOTH


def _said(decision: Decision, event: Event, other: str) -> str:
    if decision is not Decision.BOTH:
        return SAID[decision]
    if isinstance(event, RebuildOpened):
        return f"{SAID[decision]}: the order has a unit more."
    which = f"revision {other}" if isinstance(event, SpecificationApproved) else other
    return f"{SAID[decision]}, the bench's as {which}."


def _other(session: BenchSession, conflict: Conflict, typed: str) -> str:
    """Return the number or name of the bench's version; raise where it is another's already."""
    event, shop = conflict.fact.event, session.shop
    match event:
        case RebuildOpened():
            return uuid.uuid4().hex
        case PersonEnrolled():
            return free_id(event.name, session.store.people())
        case SpecificationApproved():
            known = session.store.specifications()
            return str(1 + max(n for key, n in known if key == event.specification_id))
        case OilLotReceived() if typed in shop.lots:
            raise _there_already(typed)
        case MaterialReceived() if shop.stock.find(event.material.sort, "", typed) is not None:
            raise _there_already(typed)
        case OrderPlaced() if get_order(session.store, typed) is not None:
            raise _there_already(typed)
    return typed


def _there_already(name: str) -> NotAllowedError:
    return NotAllowedError(
        f"{name} is on record already.", where=WHERE, advice="Choose another.", field="other"
    )
