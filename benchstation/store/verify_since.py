"""Proving what came since a journal was proven whole.

The entries before are not read again: the root of the stored tree must be the one of the signed
head up to which they were proven, and a proof of consistency (RFC 9162, 2.1.4) must lead from it to
the root of all entries now. Bodies, content, pages and searched tables of what was before are not
looked at: a disk that spoils them is found by reading all.
"""

from dataclasses import replace
from datetime import datetime

from sqlalchemy import Connection, select

from benchstation.store import journal, merkle, signed_heads, taken_chain, tree_rows
from benchstation.store.checks import (
    Found,
    readable,
    require_content_of,
    require_row,
    require_signed,
    require_taken,
)
from benchstation.store.merkle import Frontier
from benchstation.store.proven import Proven
from benchstation.store.schema import journal as table
from benchstation.store.schema import utc_text
from benchstation.store.taken import taken
from benchstation.store.trust import key_facts
from benchstation.store.verification import (
    MISFITS,
    Cancelled,
    Outside,
    Pass,
    Progress,
    Verification,
    require_anchor,
    require_rest,
    verdict,
)


def verify_since(
    connection: Connection,
    bench: str,
    outside: Outside,
    proven: Proven,
    progress: Progress | None = None,
    cancelled: Cancelled | None = None,
) -> Verification:
    """Check what came after ``proven``, and that it continues what was proven."""
    last = (proven.head.size, proven.hash)
    try:
        keys = set(key_facts(connection, bench))
        _begun(connection, bench, proven, keys)
        shop = taken(connection, bench, last[0] + 1)
        _anchored(connection, bench, outside, proven)
        heads = {h.size: h for h in signed_heads.kept(connection, bench) if h.size > last[0]}
        tree = tree_rows.frontier(connection, bench, last[0])
        total = journal.head(connection, bench)[0] - last[0]
        walk = Pass(max(total, 1), progress, cancelled)
        for row in taken_chain.rows_as_known(connection, bench, last[0]):
            body = require_row(row, last if row.bench == bench else shop, connection)
            readable(row, body)
            require_content_of(connection, row.seq, body, hashed=True)
            if row.bench != bench:
                shop = (row.seq, row.hash)
                continue
            last = (row.seq, row.hash)
            require_taken(row, shop)
            tree.push(tree_rows.leaf_of(row.hash))
            require_signed(heads.pop(last[0], None), tree, keys)
            require_anchor(outside.anchor, last)
            walk.step()
        _consistent(connection, bench, proven, tree)
        require_rest(connection, bench, last, outside, max(heads, default=0))
    except MISFITS as error:
        return replace(verdict(last, error), since=proven)
    return Verification(True, *last, "", since=proven)


def proven_by(
    connection: Connection, bench: str, found: Verification, utc: datetime
) -> Proven | None:
    """Return the note of a sound verdict, up to the newest signed head; ``None``: there is none."""
    head = signed_heads.newest(connection, bench)
    if not found.ok or head is None or head.size > found.entries:
        return None
    own = _hash_at(connection, bench, head.size)
    before = found.since
    if before is not None:
        return Proven(before.whole_utc, before.whole_entries, head, own)
    return Proven(utc_text(utc), found.entries, head, own)


def _begun(connection: Connection, bench: str, proven: Proven, keys: set[str]) -> None:
    """Raise where the journal does not begin as it was proven."""
    head = proven.head
    if head.public_key not in keys:
        raise Found(f"the head of entry {head.size} was signed with a key that is not on record.")
    if head.bench != bench or _hash_at(connection, bench, head.size) != proven.hash:
        raise Found(f"entry {head.size} is not the one up to which the journal was proven.")
    if merkle.root_at(head.size, tree_rows.node_at(connection, bench)).hex() != head.root:
        raise Found(f"the first {head.size} entries are not those that were proven.")


def _anchored(connection: Connection, bench: str, outside: Outside, proven: Proven) -> None:
    anchor = outside.anchor
    if anchor is not None and anchor[0] <= proven.head.size:
        require_anchor(anchor, (anchor[0], _hash_at(connection, bench, anchor[0])))


def _consistent(connection: Connection, bench: str, proven: Proven, tree: Frontier) -> None:
    """Raise unless the stored tree leads from the proven root to the root of all entries."""
    head, node = proven.head, tree_rows.node_at(connection, bench)
    path = merkle.consistency_proof(head.size, tree.size, node)
    root = bytes.fromhex(head.root)
    if not merkle.proves_consistency(head.size, root, tree.size, tree.root(), path):
        raise Found(f"the first {head.size} entries are not those that were proven.")


def _hash_at(connection: Connection, bench: str, seq: int) -> str:
    query = select(table.c.hash).where(table.c.bench == bench, table.c.seq == seq)
    return str(connection.execute(query).scalar() or "")
