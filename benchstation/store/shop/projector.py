"""Keeping the shop's searched tables up to the chains: a desk's work, never a bench's.

Each chain is read by its own numbers from where ``projected`` stands. A global serial number would
pass over entries whose transaction commits late.
"""

import logging
from collections.abc import Callable
from dataclasses import dataclass
from typing import Any

from sqlalchemy import Connection, Engine, Row, bindparam, select, update
from sqlalchemy.dialects.postgresql import insert

from benchstation.domain.events import ShopTaken
from benchstation.domain.shop_chain import SHOP
from benchstation.store import journal, projections, tree_rows
from benchstation.store.backends.postgresql_errors import in_shop_words
from benchstation.store.row_check import RowError, checked
from benchstation.store.schema import journal as journal_table
from benchstation.store.shop.tables import bench_chain, projected

BATCH = 200
_LOG = logging.getLogger(__name__)
_ROWS = (
    select(journal_table)
    .where(journal_table.c.bench == bindparam("own"), journal_table.c.seq > bindparam("last"))
    .order_by(journal_table.c.seq)
    .limit(bindparam("batch"))
)
_STANDS = (
    select(projected.c.seq, projected.c.hash)
    .where(projected.c.bench == bindparam("own"))
    .with_for_update()
)


@dataclass(frozen=True, slots=True)
class CaughtUp:
    """How many entries were taken in, and which chains could not be read further, and why."""

    entries: int
    broken: dict[str, str]


def chains(connection: Connection) -> list[str]:
    """Return every chain: the shop's own, which the others rest on, then those of the benches."""
    found = connection.execute(select(bench_chain.c.bench).order_by(bench_chain.c.bench)).scalars()
    return [SHOP, *(bench for bench in found if bench != SHOP)]


def catch_up(engine: Engine, where: str, cancelled: Callable[[], bool] = bool) -> CaughtUp:
    """Bring all chains up to date, a batch a transaction. Several desks may do it at once."""
    total, broken = 0, {}
    with in_shop_words(where):
        with engine.connect() as connection, connection.begin():
            benches = chains(connection)
        for bench in benches:
            more = True
            while more and not cancelled():
                with engine.connect() as connection, connection.begin():
                    done, problem = project_chain(connection, bench)
                total += done
                more = done == BATCH and not problem
                if problem:
                    broken[bench] = problem
    for bench, problem in broken.items():
        _LOG.error("the chain of %s: %s", bench, problem)
    return CaughtUp(total, broken)


def project_chain(connection: Connection, bench: str) -> tuple[int, str]:
    """Take the next entries of a chain in, at most a batch, in the transaction that is open.

    Returns how many, and what is wrong with the one after them: a row that was altered, or an
    entry of a newer version. What stands before it counts.
    """
    first = {"bench": bench, "seq": 0, "hash": journal.GENESIS}
    connection.execute(insert(projected).on_conflict_do_nothing(), first)
    begin, last_hash = connection.execute(_STANDS, {"own": bench}).one()
    last = begin, last_hash
    hashes: list[str] = []
    problem = ""
    for row in connection.execute(_ROWS, {"own": bench, "last": begin, "batch": BATCH}).all():
        problem = _take(connection, row, last)
        if problem:
            break
        last = row.seq, row.hash
        hashes.append(row.hash)
    if hashes:
        onto = tree_rows.frontier(connection, bench, begin)
        tree_rows.grow(connection, bench, onto, hashes)
        stands = update(projected).where(projected.c.bench == bench)
        connection.execute(stands, {"seq": last[0], "hash": last[1]})
    return len(hashes), problem


def stands_at(connection: Connection, bench: str) -> int:
    """Return up to which entry a chain stands in the searched tables."""
    stands = select(projected.c.seq).where(projected.c.bench == bench)
    return connection.execute(stands).scalar() or 0


def project_shop(connection: Connection, up_to: int) -> str:
    """Take the shop's chain in up to an entry, or all that stands; return what is wrong with it."""
    done, problem = BATCH, ""
    while done == BATCH and not problem:
        if stands_at(connection, SHOP) >= up_to:
            break
        done, problem = project_chain(connection, SHOP)
    return problem


def _take(connection: Connection, row: Row[Any], last: tuple[int, str]) -> str:
    try:
        entry = checked(row, last)
    except RowError as error:
        return str(error)
    if isinstance(entry.event, ShopTaken):
        # From here on this chain rests on what the shop said up to there.
        problem = project_shop(connection, entry.event.seq)
        if problem:
            return f"what it took of the shop's chain cannot be read: {problem}"
    projections.project(connection, entry, SHOP)
    return ""
