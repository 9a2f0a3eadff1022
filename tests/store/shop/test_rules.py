"""What each group may do, tried against a real server; what the trigger lets into a chain."""

from itertools import product

import psycopg
import pytest
from sqlalchemy import insert, text
from sqlalchemy.exc import DBAPIError

from benchstation.domain.events import (
    Adopted,
    BadgeSaltMade,
    OilLotReceived,
    PersonEnrolled,
    stored_body,
)
from benchstation.store import journal
from benchstation.store.schema import journal as journal_table
from benchstation.store.shop import rules
from benchstation.store.shop.tables import shop_projections
from tests.shop_server import PASSWORD, WHEN

KEPT = ("journal", "trace", "photo", "tree_head", "fork", "bench_chain", "meta")
MADE = (*shop_projections.tables, "projected")


def entries(bench, count, head=(0, journal.GENESIS)):
    events = [PersonEnrolled(f"p{head[0] + n}", "Ines", ("lead",)) for n in range(count)]
    return journal.chained(events, bench=bench, head=head, person="ines", utc=WHEN)


def rows_of(chained, **changed):
    rows = []
    for entry, body in chained:
        names = ("bench", "seq", "person", "kind", "prev", "hash")
        row = {name: getattr(entry, name) for name in names}
        rows.append({**row, "utc": "2026-03-01T08:00:00.000000Z", "body": body, **changed})
    return rows


def state_of(engine, statement, parameters=None):
    """Return the SQLSTATE with which a statement is refused; empty when it is done."""
    try:
        with engine.begin() as connection:
            given = text(statement) if isinstance(statement, str) else statement
            connection.execute(given, parameters if parameters is not None else {})
    except DBAPIError as error:
        return error.orig.sqlstate
    return ""


@pytest.fixture
def logins(shop):
    return {"bench": shop.bench("bench-1"), "desk": shop.desk(), "reader": shop.reader()}


def add_to(table):
    return {
        "journal": "INSERT INTO journal SELECT * FROM journal WHERE false",
        "trace": "INSERT INTO trace VALUES (encode(sha256('a'), 'hex'), 'a')",
        "photo": "INSERT INTO photo VALUES (encode(sha256('a'), 'hex'), 'a')",
    }.get(table, f"INSERT INTO {table} SELECT * FROM {table} WHERE false")


APPENDED = ("journal", "trace", "photo", "tree_head", "fork")
MAY_ADD = {
    "bench": APPENDED,
    "desk": (*APPENDED, *MADE),
    "reader": (),
}
NOT_ALL_OF = ("journal",)
MAY_READ = {
    "bench": KEPT,
    "desk": (*KEPT, *MADE),
    "reader": tuple(table for table in (*KEPT, *MADE) if table not in NOT_ALL_OF),
}
REFUSED = "42501"


@pytest.mark.parametrize("who", ["bench", "desk", "reader"])
def test_each_group_reads_adds_and_changes_what_it_may_and_nothing_else(logins, who):
    engine = logins[who]
    found, wanted = {}, {}
    for table in (*KEPT, *MADE):
        column = next(iter(shop_projections.tables[table].columns)).name if table in (
            shop_projections.tables) else "bench"  # fmt: skip
        column = {"trace": "sha256", "photo": "sha256", "meta": "key"}.get(table, column)
        tried = {
            "read": f"SELECT * FROM {table}",
            "add": add_to(table),
            "change": f'UPDATE {table} SET "{column}" = "{column}" WHERE false',
            "delete": f"DELETE FROM {table} WHERE false",
            "empty": f"TRUNCATE {table}",
            "alter": f"ALTER TABLE {table} ADD COLUMN more int",
            "drop": f"DROP TABLE {table}",
            "switch off": f"ALTER TABLE {table} DISABLE TRIGGER ALL",
        }
        may_change = who == "desk" and table in MADE
        may = {
            "read": table in MAY_READ[who],
            "add": table in MAY_ADD[who],
            "change": may_change,
            "delete": may_change,
        }
        for what, statement in tried.items():
            found[table, what] = state_of(engine, statement)
            wanted[table, what] = "" if may.get(what) else REFUSED
    assert found == wanted


@pytest.mark.parametrize(
    ("table", "how"), list(product(APPENDED, ("update", "delete", "truncate")))
)
def test_the_owner_too_is_refused_by_a_trigger(shop, table, how):
    column = "sha256" if table in ("trace", "photo") else "bench"
    statement = {
        "update": f"UPDATE {table} SET {column} = 'x'",
        "delete": f"DELETE FROM {table}",
        "truncate": f"TRUNCATE {table}",
    }[how]
    assert state_of(shop.owner, statement) == rules.APPEND_ONLY


@pytest.mark.parametrize("how", ["DELETE FROM bench_chain", "TRUNCATE bench_chain"])
def test_no_chain_is_taken_out_of_the_list(shop, how):
    assert state_of(shop.owner, how) == rules.APPEND_ONLY


