"""Holding what a file says of its own tables, indexes and guards against what it must be.

A flipped bit in the stored text of the schema leaves every page in order: SQLite reads the tables
by that text, so a changed index or check would go unnoticed.
"""

import re
import sqlite3
from functools import cache

from sqlalchemy import Connection, create_engine, text
from sqlalchemy.pool import StaticPool

from benchstation.store.schema import TRIGGERS, core, projections
from benchstation.store.table_making import make_tables

_OBJECTS = text("SELECT type, name, tbl_name, sql FROM sqlite_master")
_INDEX_DAMAGE = re.compile(
    r"(?:row \d+ missing from|wrong # of entries in|non-unique entry in) index (\w+)$"
)
_Objects = dict[tuple[str, str], tuple[str, str]]


def differences(connection: Connection) -> list[str]:
    """Return what is missing, changed or not ours in the file's schema, by name."""
    found, wanted = _objects(connection), _wanted()
    return sorted({name for (_, name), _ in found.items() ^ wanted.items()})


def damaged_indexes(findings: list[str]) -> tuple[str, ...]:
    """Return the indexes that findings of ``integrity_check`` name; empty: more is damaged."""
    names = [_INDEX_DAMAGE.match(line) for line in findings]
    if not names or not all(names):
        return ()
    return tuple(sorted({match[1] for match in names if match is not None}))


@cache
def _wanted() -> _Objects:
    engine = create_engine(
        "sqlite+pysqlite://", creator=lambda: sqlite3.connect(":memory:"), poolclass=StaticPool
    )
    try:
        with engine.begin() as connection:
            make_tables(connection, core)
            make_tables(connection, projections)
            for statement in TRIGGERS.values():
                connection.execute(text(statement))
            return _objects(connection)
    finally:
        engine.dispose()


def _objects(connection: Connection) -> _Objects:
    # Migrations write their statements on other lines than SQLAlchemy does.
    return {
        (row.type, row.name): (row.tbl_name, "".join((row.sql or "").split()))
        for row in connection.execute(_OBJECTS)
    }
