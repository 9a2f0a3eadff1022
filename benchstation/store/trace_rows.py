"""Traces by their SHA-256: each is kept once, however many events refer to it."""

from collections.abc import Iterable, Mapping

from sqlalchemy import Connection, bindparam, exists, insert, select

from benchstation.rebuild.events import Event
from benchstation.store.errors import NotOnRecordError, NotStorableError
from benchstation.store.schema import trace

_KEPT = select(trace.c.sha256).where(trace.c.sha256 == bindparam("name"))
_DATA = select(trace.c.data).where(trace.c.sha256 == bindparam("name"))
# Only what is not there yet, in one statement for all.
_INSERT = insert(trace).from_select(
    ["sha256", "data"],
    select(
        bindparam("name", type_=trace.c.sha256.type), bindparam("blob", type_=trace.c.data.type)
    ).where(~exists().where(trace.c.sha256 == bindparam("name"))),
)


def keep(
    connection: Connection, blobs: Mapping[str, bytes], events: Iterable[Event], where: str
) -> None:
    """Insert the blobs that are not there yet.

    Raises :class:`NotStorableError` when one that an event names is neither given nor there.
    """
    wanted = {getattr(event, "trace_sha256", "") for event in events} - {""}
    missing = [
        name
        for name in wanted - blobs.keys()
        if connection.execute(_KEPT, {"name": name}).first() is None
    ]
    if missing:
        raise NotStorableError(
            "an event refers to a trace that is not on record.",
            where=where,
            advice="Nothing of it was kept. Capture it again.",
            detail=", ".join(sorted(missing)),
        )
    if blobs:
        rows = [{"name": name, "blob": data} for name, data in blobs.items()]
        connection.execute(_INSERT, rows)


def read(connection: Connection, sha256: str, where: str) -> bytes:
    """Give a trace's stored bytes. Raises :class:`NotOnRecordError`."""
    data = connection.execute(_DATA, {"name": sha256}).scalar()
    if data is None:
        raise NotOnRecordError(
            f"there is no trace '{sha256[:12]}'.", where=where, advice="Look for it in a backup."
        )
    return bytes(data)