@pytest.mark.parametrize("who", ["bench", "desk", "reader"])
def test_nobody_makes_logins_tables_or_functions(logins, who):
    for statement in (
        "CREATE ROLE mine",
        "CREATE TABLE mine (x int)",
        "CREATE FUNCTION mine() RETURNS int LANGUAGE sql AS 'SELECT 1'",
        f"GRANT {rules.SHOP_DESK} TO session_user",
        "SELECT append_to_chain()",
    ):
        assert state_of(logins[who], statement) in (REFUSED, "0A000"), statement


def test_a_reader_sees_every_entry_and_no_hash_of_a_pin_or_badge(shop):
    person = PersonEnrolled("p", "Ines", ("lead",), "scrypt of the PIN")
    lot = OilLotReceived("L-1", "oil", 860.0, 5e-4)
    adopted = [
        Adopted("bench-1", n, "a" * 64, "ines", "now", event.kind, stored_body(event))
        for n, event in enumerate((person, lot), 1)
    ]
    events = [person, lot, BadgeSaltMade("salt of the badges"), *adopted]
    chained = journal.chained(
        events, bench="shop", head=(0, journal.GENESIS), person="ines", utc=WHEN
    )
    assert state_of(shop.desk(), insert(journal_table), rows_of(chained)) == ""
    with shop.reader().connect() as connection:
        listed = connection.execute(text("SELECT seq, hash FROM journal ORDER BY seq")).all()
        seen = connection.execute(text("SELECT seq, body FROM open_journal ORDER BY seq")).all()
    assert [row.hash for row in listed] == [entry.hash for entry, _ in chained]
    assert [row.seq for row in seen] == [2, 5]
    assert seen[0].body == chained[1][1]
    for statement in ("SELECT body FROM journal", "SELECT * FROM journal"):
        assert state_of(shop.reader(), statement) == REFUSED


def test_a_bench_adds_to_its_own_chain_in_any_batches(shop):
    engine = shop.bench("bench-1")
    chained = entries("bench-1", 7)
    for part in (chained[:3], chained[3:4], chained[4:]):
        assert state_of(engine, insert(journal_table), rows_of(part)) == ""
    with engine.connect() as connection:
        assert [e.hash for e in journal.read(connection, "bench-1")] == [
            entry.hash for entry, _ in chained
        ]


def copied(connection, rows):
    raw = connection.connection.driver_connection
    names = list(rows[0])
    with raw.cursor() as cursor, cursor.copy(f"COPY journal ({', '.join(names)}) FROM STDIN") as c:
        for row in rows:
            c.write_row([row[name] for name in names])


def test_copy_is_held_to_the_same(shop):
    engine = shop.bench("bench-1")
    chained = entries("bench-1", 50)
    with engine.begin() as connection:
        copied(connection, rows_of(chained[:20]))
    with pytest.raises(psycopg.Error) as refused, engine.begin() as connection:
        copied(connection, rows_of(chained[25:]))
    assert refused.value.sqlstate == rules.NOT_NEXT
    with engine.begin() as connection:
        copied(connection, rows_of(chained[20:]))
        assert journal.head(connection, "bench-1") == (50, chained[-1][0].hash)


@pytest.mark.parametrize("what", ["begins late", "hole", "wrong prev", "wrong first prev"])
def test_a_chain_has_no_gap_and_each_entry_follows_the_one_before(shop, what):
    engine = shop.bench("bench-1")
    rows = rows_of(entries("bench-1", 6))
    assert state_of(engine, insert(journal_table), rows[:2]) == ""
    match what:
        case "begins late":
            given = rows[3:]
        case "hole":
            given = [rows[2], rows[4], rows[5]]
        case "wrong prev":
            given = [rows[2], {**rows[3], "prev": "a" * 64}, rows[4]]
        case _:
            given = [{**rows[2], "prev": "a" * 64}]
    assert state_of(engine, insert(journal_table), given) == rules.NOT_NEXT
    assert len(shop.rows("SELECT 1 FROM journal")) == 2


def test_an_entry_that_stands_is_neither_replaced_nor_doubled(shop):
    engine = shop.bench("bench-1")
    rows = rows_of(entries("bench-1", 3))
    assert state_of(engine, insert(journal_table), rows) == ""
    assert state_of(engine, insert(journal_table), rows[2:]) == "23505"
    again = {**rows[2], "seq": 4, "prev": rows[2]["hash"]}
    assert state_of(engine, insert(journal_table), [again]) == "23505"


