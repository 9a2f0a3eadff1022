"""Traces by their SHA-256."""

from collections.abc import Iterable, Mapping

from sqlalchemy import Connection

from benchstation.domain.events import Event
from benchstation.store.content_rows import ContentRows
from benchstation.store.schema import trace

_ROWS = ContentRows(trace, "trace", "Capture it again.")


def keep(
    connection: Connection, blobs: Mapping[str, bytes], events: Iterable[Event], where: str
) -> None:
    """Insert the blobs that are not there yet.

    Raises :class:`NotStorableError` when one that an event names is neither given nor there.
    """
    wanted = {getattr(event, "trace_sha256", "") for event in events} - {""}
    _ROWS.keep(connection, blobs, wanted, where)


def read(connection: Connection, sha256: str, where: str) -> bytes:
    """Return a trace's stored bytes. Raises :class:`NotOnRecordError`."""
    return bytes(_ROWS.read(connection, sha256, where))
