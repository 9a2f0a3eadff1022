"""Photographs by their SHA-256."""

import hashlib
from collections.abc import Iterable, Mapping

from sqlalchemy import Connection

from benchstation.domain.events import Event, PhotoTaken
from benchstation.store.content_rows import ContentRows
from benchstation.store.errors import StoreCorruptError
from benchstation.store.schema import photo

_ROWS = ContentRows(photo, "photograph", "Add the photograph again.")


def keep(
    connection: Connection, photos: Mapping[str, bytes], events: Iterable[Event], where: str
) -> None:
    """Insert the photographs that are not there yet.

    Raises :class:`NotStorableError` when one that an event names is neither given nor there, or
    when one is given under another name than its SHA-256.
    """
    wanted = {event.photo_sha256 for event in events if isinstance(event, PhotoTaken)}
    wrong = [name for name, data in photos.items() if hashlib.sha256(data).hexdigest() != name]
    _ROWS.keep(connection, photos, wanted, where, wrong)


def read(connection: Connection, sha256: str, where: str) -> bytes:
    """Return a photograph's bytes.

    Raises :class:`NotOnRecordError` when it is missing, :class:`StoreCorruptError` when it was
    altered.
    """
    data = _ROWS.read(connection, sha256, where)
    if not isinstance(data, bytes) or hashlib.sha256(data).hexdigest() != sha256:
        raise StoreCorruptError(
            f"the photograph '{sha256[:12]}' was altered or damaged.",
            where=where,
            advice="Verify the records, and look for it in a backup.",
        )
    return data
