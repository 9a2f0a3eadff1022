"""Traces by their SHA-256: each is kept once, however many events refer to it."""

from collections.abc import Iterable, Mapping

from sqlalchemy import Connection, bindparam, insert, select

from benchstation.rebuild.events import Event
from benchstation.store.errors import NotOnRecordError, NotStorableError
from benchstation.store.schema import trace

_KEPT = select(trace.c.sha256).where(trace.c.sha256.in_(bindparam("names", expanding=True)))
_DATA = select(trace.c.data).where(trace.c.sha256 == bindparam("name"))
_INSERT = insert(trace)


def named(events: Iterable[Event]) -> set[str]:
    """Give the traces that events refer to."""
    return {getattr(event, "trace_sha256", "") for event in events} - {""}


def keep(connection: Connection, blobs: Mapping[str, bytes], wanted: set[str], where: str) -> None:
    """Insert the blobs that are not there yet.

    Raises :class:`NotStorableError` when one that is ``wanted`` is neither given nor there.
    """
    names = wanted | blobs.keys()
    if not names:
        return
    kept = set(connection.execute(_KEPT, {"names": list(names)}).scalars())
    missing = wanted - blobs.keys() - kept
    if missing:
        raise NotStorableError(
            "an event refers to a trace that is not on record.",
            where=where,
            advice="Nothing of it was kept. Capture it again.",
            detail=", ".join(sorted(missing)),
        )
    new = [{"sha256": name, "data": data} for name, data in blobs.items() if name not in kept]
    if new:
        connection.execute(_INSERT, new)


def read(connection: Connection, sha256: str, where: str) -> bytes:
    """Give a trace's stored bytes. Raises :class:`NotOnRecordError`."""
    data = connection.execute(_DATA, {"name": sha256}).scalar()
    if data is None:
        raise NotOnRecordError(
            f"there is no trace '{sha256[:12]}'.", where=where, advice="Look for it in a backup."
        )
    return bytes(data)
