"""The whole nodes of the tree over a bench's entries, kept so that a proof reads few of them.

A leaf is the hash of an entry, which covers all of it; leaves are read from the journal itself.
"""

from collections.abc import Iterable, Iterator, Sequence
from typing import Any

from sqlalchemy import Connection, bindparam, func, insert, select

from benchstation.store.errors import StoreCorruptError
from benchstation.store.merkle import Frontier, Node, NodeAt, frontier_at, leaf_hash
from benchstation.store.schema import journal, tree_node

_LEAF = select(journal.c.hash).where(
    journal.c.bench == bindparam("own"), journal.c.seq == bindparam("seq")
)
_NODE = select(tree_node.c.hash).where(
    tree_node.c.bench == bindparam("own"),
    tree_node.c.level == bindparam("level"),
    tree_node.c.number == bindparam("number"),
)
_LEVEL = (
    select(tree_node.c.number, tree_node.c.hash)
    .where(tree_node.c.bench == bindparam("own"), tree_node.c.level == bindparam("level"))
    .order_by(tree_node.c.number)
)
_COUNT = select(func.count()).select_from(tree_node)
_INSERT = insert(tree_node)
BATCH = 500


def leaf_of(entry_hash: str) -> bytes:
    """Return the leaf of an entry."""
    return leaf_hash(bytes.fromhex(entry_hash))


def node_at(connection: Connection, bench: str) -> NodeAt:
    """Return the lookup of whole nodes. It raises :class:`StoreCorruptError` for one not there."""

    def node(level: int, number: int) -> bytes:
        if level:
            place = {"own": bench, "level": level, "number": number}
            found = connection.execute(_NODE, place).scalar()
        else:
            own = connection.execute(_LEAF, {"own": bench, "seq": number + 1}).scalar()
            found = None if own is None else leaf_of(own)
        if not isinstance(found, bytes):
            raise StoreCorruptError(
                "the tree over the entries is incomplete.",
                where="journal",
                advice="Verify the records; the searched tables are made again from the journal.",
                detail=f"level {level}, number {number}",
            )
        return found

    return node


def frontier(connection: Connection, bench: str, size: int) -> Frontier:
    """Return the frontier of the first ``size`` entries."""
    return frontier_at(size, node_at(connection, bench))


def write(connection: Connection, bench: str, nodes: Sequence[Node]) -> None:
    """Insert nodes."""
    if nodes:
        rows = [
            {"bench": bench, "level": n.level, "number": n.number, "hash": n.hash} for n in nodes
        ]
        connection.execute(_INSERT, rows)


def grow(
    connection: Connection, bench: str, onto: Frontier, entry_hashes: Iterable[str]
) -> Frontier:
    """Insert the nodes that more entries complete; return the frontier after them."""
    now = Frontier(onto.size, list(onto.tops))
    write(connection, bench, [node for own in entry_hashes for node in now.push(leaf_of(own))])
    return now


class Growing:
    """Makes the nodes of a whole journal, entry by entry, and writes them in batches."""

    def __init__(self, connection: Connection, bench: str) -> None:
        self._connection, self._bench = connection, bench
        self.frontier = Frontier()
        self._waiting: list[Node] = []

    def add(self, entry_hash: str) -> None:
        """Take one more entry."""
        self._waiting += self.frontier.push(leaf_of(entry_hash))
        if len(self._waiting) >= BATCH:
            self.finish()

    def finish(self) -> None:
        """Write what waits."""
        write(self._connection, self._bench, self._waiting)
        self._waiting = []


class Compared:
    """Makes the nodes of a whole journal again and holds them against those that are kept.

    Each level is read once, beside the others, so that nothing is kept of what was compared.
    """

    def __init__(self, connection: Connection, bench: str) -> None:
        self._connection, self._bench = connection, bench
        self.frontier = Frontier()
        self._levels: dict[int, Iterator[Any]] = {}
        self._made = 0

    def add(self, entry_hash: str) -> bool:
        """Take one more entry; return False where a node that it completes is kept otherwise."""
        for node in self.frontier.push(leaf_of(entry_hash)):
            self._made += 1
            kept = self._levels.get(node.level) or self._begin(node.level)
            row = next(kept, None)
            if row is None or (row.number, row.hash) != (node.number, node.hash):
                return False
        return True

    def is_all(self) -> bool:
        """Return True when no other nodes are kept."""
        return self._connection.execute(_COUNT).scalar() == self._made

    def _begin(self, level: int) -> Iterator[Any]:
        given = {"own": self._bench, "level": level}
        self._levels[level] = found = iter(self._connection.execute(_LEVEL, given))
        return found
