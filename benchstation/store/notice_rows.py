"""Of which units somebody was told, kept from the journals as they grow."""

from sqlalchemy import Connection, insert

from benchstation.domain.events import NoticeGiven
from benchstation.store.column_limits import fitting
from benchstation.store.journal import Entry
from benchstation.store.schema import notice


def project(connection: Connection, entry: Entry) -> None:
    """Note which unit an entry tells of that somebody was told of it."""
    if isinstance(entry.event, NoticeGiven):
        row = {"bench": entry.bench, "seq": entry.seq, "rebuild": entry.event.rebuild}
        connection.execute(insert(notice), fitting(notice, row))
