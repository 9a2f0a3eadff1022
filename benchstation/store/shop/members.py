"""Who may log in to the shop's database: a login for each bench and each desk."""

import re
import secrets
from datetime import datetime

from sqlalchemy import Connection, func, insert, select

from benchstation.domain.shop_chain import SHOP
from benchstation.store.errors import StoreError
from benchstation.store.schema import utc_text
from benchstation.store.shop.rules import BENCH_MEMBER, GROUPS
from benchstation.store.shop.tables import bench_chain

PASSWORD_BYTES = 24
_LONGEST_NAME = 40


def new_password() -> str:
    """Return a password that nobody has to type."""
    return secrets.token_urlsafe(PASSWORD_BYTES)


def login_name(group: str, name: str) -> str:
    """Return a login's name that no other shop on the same server has."""
    plain = re.sub(r"[^a-z0-9]+", "_", name.lower()).strip("_")[:_LONGEST_NAME]
    return f"{group.split('_')[0]}_{plain or 'x'}_{secrets.token_hex(4)}"


def add_login(connection: Connection, group: str, name: str, password: str) -> str:
    """Create a login in one of the groups that may connect to this database; return its name."""
    assert group in GROUPS
    role = login_name(group, name)
    verifier = _verifier(connection, role, password)
    made = func.format("CREATE ROLE %I LOGIN PASSWORD %L IN ROLE %I", role, verifier, group)
    granted = func.format("GRANT CONNECT ON DATABASE %I TO %I", func.current_database(), role)
    for statement in connection.execute(select(made, granted)).one():
        connection.exec_driver_sql(statement.replace("%", "%%"))
    return role


def renew_password(connection: Connection, role: str, password: str) -> None:
    """Replace the password of a login."""
    verifier = _verifier(connection, role, password)
    changed = func.format("ALTER ROLE %I PASSWORD %L", role, verifier)
    statement = connection.execute(select(changed)).scalar_one()
    connection.exec_driver_sql(statement.replace("%", "%%"))


def _verifier(connection: Connection, role: str, password: str) -> str:
    """Return what the server needs of a password: it sees, and may log, no more than that."""
    raw = connection.connection.driver_connection
    assert raw is not None
    made = raw.pgconn.encrypt_password(password.encode(), role.encode(), b"scram-sha-256")
    return str(made, "ascii")


def add_bench(
    connection: Connection, bench: str, password: str, public_key: str, utc: datetime
) -> str:
    """Make a bench its chain and its login; return the login's name.

    Raises :class:`StoreError` when the name is taken.
    """
    taken = select(bench_chain.c.bench).where(bench_chain.c.bench == bench)
    if bench == SHOP or connection.execute(taken).first() is not None:
        raise StoreError(
            f"the shop has a bench called '{bench}' already."
            if bench != SHOP
            else "no bench may be called 'shop': that is the name of the shop's own chain.",
            where="bench",
            advice="Give this bench another name.",
        )
    role = add_login(connection, BENCH_MEMBER, bench, password)
    row = {"bench": bench, "login_role": role, "public_key": public_key}
    connection.execute(insert(bench_chain), {**row, "joined_utc": utc_text(utc)})
    return role
