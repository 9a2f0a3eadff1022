"""The proof that an entry stands in a bench's journal, to be checked without the journal.

It is the entry whole, its path in the tree and a signed head. Whoever holds the bench's public key
recomputes the entry's hash, follows the path to the root, and checks the head's signature.
"""

from collections.abc import Mapping
from dataclasses import dataclass
from typing import Any

from sqlalchemy import Connection

from benchstation.driver_api.errors import StationError
from benchstation.store import journal, signed_heads, tree_rows
from benchstation.store.canonical import canonical, parsed
from benchstation.store.merkle import inclusion_proof, proves_inclusion
from benchstation.store.schema import journal as journal_table
from benchstation.store.signed_heads import SignedHead, head_from


@dataclass(frozen=True, slots=True)
class EntryProof:
    """An entry as it is stored, its path (hexadecimal, from the leaf up) and a signed head."""

    entry: Mapping[str, Any]
    path: tuple[str, ...]
    head: SignedHead

    @property
    def entry_hash(self) -> str:
        """Return the entry's hash, recomputed from all of it."""
        e = self.entry
        body = canonical(e["body"])
        return journal.hash_of(
            e["bench"], e["seq"], e["utc"], e["person"], e["kind"], body, e["prev"]
        )

    @property
    def holds(self) -> bool:
        """Return True when the head is genuine and the entry is in the tree that it signs."""
        head, seq = self.head, self.entry["seq"]
        path = [bytes.fromhex(part) for part in self.path]
        leaf, root = tree_rows.leaf_of(self.entry_hash), bytes.fromhex(head.root)
        return (
            head.genuine
            and head.bench == self.entry["bench"]
            and proves_inclusion(leaf, seq - 1, head.size, path, root)
        )

    def as_json(self) -> dict[str, Any]:
        """Return it as JSON-ready data."""
        return {"entry": dict(self.entry), "path": list(self.path), "head": self.head.as_data()}


def proof_of(connection: Connection, bench: str, seq: int) -> EntryProof | None:
    """Return the proof of an entry by the newest head; ``None`` where none was signed since."""
    head = signed_heads.newest(connection, bench)
    if head is None or head.size < seq:
        return None
    query = journal.selection().where(journal_table.c.seq == seq)
    row = connection.execute(query, {"own": bench}).one()
    entry = {
        "bench": row.bench,
        "seq": row.seq,
        "utc": row.utc,
        "person": row.person,
        "kind": row.kind,
        "prev": row.prev,
        "body": parsed(row.body),
    }
    path = inclusion_proof(seq - 1, head.size, tree_rows.node_at(connection, bench))
    return EntryProof(entry, tuple(part.hex() for part in path), head)


def proof_from(data: Mapping[str, Any]) -> EntryProof:
    """Return the proof that plain data state. Raises ``ValueError`` when they state none."""
    try:
        entry, head = dict(data["entry"]), head_from(data["head"])
        path = tuple(str(part) for part in data["path"])
        if not isinstance(entry["seq"], int) or set(data) != {"entry", "path", "head"}:
            raise ValueError("this is no proof of an entry")
        proof = EntryProof(entry, path, head)
        _ = proof.holds
    except (KeyError, TypeError, AttributeError, StationError) as error:
        raise ValueError(f"this is no proof of an entry: {error}") from error
    return proof
