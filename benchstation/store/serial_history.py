"""What became of one serial: its rebuilds, shipments and returns, each with its proving entry.

By whatever name it was ever filed: an amended serial leads to it by both.
"""

from collections.abc import Sequence
from dataclasses import dataclass, replace
from datetime import datetime

from sqlalchemy import Connection, select, union

from benchstation.domain.events import (
    ReturnExamined,
    UnitReturned,
    UnitShipped,
)
from benchstation.domain.materials import text_key
from benchstation.domain.shop_chain import SHOP, ShopFact
from benchstation.store.after_filing import customers_of, facts_about_unit
from benchstation.store.chain_order import in_opened_order
from benchstation.store.chain_store import ChainStore
from benchstation.store.schema import journal, unit, unit_former
from benchstation.store.unit_rows import COLUMNS, UnitRow

MOST = 200


@dataclass(frozen=True, slots=True)
class Proof:
    """The entry that something stands in: of whose chain, its number and its hash."""

    bench: str
    entry: int
    hash: str


@dataclass(frozen=True, slots=True)
class Left:
    """One shipment of a rebuild, to whom as it was amended since, and what came back."""

    customer: str
    shipped: UnitShipped
    utc: datetime
    person: str
    proof: Proof
    back: UnitReturned | None = None
    back_utc: datetime | None = None
    back_proof: Proof | None = None
    found: str = ""


@dataclass(frozen=True, slots=True)
class Rebuilt:
    """One rebuild of a serial; ``filed`` proves its record, ``None``: it was not filed.

    ``after_return``: the return of the rebuild before it that led to this one. ``unshipped``: a
    return of which no shipment is on record.
    """

    row: UnitRow
    filed: Proof | None
    left: tuple[Left, ...]
    unshipped: tuple[tuple[UnitReturned, datetime, Proof], ...] = ()
    after_return: Left | None = None


def history_of(store: ChainStore, serial: str) -> list[Rebuilt]:
    """Return all rebuilds of a serial, the oldest first, a return tied to the next of them."""
    key = text_key(serial.strip())
    former = select(unit_former.c.bench, unit_former.c.unit_id).where(unit_former.c.name_key == key)
    named = select(unit.c.bench, unit.c.unit_id).where(unit.c.serial_key == key)
    both = union(named, former).subquery()
    query = (
        select(*COLUMNS)
        .join(both, (both.c.bench == unit.c.bench) & (both.c.unit_id == unit.c.unit_id))
        .order_by(unit.c.opened_utc, unit.c.bench, unit.c.opened_seq)
        .limit(MOST)
    )
    found: list[Rebuilt] = []
    with store.reading() as connection:
        for row in in_opened_order(connection.execute(query).mappings()):
            rebuilt = _rebuilt(connection, store.bench, UnitRow(**row))
            before = _returned_before(found, rebuilt.row)
            found.append(replace(rebuilt, after_return=before))
    return found


def _returned_before(found: Sequence[Rebuilt], opened: UnitRow) -> Left | None:
    """Return the last return before a unit was opened that no rebuild has answered yet."""
    answered = [rebuilt.after_return for rebuilt in found]
    back = [
        left
        for rebuilt in found
        for left in rebuilt.left
        if _is_back(left, opened) and left not in answered
    ]
    return back[-1] if back else None


def _is_back(left: Left, opened: UnitRow) -> bool:
    """Return True when a unit had come back before another one was opened.

    What one bench wrote goes by its journal: its clock may have been set back in between.
    """
    proof, utc = left.back_proof, left.back_utc
    if proof is not None and proof.bench == opened.bench:
        return proof.entry < opened.opened_seq
    return utc is not None and utc <= opened.opened_utc


def _rebuilt(connection: Connection, bench: str, row: UnitRow) -> Rebuilt:
    left: list[Left] = []
    unshipped: list[tuple[UnitReturned, datetime, Proof]] = []
    facts = facts_about_unit(connection, bench, row.unit_id)
    for fact in facts:
        event = fact.event
        if isinstance(event, UnitShipped):
            proof = _proof(connection, fact)
            left.append(Left(event.customer, event, fact.utc, fact.person, proof))
        elif isinstance(event, UnitReturned) and left and left[-1].back is None:
            proof = _proof(connection, fact)
            left[-1] = replace(
                left[-1], back=event, back_utc=fact.utc, back_proof=proof, found=event.found
            )
        elif isinstance(event, UnitReturned):
            unshipped.append((event, fact.utc, _proof(connection, fact)))
        elif isinstance(event, ReturnExamined) and left and left[-1].back is not None:
            left[-1] = replace(left[-1], found=event.found)
    # Each shipment as it was amended since.
    customers = customers_of([fact.event for fact in facts])
    left = [replace(one, customer=name) for one, name in zip(left, customers, strict=True)]
    filed = None
    if row.filed_seq is not None:
        filed = Proof(row.bench, row.filed_seq, _hash(connection, row.bench, row.filed_seq))
    return Rebuilt(row, filed, tuple(left), tuple(unshipped))


def _proof(connection: Connection, fact: ShopFact) -> Proof:
    """Return the entry of the bench where it is here, else that of the shop's chain."""
    bench, seq = (fact.bench, fact.own) if fact.own else (SHOP, fact.seq)
    found = _hash(connection, bench, seq)
    if not found and fact.seq:
        bench, seq = SHOP, fact.seq
        found = _hash(connection, bench, seq)
    return Proof(bench, seq, found)


def _hash(connection: Connection, bench: str, seq: int) -> str:
    this = journal.c.bench == bench, journal.c.seq == seq
    return connection.execute(select(journal.c.hash).where(*this)).scalar() or ""
