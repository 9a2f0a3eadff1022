"""Content by its SHA-256, kept once however many events refer to it: traces and photographs."""

from collections.abc import Iterable, Mapping, Set
from typing import Any

from sqlalchemy import Connection, Table, bindparam, exists, insert, select

from benchstation.store.errors import NotOnRecordError, NotStorableError


class ContentRows:
    """One table of content: its columns are ``sha256`` and ``data``. ``what`` names a row."""

    def __init__(self, table: Table, what: str, again: str) -> None:
        self._what, self._again = what, again
        name, data = table.c.sha256, table.c.data
        self._kept = select(name).where(name == bindparam("name"))
        self._data = select(data).where(name == bindparam("name"))
        # Only what is not there yet, in one statement for all.
        self._insert = insert(table).from_select(
            ["sha256", "data"],
            select(bindparam("name", type_=name.type), bindparam("blob", type_=data.type)).where(
                ~exists().where(name == bindparam("name"))
            ),
        )

    def keep(
        self,
        connection: Connection,
        blobs: Mapping[str, bytes],
        wanted: Set[str],
        where: str,
        wrong: Iterable[str] = (),
    ) -> None:
        """Insert the blobs that are not there yet.

        Raises :class:`NotStorableError` when one of ``wanted`` is neither given nor there, and for
        every name in ``wrong``.
        """
        unfit = [*wrong]
        unfit += [
            name
            for name in wanted - blobs.keys()
            if connection.execute(self._kept, {"name": name}).first() is None
        ]
        if unfit:
            raise NotStorableError(
                f"an event refers to a {self._what} that is not on record.",
                where=where,
                advice=f"Nothing of it was kept. {self._again}",
                detail=", ".join(sorted(unfit)),
            )
        if blobs:
            rows = [{"name": name, "blob": data} for name, data in blobs.items()]
            connection.execute(self._insert, rows)

    def read(self, connection: Connection, sha256: str, where: str) -> Any:
        """Return what is stored. Raises :class:`NotOnRecordError`."""
        data = connection.execute(self._data, {"name": sha256}).scalar()
        if data is None:
            raise NotOnRecordError(
                f"there is no {self._what} '{sha256[:12]}'.",
                where=where,
                advice="Look for it in a backup.",
            )
        return data
