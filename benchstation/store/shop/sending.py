"""Sending one batch of a bench's chain to the shop: one transaction, all of it or nothing.

The bench's row is locked first, then content by its SHA-256, entries, signed heads, and last the
shop's own row, always in this order: twenty benches wait for each other, and never in a circle.
What the shop holds is asked of the shop each time; what was thought to be sent is only compared.
"""

import logging
from collections.abc import Iterable, Iterator, Sequence
from dataclasses import dataclass
from datetime import datetime
from typing import Any

from sqlalchemy import Connection, Row, bindparam, func, insert, select, text
from sqlalchemy.dialects.postgresql import insert as insert_once
from sqlalchemy.exc import DBAPIError

from benchstation.domain.shop_chain import SHOP
from benchstation.store import journal, signed_heads
from benchstation.store.errors import StoreCorruptError
from benchstation.store.known_heads import lack_of
from benchstation.store.row_check import RowError, require_chained
from benchstation.store.schema import journal as journal_table
from benchstation.store.schema import tree_head, utc_text
from benchstation.store.shop import adopting
from benchstation.store.shop.batches import (
    CONTENT,
    MOST_BYTES,
    Batch,
    content,
    hash_at,
    next_batch,
    parts,
)
from benchstation.store.shop.errors import ForkError
from benchstation.store.shop.tables import fork as fork_table
from benchstation.store.trust import key_facts

_LOG = logging.getLogger(__name__)
_LOCK = text("SELECT lock_chain(:bench)")
COLUMNS = [column.name for column in journal_table.columns]
TYPES = [{"seq": "int4", "body": "bytea"}.get(name, "text") for name in COLUMNS]
_HASHES = (
    select(journal_table.c.seq, journal_table.c.hash)
    .where(
        journal_table.c.bench == bindparam("own"),
        journal_table.c.seq > bindparam("after"),
        journal_table.c.seq <= bindparam("to"),
    )
    .order_by(journal_table.c.seq)
)
# One question for both: each takes the way to the server and back.
_STANDS = (
    select(
        journal_table.c.seq,
        journal_table.c.hash,
        select(func.max(tree_head.c.size))
        .where(tree_head.c.bench == bindparam("own"))
        .scalar_subquery()
        .label("signed"),
    )
    .where(journal_table.c.bench == bindparam("own"))
    .order_by(journal_table.c.seq.desc())
    .limit(1)
)
Position = tuple[int, str]
"""Number and hash of an entry; 0 and 64 zeros before the first."""


@dataclass(frozen=True, slots=True)
class Sent:
    """What one batch came to: the shop's head of this bench now, and how much was new to it."""

    head: Position
    entries: int
    heads: int
    lost: int = 0
    """Entries that the shop had said it holds and no more does: it was restored from a backup."""
    left: int = 0
    """Entries that wait for the next batch."""


def send_batch(
    shop: Connection,
    local: Connection,
    bench: str,
    thought: Position | None,
    now: datetime,
    most_bytes: int = MOST_BYTES,
) -> Sent:
    """Send what follows the shop's head, in the transaction of ``shop``.

    ``thought`` is the shop's head as this program knew it last; ``None`` at the first time, when
    the shop's newest signed head is held against the journal as well. Raises :class:`ForkError`
    and what the databases raise.
    """
    shop.execute(_LOCK, {"bench": bench})
    row = shop.execute(_STANDS, {"own": bench}).first()
    there = (row.seq, row.hash) if row is not None else (0, journal.GENESIS)
    require_same(shop, local, bench, there)
    if thought is None:
        require_signed(shop, local, bench)
    elif thought != there:
        _require_as_sent(shop, local, bench, thought, there)
    lost = max(0, thought[0] - there[0]) if thought is not None else 0
    batch = next_batch(local, bench, there[0], most_bytes)
    _send_content(shop, local, batch)
    if batch.rows:
        # The server takes in what was checked while the next is being checked.
        _copy(shop, "journal", COLUMNS, TYPES, _whole(batch.rows, there))
    end = batch.end(there)
    signed = row.signed or 0 if row is not None else 0
    heads = [h.as_data() for h in signed_heads.between(local, bench, signed, end[0])]
    if heads:
        shop.execute(insert(tree_head), heads)
    if matters := adopting.shop_matters(local, batch.rows):
        shop.execute(_LOCK, {"bench": SHOP})
        adopting.adopt_rows(shop, local, bench, matters, now)
    last, _ = journal.head(local, bench)
    return Sent(end, len(batch.rows), len(heads), lost, last - end[0])


def require_same(shop: Connection, local: Connection, bench: str, there: Position) -> None:
    """Raise where the shop's head of this bench is not an entry of its journal."""
    if hash_at(local, bench, there[0]) == there[1]:
        return
    own, _ = journal.head(local, bench)
    require_no_fork(shop, local, bench, min(own, there[0]))
    raise ForkError(
        bench,
        own + 1,
        hash_at(shop, bench, own + 1),
        "",
        f"the shop holds {there[0]} entries of this bench, and its journal ends at {own}: "
        "the records here are an older copy.",
        "Close the bench station and run 'benchstation restore --shop' before anything is "
        "added to them.",
    )


