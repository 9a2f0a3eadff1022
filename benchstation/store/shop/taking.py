"""Reading the shop's own chain, and checking it before a bench takes any of it.

It is read by chain and number, never by one number over all: a reader of such a number skips rows
that are committed late. The copy here is held against the shop by its last hash, which covers all
before it; heads that a desk or a bench signed are held against the tree over the copy.
"""

import logging
from typing import Any

from sqlalchemy import Connection, Row, bindparam, func, insert, select

from benchstation.domain.events import BenchJoined, DeskJoined
from benchstation.domain.shop_chain import SHOP
from benchstation.store import journal, signed_heads, taken_chain, tree_rows
from benchstation.store.journal import Entry
from benchstation.store.merkle import Frontier, grown
from benchstation.store.row_check import RowError
from benchstation.store.schema import journal as table
from benchstation.store.shop.batches import hash_at
from benchstation.store.shop.errors import ShopChangedError
from benchstation.store.signed_heads import SignedHead

ENTRIES_AT_ONCE = 500
_LOG = logging.getLogger(__name__)
_NEXT = (
    select(table)
    .where(table.c.bench == SHOP, table.c.seq > bindparam("last"))
    .order_by(table.c.seq)
    .limit(ENTRIES_AT_ONCE)
)
_COPY = (
    select(table)
    .where(table.c.bench == SHOP, table.c.seq > bindparam("after"), table.c.seq <= bindparam("to"))
    .order_by(table.c.seq)
)
_ADVICE = (
    "Nothing was changed here. Keep this bench's records for QA, who looks at the shop's chain."
)


class ShopReader:
    """Follows the shop's chain from what a bench has taken of it."""

    def __init__(self, local: Connection) -> None:
        """Take up the copy that a bench holds."""
        self._tree = Frontier()
        self._keys: set[str] = set()
        self._signed = 0
        """So many entries are covered by the newest signed head that was looked at."""
        self._hashes = [journal.GENESIS]
        for row in journal.rows(local, SHOP):
            self._add(journal.entry_of(row))

    @property
    def last(self) -> tuple[int, str]:
        """Return number and hash of the entry that was read last."""
        return len(self._hashes) - 1, self._hashes[-1]

    def require_same(self, shop: Connection) -> int:
        """Return how many of the entries taken the shop lacks, having been restored from a copy.

        Raises :class:`ShopChangedError` where its chain is another than the one that was taken.
        """
        seq, own = self.last
        there, last = journal.head(shop, SHOP)
        if hash_at(shop, SHOP, seq) == own:
            return 0
        if there < seq and self._hashes[there] == last:
            return seq - there
        raise ShopChangedError(
            f"the shop's own chain is not the one that this bench took up to entry {seq}.",
            where=SHOP,
            advice=_ADVICE,
        )

    def next_rows(self, shop: Connection) -> list[Row[Any]]:
        """Return what follows in the shop's chain, checked; at most a part of it at once.

        Raises :class:`ShopChangedError` for what does not follow or is not as it was signed; what
        this reader knows is then to be made again.
        """
        before = self.last[0]
        rows = list(shop.execute(_NEXT, {"last": before}))
        upto = rows[-1].seq if rows else before
        heads = {head.size: head for head in signed_heads.between(shop, SHOP, self._signed, upto)}
        try:
            entries = taken_chain.checked_entries(rows, self.last)
        except RowError as error:
            raise self._changed(str(error)) from error
        # A desk may sign what was read here before; the newest of those covers the others.
        if earlier := [size for size in heads if size <= before]:
            leaves = map(tree_rows.leaf_of, self._hashes[1 : max(earlier) + 1])
            self._require_signed(heads[max(earlier)], grown(leaves))
        for entry in entries:
            self._add(entry)
            if entry.seq in heads:
                self._require_signed(heads[entry.seq], self._tree)
        return rows

    def _require_signed(self, head: SignedHead, tree: Frontier) -> None:
        self._signed = head.size
        if head.public_key not in self._keys:
            # Whoever may write heads could stop every bench with one; it proves nothing either way.
            _LOG.warning("a head of the shop's chain is signed with a key that is not on record")
            return
        if not head.genuine or head.root != tree.root().hex():
            raise self._changed(f"its signed head of {head.size} entries does not fit.")

    def _add(self, entry: Entry) -> None:
        if isinstance(entry.event, BenchJoined | DeskJoined):
            self._keys.add(entry.event.public_key)
        self._tree.push(tree_rows.leaf_of(entry.hash))
        self._hashes.append(entry.hash)

    def _changed(self, why: str) -> ShopChangedError:
        return ShopChangedError(
            f"the shop's own chain is not sound: {why}", where=SHOP, advice=_ADVICE
        )


def feed_lost(shop: Connection, local: Connection, reader: ShopReader) -> int:
    """Append to the shop's chain what it lost of it and this bench holds; gives how many entries.

    The database was restored from a copy. What a desk wrote, only a desk or the owner may put
    back: the database refuses it from a bench. Raises :class:`ShopChangedError`.
    """
    if not reader.require_same(shop):
        return 0
    shop.execute(select(func.lock_chain(SHOP)))
    lost = reader.require_same(shop)
    last, _ = reader.last
    rows = [row._asdict() for row in local.execute(_COPY, {"after": last - lost, "to": last})]
    if rows:
        shop.execute(insert(table), rows)
    return len(rows)
