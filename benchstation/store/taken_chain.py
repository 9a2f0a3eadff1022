"""The shop's chain as a bench has taken it, in the same table as the bench's own.

It is only ever what was read from the shop and checked. Each time a bench takes some of it, its own
chain says so (``ShopTaken``) in the same transaction: so the order in which this bench knew both
chains is on record, and folding and verifying go by it.
"""

from collections.abc import Iterator, Sequence
from typing import Any

from sqlalchemy import Connection, Row, bindparam, insert, select

from benchstation.domain.events import ShopTaken
from benchstation.domain.shop_chain import SHOP
from benchstation.store import journal, projections
from benchstation.store.canonical import parsed
from benchstation.store.journal import Entry
from benchstation.store.row_check import checked
from benchstation.store.schema import journal as table
from benchstation.store.taken import taken

_UP_TO = (
    select(table)
    .where(table.c.bench == SHOP, table.c.seq > bindparam("after"), table.c.seq <= bindparam("to"))
    .order_by(table.c.seq)
)


def rows_as_known(connection: Connection, bench: str, after: int = 0) -> Iterator[Row[Any]]:
    """Return a bench's rows in their order, and those of the shop where the bench took them.

    ``after``: only what follows that entry of the bench.
    """
    known = taken(connection, bench, after + 1)[0] if after else 0
    for row in journal.rows(connection, bench, after):
        if row.kind == ShopTaken.kind:
            to = int(parsed(row.body)["seq"])
            yield from connection.execute(_UP_TO, {"after": known, "to": to})
            known = to
        yield row


def is_whole(connection: Connection, bench: str) -> bool:
    """Return True when the copy of the shop's chain ends where the bench says that it took it."""
    return bench == SHOP or journal.head(connection, SHOP) == taken(connection, bench)


def checked_entries(rows: Sequence[Row[Any]], last: tuple[int, str]) -> list[Entry]:
    """Return the entries of rows that follow ``last``; raises ``RowError`` where one does not."""
    found = []
    for row in rows:
        found.append(checked(row, last))
        last = (row.seq, row.hash)
    return found


def write(
    connection: Connection, bench: str, rows: Sequence[Row[Any]], entries: Sequence[Entry]
) -> None:
    """Insert checked rows of the shop's chain and bring the searched tables up to date."""
    connection.execute(insert(table), [row._asdict() for row in rows])
    for entry in entries:
        projections.project(connection, entry, bench)
