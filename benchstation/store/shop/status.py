"""How each chain of the shop stands: what `benchstation shop status` says."""

from dataclasses import dataclass
from datetime import datetime

from sqlalchemy import Connection, func, select

from benchstation.domain.shop_chain import SHOP
from benchstation.store import journal
from benchstation.store.schema import utc_from
from benchstation.store.shop.shop_store import ShopStore
from benchstation.store.shop.tables import bench_chain, fork


@dataclass(frozen=True, slots=True)
class ChainStatus:
    """One chain: its entries, when the newest was written, its head, its forks and conflicts."""

    bench: str
    entries: int
    last_utc: datetime | None
    head: str
    joined_utc: datetime
    forks: int
    conflicts: int

    @property
    def well(self) -> bool:
        """Return True where nobody has to see to it."""
        return not self.forks and not self.conflicts


def status_of(store: ShopStore) -> list[ChainStatus]:
    """Return the status of every chain, the shop's own first."""
    conflicts = [conflict.fact.bench for conflict in store.conflicts()]
    first = (bench_chain.c.bench != SHOP, bench_chain.c.bench)
    with store.reading() as connection:
        rows = connection.execute(select(bench_chain).order_by(*first)).all()
        forks = dict(_forks(connection))
        found = []
        for row in rows:
            seq, own = journal.head(connection, row.bench)
            found.append(
                ChainStatus(
                    row.bench,
                    seq,
                    journal.last_utc(connection, row.bench),
                    own,
                    utc_from(row.joined_utc),
                    forks.get(row.bench, 0),
                    conflicts.count(row.bench),
                )
            )
    return found


def _forks(connection: Connection) -> list[tuple[str, int]]:
    query = select(fork.c.bench, func.count()).group_by(fork.c.bench)
    return [(bench, count) for bench, count in connection.execute(query)]
