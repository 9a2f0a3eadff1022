"""Making the tables of a records file: their statements are worked out once, not for every file."""

from functools import cache

from sqlalchemy import Connection, ExecutableDDLElement, MetaData, create_mock_engine
from sqlalchemy.dialects import sqlite


@cache
def _statements(tables: MetaData) -> tuple[str, ...]:
    said: list[str] = []
    dialect = sqlite.dialect()

    def keep(statement: ExecutableDDLElement, *_: object, **__: object) -> None:
        said.append(str(statement.compile(dialect=dialect)))

    tables.create_all(create_mock_engine("sqlite://", keep), checkfirst=False)
    return tuple(said)


def make_tables(connection: Connection, tables: MetaData) -> None:
    """Make these tables with their indexes; none of them may be there."""
    for statement in _statements(tables):
        connection.exec_driver_sql(statement)
