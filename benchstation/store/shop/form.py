"""Making the shop's tables in a database, and bringing older ones up to date.

Alembic keeps the form of what is on record. The searched tables have a version of their own: they
are made again from the chains. Only the owner of the database may do either.
"""

from datetime import datetime
from pathlib import Path

from alembic import command
from alembic.config import Config
from alembic.migration import MigrationContext
from alembic.script import ScriptDirectory
from sqlalchemy import Connection, Engine, delete, insert, inspect

from benchstation.domain.shop_chain import SHOP
from benchstation.store import projections
from benchstation.store.errors import NewerStoreError, StoreCorruptError, StoreError
from benchstation.store.migrations import set_value, value_of
from benchstation.store.schema import utc_text
from benchstation.store.shop.rules import make_groups, make_rules
from benchstation.store.shop.tables import bench_chain, projected, shop_projections

MIGRATIONS = Path(__file__).parent / "migrations"
PROJECTIONS = "projections"


def _alembic(connection: Connection | None = None) -> Config:
    config = Config()
    config.set_main_option("script_location", str(MIGRATIONS).replace("%", "%%"))
    config.attributes["connection"] = connection
    return config


def newest_form() -> int:
    """Return the number of the form that this version knows."""
    return int(ScriptDirectory.from_config(_alembic()).get_current_head() or 0)


def form_of(connection: Connection) -> int:
    """Return the number of the form that the database has; 0 without the shop's tables."""
    return int(MigrationContext.configure(connection).get_current_revision() or 0)


def bring_up_to_date(engine: Engine, utc: datetime) -> bool:
    """Make or migrate all tables, rules and rights; return True when the shop is new.

    Raises :class:`NewerStoreError`, or :class:`StoreCorruptError` for a database of something else.
    """
    with engine.begin() as connection:
        found = form_of(connection)
        _require_known(connection, found)
        make_groups(connection)
        command.upgrade(_alembic(connection), "head")
        if value_of(connection, PROJECTIONS) != projections.VERSION:
            _renew_projections(connection)
        make_rules(connection)
        if not found:
            row = {"bench": SHOP, "login_role": "", "joined_utc": utc_text(utc), "public_key": ""}
            connection.execute(insert(bench_chain), row)
        return not found


def require_current(connection: Connection, where: str) -> None:
    """Raise :class:`StoreError` unless the database has the form that this version knows."""
    found = form_of(connection)
    if not found:
        raise StoreCorruptError(
            "this database does not hold a shop of this program.",
            where=where,
            advice="Name another one, or make it with 'benchstation shop init'.",
        )
    _require_known(connection, found, where)
    made = value_of(connection, PROJECTIONS)
    if found < newest_form() or made != projections.VERSION:
        raise StoreError(
            "an older version made the tables of this shop, or a newer one its lists.",
            where=where,
            advice="Run 'benchstation shop init' with the newest version, as the database's owner.",
            detail=f"form {found} of {newest_form()}, lists {made} of {projections.VERSION}",
        )


def _require_known(connection: Connection, found: int, where: str = "") -> None:
    if found > newest_form():
        raise NewerStoreError(
            f"a newer version of this program made this shop (form {found}, "
            f"this one knows {newest_form()}).",
            where=where,
            advice="Use the newer version; nothing was touched.",
        )
    if not found and (there := inspect(connection).get_table_names()):
        raise StoreCorruptError(
            "this database holds tables of something else.",
            where=where,
            advice="Give the shop a database of its own; this one was not touched.",
            detail=", ".join(sorted(there)),
        )


def _renew_projections(connection: Connection) -> None:
    shop_projections.drop_all(connection)
    shop_projections.create_all(connection)
    connection.execute(delete(projected))
    set_value(connection, PROJECTIONS, projections.VERSION)
