"""Proving a long journal by several processes, each with a connection of its own that only reads.

One makes the searched tables again, others hash and read the entries page by page, one looks at
the file and its content; the tree and its heads are followed here. Each sees the file at a moment
of its own, and nothing that was on record when it began changes: what they find is of one journal.
"""

import itertools
import multiprocessing
from collections.abc import Callable, Iterator
from concurrent.futures import Future, ProcessPoolExecutor, wait
from contextlib import contextmanager
from functools import partial
from multiprocessing.sharedctypes import Synchronized
from multiprocessing.synchronize import Event
from pathlib import Path

from sqlalchemy import Connection, bindparam, select

from benchstation.domain.events import ShopTaken
from benchstation.domain.shop_chain import SHOP
from benchstation.store import journal, signed_heads, taken_chain
from benchstation.store.canonical import parsed
from benchstation.store.checks import (
    Found,
    Stopped,
    content_count,
    project_again,
    readable,
    require_content,
    require_intact,
    require_no_more,
    require_nodes,
    require_row,
    require_signed,
    require_tables,
    require_taken,
    scratch,
)
from benchstation.store.connections import reading_engine
from benchstation.store.errors import in_words
from benchstation.store.schema import journal as table
from benchstation.store.tree_rows import Compared
from benchstation.store.trust import key_facts
from benchstation.store.verification import (
    MISFITS,
    Cancelled,
    Outside,
    Progress,
    Verification,
    require_anchor,
    require_rest,
    verdict,
)

_Future = Future[Verification | None]
"""What a job found that does not fit; its ``entries`` and ``head`` are the last that do."""
ROWS_A_JOB = 4_000
COUNT_EACH = 64
LOOK_EACH_S = 0.1
_RANGE = (
    select(table)
    .where(
        table.c.bench == bindparam("own"),
        table.c.seq > bindparam("after"),
        table.c.seq <= bindparam("to"),
    )
    .order_by(table.c.seq)
)
_HASHES = (
    select(table.c.seq, table.c.hash).where(table.c.bench == bindparam("own")).order_by(table.c.seq)
)
_OWN = itertools.count(1)
_SEEN: "list[tuple[Synchronized[int], Event]]" = []
"""In a process of the pool: how much was looked at by all, and whether to end."""


def verify_apart(
    path: Path,
    connection: Connection,
    bench: str,
    outside: Outside,
    processes: int,
    progress: Progress | None = None,
    cancelled: Cancelled | None = None,
) -> Verification:
    """Check all that :func:`verification.verify` checks; gives the same verdict."""
    last = journal.head(connection, bench)
    sizes = {bench: last[0], SHOP: journal.head(connection, SHOP)[0]}
    total = sum(sizes.values()) * 2 + content_count(connection)
    jobs: list[Callable[[], Verification | None]] = [
        partial(_file, path),
        partial(_tables, path, bench),
    ]
    jobs += [
        partial(_rows, path, own, after, min(after + ROWS_A_JOB, size))
        for own, size in sizes.items()
        for after in range(0, size, ROWS_A_JOB)
    ]
    context = multiprocessing.get_context("spawn")
    count, end = context.Value("q", 0), context.Event()
    with ProcessPoolExecutor(processes, context, _begin, (count, end)) as pool:
        # The tables take longest and come second, so that no process waits for them at the end.
        futures = [pool.submit(job) for job in jobs]
        try:
            _follow(futures, count, end, total, progress, cancelled)
        finally:
            end.set()
            for future in futures:
                future.cancel()
    if cancelled is not None and cancelled():
        return Verification(False, 0, journal.GENESIS, str(Stopped()), stopped=True)
    file, tables, *rows = [future.result() for future in futures]
    if file is not None:
        return file
    if any(rows):
        # Entries that cannot be understood are met where the tables are made.
        return min(filter(None, [*rows, tables]), key=lambda found: found.entries)
    try:
        _tree(connection, bench, outside, last)
    except MISFITS as error:
        return verdict(last, error)
    return tables or Verification(True, *last, "")


def _follow(
    futures: "list[_Future]",
    count: "Synchronized[int]",
    end: Event,
    total: int,
    progress: Progress | None,
    cancelled: Cancelled | None,
) -> None:
    """Return when all jobs are done, or when an end was asked for."""
    waiting = set(futures)
    while waiting:
        _, waiting = wait(waiting, LOOK_EACH_S)
        if cancelled is not None and cancelled():
            end.set()
            return
        if progress is not None:
            progress(min(count.value, total), total)


def _tree(connection: Connection, bench: str, outside: Outside, last: tuple[int, str]) -> None:
    """Raise when heads, anchor, what was taken of the shop, end or schema do not fit."""
    heads = {head.size: head for head in signed_heads.kept(connection, bench)}
    keys, tree = set(key_facts(connection, bench)), Compared(connection, bench)
    for seq, own in connection.execute(_HASHES, {"own": bench}):
        require_nodes(tree, own)
        require_signed(heads.pop(seq, None), tree.frontier, keys)
        require_anchor(outside.anchor, (seq, own))
    shop = {row.seq: row.hash for row in connection.execute(_HASHES, {"own": SHOP})}
    facts = journal.selection(kind=ShopTaken.kind)
    for row in connection.execute(facts, {"own": bench}):
        seq = int(parsed(row.body)["seq"])
        require_taken(row, (seq, shop.get(seq, "")))
    require_rest(connection, bench, last, outside, max(heads, default=0))
    require_no_more(tree)


def _begin(count: "Synchronized[int]", end: Event) -> None:
    _SEEN.append((count, end))


def _step() -> None:
    count, end = _SEEN[0]
    if end.is_set():
        raise Stopped
    if next(_OWN) % COUNT_EACH == 0:
        with count.get_lock():
            count.value += COUNT_EACH


@contextmanager
def _reading(path: Path) -> Iterator[Connection]:
    engine = reading_engine(path)
    try:
        with in_words(str(path)), engine.connect() as connection, connection.begin():
            yield connection
    finally:
        engine.dispose()


def _file(path: Path) -> Verification | None:
    none = (0, journal.GENESIS)
    try:
        with _reading(path) as connection:
            require_intact(connection)
            require_content(connection, _step)
    except MISFITS as error:
        return verdict(none, error)
    return None


def _rows(path: Path, own: str, after: int, to: int) -> Verification | None:
    last = (0, journal.GENESIS)
    try:
        with _reading(path) as connection:
            if after:
                given = {"own": own, "after": after - 1, "to": after}
                before = connection.execute(_RANGE, given).one_or_none()
                last = (after, "" if before is None else before.hash)
            for row in connection.execute(_RANGE, {"own": own, "after": after, "to": to}):
                require_row(row, last, connection)
                last = (row.seq, row.hash)
                _step()
            if last[0] != to:
                raise Found(f"something is missing after entry {last[0]}.")
    except MISFITS as error:
        return verdict(last, error)
    return None


def _tables(path: Path, bench: str) -> Verification | None:
    last = (0, journal.GENESIS)
    try:
        with _reading(path) as connection, scratch() as again:
            for row in taken_chain.rows_as_known(connection, bench):
                project_again(again, row, readable(row, parsed(row.body)), bench)
                if row.bench == bench:
                    last = (row.seq, row.hash)
                _step()
            require_tables(connection, again)
    except MISFITS as error:
        return verdict(last, error)
    return None
