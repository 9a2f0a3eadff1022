"""A real PostgreSQL of the tests' own, in a folder that goes away with it."""

import contextlib
import os
import shutil
import tempfile
from collections.abc import Iterator
from datetime import UTC, datetime
from pathlib import Path

import psycopg
import pytest
from sqlalchemy import Engine, select, text
from sqlalchemy.dialects.postgresql import insert

from benchstation.store import journal, schema
from benchstation.store.backends.own_server import OwnServer, server_programs
from benchstation.store.backends.postgresql import ShopAddress, shop_engine
from benchstation.store.engine import Store
from benchstation.store.shop.form import bring_up_to_date
from benchstation.store.shop.members import add_bench, add_login
from benchstation.store.shop.rules import SHOP_DESK, SHOP_READER

OWNER_PASSWORD = "owner of the tests' server"
PASSWORD = "a login of the tests"
WHEN = datetime(2026, 3, 1, 8, 0, tzinfo=UTC)
TEMPLATE = "shop_template"


class ShopServer(OwnServer):
    """The server of this session."""

    def __init__(self, programs: Path) -> None:
        super().__init__(programs, Path(tempfile.mkdtemp(prefix="shop-")), OWNER_PASSWORD)
        self.make()

    def remove(self) -> None:
        """Stop the server and take its folder away."""
        self.stop(at_once=True)
        shutil.rmtree(self.folder)

    def drop(self, database: str) -> None:
        """Take a database away, whoever is connected."""
        self.run(f"DROP DATABASE IF EXISTS {database} WITH (FORCE)")


class ShopDatabase:
    """A shop of one test: its owner's engine, and logins that are made as they are asked for."""

    def __init__(self, server: ShopServer, database: str) -> None:
        self.server, self.database = server, database
        self.address = server.address(database)
        self._engines: dict[str, Engine] = {}
        self._addresses: dict[str, ShopAddress] = {}

    @property
    def owner(self) -> Engine:
        """Return the engine of the database's owner."""
        return self._engine("owner", self.address)

    def bench_address(self, bench: str, public_key: str = "") -> ShopAddress:
        """Return the address of a bench's own login; the bench joins at the first call."""
        if bench not in self._addresses:
            with self.owner.begin() as connection:
                role = add_bench(connection, bench, PASSWORD, public_key, WHEN)
            self._addresses[bench] = self.address.as_user(role, PASSWORD)
        return self._addresses[bench]

    def bench(self, bench: str) -> Engine:
        """Return the engine of a bench's own login."""
        return self._engine(bench, self.bench_address(bench))

    def login_address(self, group: str) -> ShopAddress:
        """Return the address of a login in a group."""
        if group not in self._addresses:
            with self.owner.begin() as connection:
                role = add_login(connection, group, "one", PASSWORD)
            self._addresses[group] = self.address.as_user(role, PASSWORD)
        return self._addresses[group]

    def desk(self) -> Engine:
        """Return the engine of a desk."""
        return self._engine(SHOP_DESK, self.login_address(SHOP_DESK))

    def reader(self) -> Engine:
        """Return the engine of a program that only reads."""
        return self._engine(SHOP_READER, self.login_address(SHOP_READER))

    def _engine(self, who: str, address: ShopAddress) -> Engine:
        if who not in self._engines:
            self._engines[who] = shop_engine(address)
        return self._engines[who]

    def take(self, store: Store) -> None:
        """Copy what is new in a bench's file into the shop, as that bench."""
        with store.reading() as local, self.bench(store.bench).begin() as connection:
            for table in (schema.trace, schema.photo):
                rows = [row._asdict() for row in local.execute(select(table))]
                if rows:
                    connection.execute(insert(table).on_conflict_do_nothing(), rows)
            seq, _ = journal.head(connection, store.bench)
            new = schema.journal.c.bench == store.bench, schema.journal.c.seq > seq
            query = select(schema.journal).where(*new).order_by(schema.journal.c.seq)
            rows = [row._asdict() for row in local.execute(query)]
            if rows:
                connection.execute(insert(schema.journal), rows)

    def rows(self, query: str) -> list[tuple]:
        """Return the rows of a query, as the owner."""
        with self.owner.connect() as connection:
            return [tuple(row) for row in connection.execute(text(query))]

    def close(self) -> None:
        """Close every engine and take the database away, with its logins."""
        roles = [a.url.username for a in self._addresses.values()]
        for engine in self._engines.values():
            engine.dispose()
        self.server.drop(self.database)
        for role in roles:
            self.server.run(f'DROP ROLE "{role}"')


def no_server(why: str) -> None:
    """Skip a test for want of a server; fail it on the build machine."""
    if os.environ.get("CI"):
        pytest.fail(f"{why}; the build machine must have one (Debian: postgresql)")
    pytest.skip(why)


@pytest.fixture(scope="session")
def shop_server() -> Iterator[ShopServer]:
    """Run a PostgreSQL for this session; skip without one, but fail on the build machine."""
    programs = server_programs()
    if programs is None:
        no_server("no PostgreSQL server is installed")
    assert programs is not None
    server = ShopServer(programs)
    try:
        yield server
    finally:
        server.remove()


@pytest.fixture(scope="session")
def shop_template(shop_server: ShopServer) -> str:
    """Return the name of a database with a new shop in it, to copy for each test.

    Its language sorts other than by code points, where the server can: no query may rest on it.
    """
    for more in ("LOCALE_PROVIDER icu ICU_LOCALE 'en' LOCALE 'C'", ""):
        with contextlib.suppress(psycopg.Error):
            shop_server.run(f"CREATE DATABASE {TEMPLATE} TEMPLATE template0 {more}")
            break
    engine = shop_engine(shop_server.address(TEMPLATE))
    try:
        bring_up_to_date(engine, WHEN)
    finally:
        engine.dispose()
    return TEMPLATE


@pytest.fixture
def shop(shop_server: ShopServer, shop_template: str) -> Iterator[ShopDatabase]:
    """Return a new shop of this test's own."""
    database = ShopDatabase(shop_server, shop_server.new_database(shop_template))
    try:
        yield database
    finally:
        database.close()


@pytest.fixture
def empty_database(shop_server: ShopServer) -> Iterator[ShopAddress]:
    """Return the owner's address of an empty database."""
    name = shop_server.new_database()
    try:
        yield shop_server.address(name)
    finally:
        shop_server.drop(name)
