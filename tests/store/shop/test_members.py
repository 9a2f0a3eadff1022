"""Logins of benches and desks."""

import psycopg
import pytest
from sqlalchemy import text

from benchstation.store.errors import StoreError
from benchstation.store.shop.members import add_bench, login_name, new_password
from benchstation.store.shop.rules import BENCH_MEMBER
from tests.shop_server import WHEN


def test_a_bench_gets_a_login_of_its_own_and_a_chain(shop):
    with shop.bench("Bay 3, left").connect() as connection:
        assert connection.execute(text("SELECT pg_has_role('bench_member', 'MEMBER')")).scalar()
        chain = connection.execute(text("SELECT * FROM bench_chain WHERE bench <> 'shop'")).one()
    role = shop.bench_address("Bay 3, left").url.username
    assert role.startswith("bench_bay_3_left_")
    assert chain == ("Bay 3, left", role, "2026-03-01T08:00:00.000000Z", "")


@pytest.mark.parametrize("name", ["bench-1", "shop"])
def test_a_name_that_is_taken_is_refused(shop, name):
    shop.bench_address("bench-1")
    with pytest.raises(StoreError, match="called"), shop.owner.begin() as connection:
        add_bench(connection, name, "x", "", WHEN)


def test_no_password_reaches_the_servers_log(shop, shop_server):
    shop_server.run("ALTER SYSTEM SET log_statement = 'all'")
    shop_server.run("SELECT pg_reload_conf()")
    password = new_password()
    try:
        with shop.owner.begin() as connection:
            role = add_bench(connection, "bench-1", password, "", WHEN)
        shop.address.as_user(role, password)
        conninfo = f"host=127.0.0.1 port={shop_server.port} dbname={shop.database} user={role}"
        with psycopg.connect(f"{conninfo} password='{password}'") as connection:
            assert connection.execute("SELECT 1").fetchone() == (1,)
    finally:
        shop_server.run("ALTER SYSTEM RESET log_statement")
        shop_server.run("SELECT pg_reload_conf()")
    log = shop_server.log()
    assert f"CREATE ROLE {role}" in log
    assert password not in log
    assert password.encode().hex() not in log


def test_names_of_logins_fit_and_differ():
    names = {login_name(BENCH_MEMBER, "Präzision " * 9) for _ in range(20)}
    assert len(names) == 20
    assert all(len(name) <= 63 and name.isascii() for name in names)
    assert login_name(BENCH_MEMBER, "台").startswith("bench_x_")
