"""Signed heads: a bench's word that at a time its journal had so many entries and this root."""

from collections.abc import Mapping
from dataclasses import dataclass
from typing import Any

from cryptography.exceptions import InvalidSignature
from cryptography.hazmat.primitives.asymmetric.ed25519 import Ed25519PublicKey
from sqlalchemy import Connection, bindparam, exists, insert, select

from benchstation.store.canonical import canonical
from benchstation.store.schema import tree_head

PURPOSE = "benchstation tree head 1"
"""Within what is signed, so that the signature can stand for nothing else."""
# In one statement that both engines know.
_KEEP = insert(tree_head).from_select(
    list(tree_head.c.keys()),
    select(*(bindparam(column.name, type_=column.type) for column in tree_head.c)).where(
        ~exists().where(
            tree_head.c.bench == bindparam("bench"), tree_head.c.size == bindparam("size")
        )
    ),
)


@dataclass(frozen=True, slots=True)
class SignedHead:
    """A head and its signature; hashes, key and signature are hexadecimal, ``utc`` as stored."""

    bench: str
    size: int
    root: str
    utc: str
    public_key: str
    signature: str = ""

    def signed_bytes(self) -> bytes:
        """Return what the signature is over: canonical JSON of the rest, and what it is for."""
        rest = {name: value for name, value in self.as_data().items() if name != "signature"}
        return canonical({**rest, "purpose": PURPOSE})

    def as_data(self) -> dict[str, Any]:
        """Return it as plain data; :func:`head_from` reads them."""
        # Flat, so without the deep copy of asdict: one is signed while somebody waits.
        return {name: getattr(self, name) for name in self.__slots__}

    @property
    def genuine(self) -> bool:
        """Return True when the signature is the key's."""
        try:
            key = Ed25519PublicKey.from_public_bytes(bytes.fromhex(self.public_key))
            key.verify(bytes.fromhex(self.signature), self.signed_bytes())
        except (InvalidSignature, ValueError):
            return False
        return True


def head_from(data: Mapping[str, Any]) -> SignedHead:
    """Return the head that plain data state. Raises ``ValueError`` when they state none."""
    names = SignedHead.__dataclass_fields__
    texts = [data.get(name) for name in names if name != "size"]
    size = data.get("size")
    if set(data) != set(names) or not all(isinstance(text, str) for text in texts):
        raise ValueError("this is no signed head")
    if not isinstance(size, int) or isinstance(size, bool) or size < 1:
        raise ValueError("a signed head counts at least one entry")
    return SignedHead(**data)


def keep(connection: Connection, head: SignedHead) -> None:
    """Insert a head; one of that size that is there stays."""
    connection.execute(_KEEP, head.as_data())


def kept(connection: Connection, bench: str) -> list[SignedHead]:
    """Return all heads in the file, the smallest first."""
    query = select(tree_head).where(tree_head.c.bench == bench).order_by(tree_head.c.size)
    return [SignedHead(*row) for row in connection.execute(query)]


def between(connection: Connection, bench: str, after: int, size: int) -> list[SignedHead]:
    """Return the heads in the file of more than ``after`` entries and at most ``size``."""
    query = select(tree_head).where(
        tree_head.c.bench == bench, tree_head.c.size > after, tree_head.c.size <= size
    )
    return [SignedHead(*row) for row in connection.execute(query.order_by(tree_head.c.size))]


def newest(connection: Connection, bench: str) -> SignedHead | None:
    """Return the last head in the file."""
    mine = select(tree_head).where(tree_head.c.bench == bench)
    row = connection.execute(mine.order_by(tree_head.c.size.desc()).limit(1)).first()
    return SignedHead(*row) if row is not None else None
