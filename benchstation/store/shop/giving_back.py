"""Giving a bench back its own entries, which the shop holds and its file lacks.

A file that was restored from an older copy, or a new computer, gets them before anything is added:
so nothing is lost and nothing forks. They are read by the bench's chain and number, and checked by
hash and signed head as they are written.
"""

import hashlib
from collections.abc import Iterator
from dataclasses import dataclass
from pathlib import Path

from sqlalchemy import Connection, select

from benchstation.domain.events import ShopTaken
from benchstation.domain.shop_chain import SHOP
from benchstation.store import journal, signed_heads
from benchstation.store.backends.postgresql import ShopAddress, shop_engine
from benchstation.store.backends.postgresql_errors import in_shop_words
from benchstation.store.canonical import parsed
from benchstation.store.engine import Store, open_store
from benchstation.store.errors import BehindError
from benchstation.store.known_heads import KnownHeads
from benchstation.store.put_back import Part
from benchstation.store.schema import journal as table
from benchstation.store.shop.batches import CONTENT, Batch, content, next_batch
from benchstation.store.shop.sending import require_no_fork


@dataclass(frozen=True, slots=True)
class GivenBack:
    """How many entries the file had, and how many it has now."""

    before: int
    now: int


def give_back(store: Store, address: ShopAddress) -> GivenBack:
    """Write into ``store`` what the shop holds of its bench beyond the file's last entry.

    The store is open without its key, so that nothing was added at its opening. Raises
    :class:`ForkError` where the file went on after the copy by itself, and :class:`StoreError`.
    """
    engine = shop_engine(address)
    try:
        with in_shop_words(address.where), engine.connect() as shop, shop.begin():
            before, _ = store.head()
            for part in _parts(shop, store):
                store.take_back(part)
            return GivenBack(before, store.head()[0])
    finally:
        engine.dispose()


def entries_at(address: ShopAddress, bench: str) -> int:
    """Return how many entries of a bench the shop holds. Raises :class:`StoreError`."""
    engine = shop_engine(address)
    try:
        with in_shop_words(address.where), engine.connect() as shop:
            return journal.head(shop, bench)[0]
    finally:
        engine.dispose()


def require_level(path: Path, bench: str, address: ShopAddress, known: KnownHeads) -> None:
    """Raise :class:`BehindError` where the shop holds more of a bench than its file.

    Only where this computer has signed nothing at that place yet: there it cannot tell by itself
    that a file is an older copy, and a first entry that is added to it would be a fork for ever.
    """
    if known.of(path, "") is not None:
        return
    own, there = 0, entries_at(address, bench)
    if path.is_file():
        with open_store(path, bench, read_only=True) as store:
            own, _ = store.head()
    if there > own:
        raise BehindError(
            f"the records end at entry {own}, and the shop holds {there} of this bench: "
            "they are an older copy, or the computer is another.",
            where=str(path),
            advice="Nothing was changed. Run 'benchstation restore --shop': it brings back what is "
            "missing.",
        )


def _parts(shop: Connection, store: Store) -> Iterator[Part]:
    while True:
        with store.reading() as local:
            own, _ = journal.head(local, store.bench)
            there = journal.head(shop, store.bench)
            require_no_fork(shop, local, store.bench, min(own, there[0]))
            known, _ = journal.head(local, SHOP)
        batch = next_batch(shop, store.bench, own)
        if not batch.rows:
            return
        yield _part(shop, store.bench, batch, own, known)


def _part(shop: Connection, bench: str, batch: Batch, own: int, known: int) -> Part:
    facts = [parsed(row.body) for row in batch.rows if row.kind == ShopTaken.kind]
    upto = facts[-1]["seq"] if facts else known
    rows = shop.execute(
        select(table)
        .where(table.c.bench == SHOP, table.c.seq > known, table.c.seq <= upto)
        .order_by(table.c.seq)
    ).all()
    found = {kind: dict(content(shop, of, batch.names[kind])) for kind, of in CONTENT.items()}
    sound = {
        kind: {name: data for name, data in of.items() if _is(data, name)}
        for kind, of in found.items()
    }
    heads = signed_heads.between(shop, bench, own, batch.rows[-1].seq)
    return Part(batch.rows, rows, sound["trace"], sound["photo"], heads)


def _is(data: bytes, name: str) -> bool:
    return hashlib.sha256(data).hexdigest() == name
