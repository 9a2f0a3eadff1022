"""Writing a bench's own entries back into its file: those that the shop holds and the file lacks.

They are checked like any row before they come here. In one transaction they are all there, with
their content, the tree over them and the searched tables; or nothing was written.
"""

from collections.abc import Mapping, Sequence
from dataclasses import dataclass, field
from typing import Any

from sqlalchemy import Connection, Row, insert

from benchstation.domain.events import ShopTaken
from benchstation.domain.shop_chain import SHOP
from benchstation.store import (
    journal,
    known_forms,
    migrations,
    photo_rows,
    projections,
    row_check,
    signed_heads,
    taken_chain,
    trace_rows,
    tree_rows,
)
from benchstation.store.errors import StoreCorruptError
from benchstation.store.row_check import RowError
from benchstation.store.schema import journal as table
from benchstation.store.signed_heads import SignedHead
from benchstation.store.trust import key_facts


@dataclass(frozen=True, slots=True)
class Part:
    """What follows the last entry of a bench's file, and what of the shop's chain it rests on."""

    rows: Sequence[Row[Any]]
    shop: Sequence[Row[Any]] = ()
    """The shop's rows up to the last fact among ``rows`` that the bench took some."""
    traces: Mapping[str, bytes] = field(default_factory=dict)
    photos: Mapping[str, bytes] = field(default_factory=dict)
    heads: Sequence[SignedHead] = ()
    """The heads that were signed over entries among ``rows``."""


def write(connection: Connection, bench: str, part: Part, where: str) -> None:
    """Write a part, or raise :class:`StoreCorruptError` for what is not this bench's."""
    try:
        _write(connection, bench, part, where)
    except RowError as error:
        raise _unsound(str(error), where) from error


def _write(connection: Connection, bench: str, part: Part, where: str) -> None:
    last = journal.head(connection, bench)
    frontier = tree_rows.frontier(connection, bench, last[0])
    heads = {head.size: head for head in part.heads}
    forms = known_forms.listed(connection)
    waiting = list(part.shop)
    for row in part.rows:
        entry = row_check.checked(row, last)
        last = (row.seq, row.hash)
        if isinstance(entry.event, ShopTaken):
            upto = [one for one in waiting if one.seq <= entry.event.seq]
            del waiting[: len(upto)]
            forms = _shop(connection, bench, entry.event, upto, forms, where)
        trace_rows.keep(connection, _named(part.traces, entry.event), [entry.event], where)
        photo_rows.keep(connection, _named(part.photos, entry.event), [entry.event], where)
        connection.execute(insert(table), row._asdict())
        frontier = tree_rows.grow(connection, bench, frontier, [row.hash])
        projections.project(connection, entry, bench)
        forms = known_forms.list_new(connection, forms, [entry.event])
        if (head := heads.pop(row.seq, None)) is not None:
            _signed(connection, bench, head, frontier.root().hex(), where)
    migrations.set_value(connection, "head", f"{last[0]}:{last[1]}")


def _shop(
    connection: Connection,
    bench: str,
    fact: ShopTaken,
    rows: Sequence[Row[Any]],
    forms: dict[str, int],
    where: str,
) -> dict[str, int]:
    entries = taken_chain.checked_entries(rows, journal.head(connection, SHOP))
    if rows:
        taken_chain.write(connection, bench, rows, entries)
    if journal.head(connection, SHOP) != (fact.seq, fact.hash):
        raise _unsound("the shop's chain is not the one that this bench had read.", where)
    return known_forms.list_new(connection, forms, [entry.event for entry in entries])


def _named(content: Mapping[str, bytes], event: object) -> dict[str, bytes]:
    names = {getattr(event, name, "") for name in ("trace_sha256", "photo_sha256")}
    return {name: content[name] for name in names if name in content}


def _signed(connection: Connection, bench: str, head: SignedHead, root: str, where: str) -> None:
    if head.root != root or not head.genuine or head.public_key not in key_facts(connection, bench):
        raise _unsound(f"the signed head of {head.size} entries does not fit them.", where)
    signed_heads.keep(connection, head)


def _unsound(why: str, where: str) -> StoreCorruptError:
    return StoreCorruptError(
        f"what the shop holds of this bench is not sound: {why}",
        where=where,
        advice="Nothing of it was written. Keep the file for QA; restore a copy instead.",
    )
