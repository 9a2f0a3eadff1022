"""The shop's tables: those of a bench's file, and what only the shop has.

Texts of every column compare by code points there (``COLLATE "C"``), as SQLite does, so that both
sort alike whatever language the database was made in.
"""

from sqlalchemy import Column, Index, Integer, LargeBinary, MetaData, String, Table

from benchstation.store.schema import UTC_LENGTH, UtcText, core, projections


class _UtcCollated(UtcText):
    """A time as text that sorts by code points."""

    impl = String(UTC_LENGTH, collation="C")
    cache_ok = True


def _collated(tables: MetaData, own: MetaData) -> None:
    for table in tables.sorted_tables:
        copied = table.to_metadata(own)
        for column in copied.columns:
            if isinstance(column.type, UtcText):
                column.type = _UtcCollated()
            elif isinstance(column.type, String):
                column.type = String(column.type.length, collation="C")


shop_core = MetaData()
"""What Alembic keeps; never altered in place."""
_collated(core, shop_core)
Index("uq_journal_hash", shop_core.tables["journal"].c.hash, unique=True)

shop_projections = MetaData()
"""What the desk makes from the chains, and can make again."""
_collated(projections, shop_projections)


def _text(length: int) -> String:
    return String(length, collation="C")


bench_chain = Table(
    "bench_chain",
    shop_core,
    Column("bench", _text(64), primary_key=True),
    Column("login_role", _text(63), nullable=False),
    Column("joined_utc", _text(UTC_LENGTH), nullable=False),
    Column("public_key", _text(64), nullable=False),
)
"""A row for each chain, locked while its chain grows. Who logs in so may append to it."""

fork = Table(
    "fork",
    shop_core,
    Column("bench", _text(64), primary_key=True),
    Column("seq", Integer, primary_key=True, autoincrement=False),
    Column("hash_there", _text(64), nullable=False),
    Column("hash_given", _text(64), primary_key=True),
    Column("utc", _text(UTC_LENGTH), nullable=False),
    Column("entry", LargeBinary, nullable=False),
)
"""An entry that a bench gave for a number under which the shop holds another one."""

projected = Table(
    "projected",
    shop_core,
    Column("bench", _text(64), primary_key=True),
    Column("seq", Integer, nullable=False),
    Column("hash", _text(64), nullable=False),
)
"""How far each chain stands in the searched tables."""
