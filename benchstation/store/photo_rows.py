"""Photographs by their SHA-256: each is kept once, however many events refer to it."""

import hashlib
from collections.abc import Iterable, Mapping

from sqlalchemy import Connection, bindparam, exists, insert, select

from benchstation.rebuild.events import Event, PhotoTaken
from benchstation.store.errors import NotOnRecordError, NotStorableError, StoreCorruptError
from benchstation.store.schema import photo

_KEPT = select(photo.c.sha256).where(photo.c.sha256 == bindparam("name"))
_DATA = select(photo.c.data).where(photo.c.sha256 == bindparam("name"))
_INSERT = insert(photo).from_select(
    ["sha256", "data"],
    select(
        bindparam("name", type_=photo.c.sha256.type), bindparam("blob", type_=photo.c.data.type)
    ).where(~exists().where(photo.c.sha256 == bindparam("name"))),
)


def keep(
    connection: Connection, photos: Mapping[str, bytes], events: Iterable[Event], where: str
) -> None:
    """Insert the photographs that are not there yet.

    Raises :class:`NotStorableError` when one that an event names is neither given nor there, or
    when one is given under another name than its SHA-256.
    """
    wrong = [name for name, data in photos.items() if hashlib.sha256(data).hexdigest() != name]
    wanted = {event.photo_sha256 for event in events if isinstance(event, PhotoTaken)}
    wrong += [
        name
        for name in wanted - photos.keys()
        if connection.execute(_KEPT, {"name": name}).first() is None
    ]
    if wrong:
        raise NotStorableError(
            "an event refers to a photograph that is not on record.",
            where=where,
            advice="Nothing of it was kept. Add the photograph again.",
            detail=", ".join(sorted(wrong)),
        )
    if photos:
        rows = [{"name": name, "blob": data} for name, data in photos.items()]
        connection.execute(_INSERT, rows)


def read(connection: Connection, sha256: str, where: str) -> bytes:
    """Give a photograph's bytes.

    Raises :class:`NotOnRecordError` when it is missing, :class:`StoreCorruptError` when it was
    altered.
    """
    data = connection.execute(_DATA, {"name": sha256}).scalar()
    if data is None:
        raise NotOnRecordError(
            f"there is no photograph '{sha256[:12]}'.",
            where=where,
            advice="Look for it in a backup.",
        )
    if not isinstance(data, bytes) or hashlib.sha256(data).hexdigest() != sha256:
        raise StoreCorruptError(
            f"the photograph '{sha256[:12]}' was altered or damaged.",
            where=where,
            advice="Verify the records, and look for it in a backup.",
        )
    return data