def test_a_bench_may_not_touch_another_chain(shop):
    one, other = shop.bench("bench-1"), shop.bench("bench-2")
    rows = rows_of(entries("bench-1", 2))
    assert state_of(other, insert(journal_table), rows) == rules.NOT_YOUR_CHAIN
    mixed = rows_of(entries("bench-2", 1)) + rows
    assert state_of(other, insert(journal_table), mixed) == rules.NOT_YOUR_CHAIN
    assert state_of(one, insert(journal_table), rows) == ""
    nobody = rows_of(entries("bench-9", 1))
    assert state_of(one, insert(journal_table), nobody) == rules.NOT_YOUR_CHAIN
    assert state_of(one, "SELECT lock_chain('bench-2')") == rules.NOT_YOUR_CHAIN
    assert state_of(one, "SELECT lock_chain('bench-9')") == rules.NOT_YOUR_CHAIN
    assert state_of(one, "SELECT lock_chain('bench-1')") == ""
    assert state_of(one, "SELECT lock_chain('shop')") == ""


@pytest.mark.parametrize(
    ("who", "kind", "state"),
    [
        ("bench", "shop.adopted", ""),
        ("bench", "shop.conflict", ""),
        ("bench", "shop.settled", rules.NOT_YOUR_KIND),
        ("bench", "person.enrolled", rules.NOT_YOUR_KIND),
        ("desk", "person.enrolled", ""),
        ("desk", "shop.settled", ""),
        ("reader", "shop.adopted", REFUSED),
    ],
)
def test_a_bench_adds_to_the_shops_chain_only_what_was_judged(logins, who, kind, state):
    rows = rows_of(entries("shop", 1), kind=kind)
    assert state_of(logins[who], insert(journal_table), rows) == state


def test_a_desk_may_not_write_a_benchs_chain(shop):
    shop.bench("bench-1")
    rows = rows_of(entries("bench-1", 1))
    assert state_of(shop.desk(), insert(journal_table), rows) == rules.NOT_YOUR_CHAIN


def test_heads_and_forks_are_of_ones_own_chain(shop):
    one, desk = shop.bench("bench-1"), shop.desk()
    shop.bench("bench-2")
    head = "INSERT INTO tree_head VALUES ('{}', 1, repeat('a', 64), 'now', 'k', 's')"
    fork = "INSERT INTO fork VALUES ('{}', 1, 'a', 'b', 'now', 'entry')"
    for statement in (head, fork):
        assert state_of(one, statement.format("bench-1")) == ""
        assert state_of(one, statement.format("bench-2")) == rules.NOT_YOUR_CHAIN
        assert state_of(one, statement.format("shop")) == rules.NOT_YOUR_CHAIN
        assert state_of(desk, statement.format("shop")) == ""


def test_content_stands_under_its_own_hash(shop):
    engine = shop.bench("bench-1")
    for table in ("trace", "photo"):
        false = f"INSERT INTO {table} VALUES (repeat('a', 64), 'a trace')"
        assert state_of(engine, false) == "23514"


def test_two_writers_of_one_chain_lose_nothing(shop):
    """The second waits for the first at the head row, and is told that it came second."""
    engine = shop.bench("bench-1")
    chained = rows_of(entries("bench-1", 2))
    with engine.connect() as first, engine.connect() as second:
        first.execute(text("SELECT lock_chain('bench-1')"))
        first.execute(insert(journal_table), chained[:1])
        second.execute(text("SET LOCAL lock_timeout = '50ms'"))
        with pytest.raises(DBAPIError) as waited:
            second.execute(text("SELECT lock_chain('bench-1')"))
        assert waited.value.orig.sqlstate == "55P03"
        second.rollback()
        first.commit()
        second.execute(text("SELECT lock_chain('bench-1')"))
        assert journal.head(second, "bench-1")[0] == 1
        second.execute(insert(journal_table), chained[1:])
        second.commit()
    assert len(shop.rows("SELECT 1 FROM journal")) == 2


def test_a_login_of_another_shop_on_the_server_cannot_connect(shop, shop_server, shop_template):
    bench = shop.bench_address("bench-1")
    other = shop_server.new_database(shop_template)
    try:
        shop_server.run(f"REVOKE ALL ON DATABASE {other} FROM PUBLIC")
        conninfo = (
            f"host=127.0.0.1 port={shop_server.port} dbname={other} "
            f"user={bench.url.username} password='{PASSWORD}'"
        )
        with pytest.raises(psycopg.OperationalError, match="permission denied for database"):
            psycopg.connect(conninfo)
    finally:
        shop_server.drop(other)


def test_making_a_shop_takes_the_database_from_everybody_else(empty_database, shop_server):
    from benchstation.store.shop.form import bring_up_to_date
    from tests.shop_server import shop_engine

    engine = shop_engine(empty_database)
    try:
        bring_up_to_date(engine, WHEN)
        with engine.connect() as connection:
            query = text("SELECT has_database_privilege('public', current_database(), 'CONNECT')")
            assert connection.execute(query).scalar() is False
    finally:
        engine.dispose()
