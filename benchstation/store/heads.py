"""Up to which entry of each chain the searched tables tell: what a list of units rests on."""

from dataclasses import dataclass

from sqlalchemy import select

from benchstation.domain.shop_chain import SHOP
from benchstation.store import journal
from benchstation.store.chain_store import ChainStore
from benchstation.store.schema import journal as entries
from benchstation.store.shop.tables import projected


@dataclass(frozen=True, slots=True)
class ToldTo:
    """The entry of a chain up to which something tells: its number, hash and time in UTC."""

    bench: str
    seq: int
    hash: str
    utc: str

    @property
    def words(self) -> str:
        """Return it as it stands on a list."""
        return f"{self.bench}, entry {self.seq}, {self.utc}, {self.hash}"


def told_to(store: ChainStore) -> tuple[ToldTo, ...]:
    """Return where each chain stood: a bench's own, or of a shop all that its lists hold."""
    with store.reading() as connection:
        if store.bench == SHOP:
            rows = connection.execute(select(projected).order_by(projected.c.bench)).all()
            heads = [(row.bench, row.seq, row.hash) for row in rows]
        else:
            heads = [(store.bench, *journal.head(connection, store.bench))]
        found = []
        for bench, seq, own in heads:
            this = select(entries.c.utc).where(entries.c.bench == bench, entries.c.seq == seq)
            utc = connection.execute(this).scalar() or ""
            found.append(ToldTo(bench, seq, own, utc))
    return tuple(found)