def require_no_fork(shop: Connection, local: Connection, bench: str, shared: int) -> None:
    """Raise :class:`ForkError` where both sides differ in their first ``shared`` entries."""
    if hash_at(shop, bench, shared) != hash_at(local, bench, shared):
        raise _fork(shop, local, bench, _first_other(shop, local, bench, shared))


def require_signed(shop: Connection, local: Connection, bench: str) -> None:
    """Raise where the journal does not continue the newest head that the shop has of this bench.

    By a proof of consistency: few nodes are read however long the journal is.
    """
    head = signed_heads.newest(shop, bench)
    own, _ = journal.head(local, bench)
    if head is None or head.size > own:
        return
    known = head.public_key in key_facts(local, bench)
    if lack_of(local, bench, head) is not None or not head.genuine or not known:
        there = hash_at(shop, bench, head.size)
        given = hash_at(local, bench, head.size)
        raise ForkError(
            bench,
            head.size,
            there,
            given,
            f"the head of {head.size} entries that the shop holds as signed by this bench is not "
            "of its journal.",
        )


def _require_as_sent(
    shop: Connection, local: Connection, bench: str, thought: Position, there: Position
) -> None:
    """Hold what stands at the shop beyond, and at, what was thought sent against the journal."""
    require_no_fork(shop, local, bench, min(there[0], thought[0]))
    span = {"own": bench, "after": thought[0], "to": there[0]}
    pairs = zip(shop.execute(_HASHES, span), local.execute(_HASHES, span), strict=True)
    for stands, given in pairs:
        if tuple(stands) != tuple(given):
            raise _fork(shop, local, bench, given.seq)


def _first_other(shop: Connection, local: Connection, bench: str, last: int) -> int:
    """Return the first entry that differs; each hash covers all before it, so halving finds it."""
    same, other = 0, last
    while other - same > 1:
        middle = (same + other) // 2
        if hash_at(shop, bench, middle) == hash_at(local, bench, middle):
            same = middle
        else:
            other = middle
    return other


def _fork(shop: Connection, local: Connection, bench: str, seq: int) -> ForkError:
    there, given = hash_at(shop, bench, seq), hash_at(local, bench, seq)
    what = f"the shop holds another entry {seq} of this bench than its journal."
    return ForkError(bench, seq, there, given, what)


def _whole(rows: Sequence[Row[Any]], last: Position) -> Iterator[Row[Any]]:
    """Return the rows, each checked on its way: the shop keeps what it takes for ever."""
    for row in rows:
        try:
            require_chained(row, last)
        except RowError as error:
            raise StoreCorruptError(
                f"the journal of this bench is not sound and is not sent: {error}",
                where=row.bench,
                advice="Verify the records ('benchstation verify').",
            ) from error
        last = (row.seq, row.hash)
        yield row


def _copy(
    shop: Connection,
    table: str,
    columns: Sequence[str],
    types: Sequence[str],
    rows: Iterable[Sequence[Any]],
) -> None:
    """Insert rows by PostgreSQL's ``COPY``; its errors are those of any other statement."""
    # Names are those of this project's own tables.
    statement = f"COPY {table} ({', '.join(columns)}) FROM STDIN (FORMAT BINARY)"
    raw = shop.connection.driver_connection
    assert raw is not None
    try:
        with raw.cursor() as cursor, cursor.copy(statement) as copy:
            copy.set_types(types)
            for row in rows:
                copy.write_row(row)
    except shop.dialect.loaded_dbapi.Error as error:
        raise DBAPIError(statement, None, error) from error


def _send_content(shop: Connection, local: Connection, batch: Batch) -> None:
    """Send the content that the shop lacks; two benches send theirs in the same order."""
    for kind, table in CONTENT.items():
        lacking = set(batch.names[kind])
        for part in parts(sorted(lacking)):
            lacking -= set(
                shop.execute(select(table.c.sha256).where(table.c.sha256.in_(part))).scalars()
            )
        if lacking:
            _copy(shop, kind, ("sha256", "data"), ("text", "bytea"), _found(local, kind, lacking))


def _found(local: Connection, kind: str, names: set[str]) -> Iterable[tuple[str, bytes]]:
    left = set(names)
    for name, data in content(local, CONTENT[kind], names):
        left.discard(name)
        yield name, data
    if left:
        # The entry is sent all the same; verifying says what it lacks, here and there.
        _LOG.error("a %s that entries name is not in the records: %s", kind, sorted(left))


def record_fork(shop: Connection, local: Connection, fork: ForkError, now: datetime) -> None:
    """Put a fork on record at the shop, once, with the entry as the bench has it."""
    mine = (journal_table.c.bench == fork.bench) & (journal_table.c.seq == fork.seq)
    body = local.execute(select(journal_table.c.body).where(mine)).scalar()
    given = {
        "bench": fork.bench,
        "seq": fork.seq,
        "hash_there": fork.there,
        "hash_given": fork.given,
        "utc": utc_text(now),
        "entry": body or b"",
    }
    # Each start of the bench finds the same fork; it is one row.
    shop.execute(insert_once(fork_table).on_conflict_do_nothing(), given)
