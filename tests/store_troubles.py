"""A journal that cannot be written for a while: the disk is full, or another program holds it."""

import contextlib
import itertools
import sqlite3
from contextlib import contextmanager
from datetime import UTC, datetime

from benchstation.domain.events import OilLotReceived
from benchstation.store.errors import StoreFullError


def pragma(store, text: str) -> int:
    (value,) = store._writer.connection.driver_connection.execute(f"PRAGMA {text}").fetchone()
    return value


@contextmanager
def locked(store):
    """Hold the database as a program does that does not ask whether another has it open."""
    pragma(store, "busy_timeout=200")
    other = sqlite3.connect(store.path, isolation_level=None)
    other.execute("BEGIN IMMEDIATE")
    yield "another program is writing to the records; nothing of this was kept"
    other.rollback()
    other.close()


@contextmanager
def full(store):
    """Let the file grow no more, and fill what is left of it."""
    pragma(store, f"max_page_count={pragma(store, 'page_count')}")
    for size in (2000, 200, 1):
        with contextlib.suppress(StoreFullError):
            for n in itertools.count():
                lot = OilLotReceived(f"F-{size}-{n}", "oil", 850.0, 1e-3, source="x" * size)
                store.append([lot], person="wieland", utc=datetime.now(UTC))
    yield "the disk is full; nothing of this was kept"
    pragma(store, "max_page_count=1000000")
