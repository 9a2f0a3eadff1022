"""The Merkle tree over an append-only list: roots, proofs, and their checks (RFC 9162, 2.1).

A leaf's hash is SHA-256 of 0x00 and its bytes, a node's of 0x01 and the two below it. A node's
place is (level, number): level 0 are the leaves, and node ``n`` of level ``k`` covers the leaves
``n * 2**k`` up to ``(n + 1) * 2**k``. Only whole nodes have a place; they never change again.
"""

import hashlib
from collections.abc import Callable, Iterable, Sequence
from dataclasses import dataclass, field

EMPTY_ROOT = hashlib.sha256(b"").digest()
NodeAt = Callable[[int, int], bytes]
"""Gives the hash of the whole node at a level and number."""


def leaf_hash(data: bytes) -> bytes:
    """Return the hash of a leaf."""
    return hashlib.sha256(b"\x00" + data).digest()


def node_hash(left: bytes, right: bytes) -> bytes:
    """Return the hash of the node above two others."""
    return hashlib.sha256(b"\x01" + left + right).digest()


@dataclass(frozen=True, slots=True)
class Node:
    """A whole node that a new leaf completed."""

    level: int
    number: int
    hash: bytes


@dataclass(slots=True)
class Frontier:
    """What a growing tree must remember: its whole nodes that have none above them, left first."""

    size: int = 0
    tops: list[bytes] = field(default_factory=list)

    def push(self, leaf: bytes) -> list[Node]:
        """Append a leaf by its hash; return the nodes above it that it completed."""
        made, own, number, level = [], leaf, self.size, 0
        while number & 1:
            own, number, level = node_hash(self.tops.pop(), own), number >> 1, level + 1
            made.append(Node(level, number, own))
        self.tops.append(own)
        self.size += 1
        return made

    def root(self) -> bytes:
        """Return the root of the tree as it is now."""
        if not self.tops:
            return EMPTY_ROOT
        own = self.tops[-1]
        for left in reversed(self.tops[:-1]):
            own = node_hash(left, own)
        return own


def frontier_at(size: int, node: NodeAt) -> Frontier:
    """Return the frontier of the first ``size`` leaves, from nodes that are kept."""
    levels = [level for level in reversed(range(size.bit_length())) if size >> level & 1]
    return Frontier(size, [node(level, (size >> level) - 1) for level in levels])


def inclusion_proof(index: int, size: int, node: NodeAt) -> list[bytes]:
    """Return the audit path of leaf ``index`` in the tree of ``size`` leaves (RFC 9162, 2.1.3.1).

    Raises ``ValueError`` for a leaf that is not in the tree.
    """
    if not 0 <= index < size:
        raise ValueError(f"leaf {index} is not in a tree of {size}")
    path: list[bytes] = []
    low, high = 0, size
    while high - low > 1:
        middle = low + _split(high - low)
        if index < middle:
            path.append(_hash_of(middle, high, node))
            high = middle
        else:
            path.append(_hash_of(low, middle, node))
            low = middle
    return path[::-1]


def consistency_proof(earlier: int, size: int, node: NodeAt) -> list[bytes]:
    """Return the proof that the first ``earlier`` leaves of the tree are as they were (2.1.4.1).

    Raises ``ValueError`` for sizes that do not follow each other.
    """
    if not 0 < earlier <= size:
        raise ValueError(f"a tree of {size} does not follow one of {earlier}")
    path: list[bytes] = []
    low, high, whole = 0, size, True
    while earlier != high:
        middle = low + _split(high - low)
        if earlier <= middle:
            path.append(_hash_of(middle, high, node))
            high = middle
        else:
            path.append(_hash_of(low, middle, node))
            low, whole = middle, False
    if not whole:
        path.append(_hash_of(low, high, node))
    return path[::-1]


def proves_inclusion(
    leaf: bytes, index: int, size: int, path: Sequence[bytes], root: bytes
) -> bool:
    """Return True when the path leads from the leaf's hash to the root (RFC 9162, 2.1.3.2)."""
    if not 0 <= index < size:
        return False
    number, last, own = index, size - 1, leaf
    for other in path:
        if last == 0:
            return False
        if number & 1 or number == last:
            own = node_hash(other, own)
            while not number & 1 and number:
                number, last = number >> 1, last >> 1
        else:
            own = node_hash(own, other)
        number, last = number >> 1, last >> 1
    return last == 0 and own == root


def proves_consistency(
    earlier: int, earlier_root: bytes, size: int, root: bytes, path: Sequence[bytes]
) -> bool:
    """Return True when the path proves that the later tree begins with the earlier (2.1.4.2)."""
    if not 0 < earlier <= size:
        return False
    if earlier == size:
        return not path and earlier_root == root
    left = list(path)
    if earlier & (earlier - 1) == 0:
        left.insert(0, earlier_root)
    if not left:
        return False
    number, last = earlier - 1, size - 1
    while number & 1:
        number, last = number >> 1, last >> 1
    old = new = left[0]
    for other in left[1:]:
        if last == 0:
            return False
        if number & 1 or number == last:
            old, new = node_hash(other, old), node_hash(other, new)
            while not number & 1 and number:
                number, last = number >> 1, last >> 1
        else:
            new = node_hash(new, other)
        number, last = number >> 1, last >> 1
    return last == 0 and old == earlier_root and new == root


def root_at(size: int, node: NodeAt) -> bytes:
    """Return the root of the first ``size`` leaves, from nodes that are kept."""
    return frontier_at(size, node).root()


def grown(leaves: Iterable[bytes]) -> Frontier:
    """Return the frontier of a tree with these leaves, each given by its hash."""
    frontier = Frontier()
    for leaf in leaves:
        frontier.push(leaf)
    return frontier


def _split(count: int) -> int:
    """Return the largest power of two that is smaller than ``count``."""
    return 1 << (count - 1).bit_length() - 1


def _hash_of(low: int, high: int, node: NodeAt) -> bytes:
    """Return the hash over the leaves from ``low`` up to ``high``; low is aligned."""
    count = high - low
    if count & (count - 1) == 0:
        return node(count.bit_length() - 1, low // count)
    middle = low + _split(count)
    return node_hash(_hash_of(low, middle, node), _hash_of(middle, high, node))
