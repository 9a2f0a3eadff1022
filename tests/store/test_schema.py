import sqlite3
from datetime import UTC, datetime, timedelta, timezone

import pytest
from hypothesis import given
from hypothesis import strategies as st

from benchstation.store.connections import writing_engine
from benchstation.store.schema import UTC_LENGTH, utc_from, utc_text

zones = st.integers(-720, 840).map(lambda minutes: timezone(timedelta(minutes=minutes)))


@given(st.datetimes(datetime(1970, 1, 2), datetime(2999, 1, 1), timezones=zones))
def test_a_time_comes_back_to_the_microsecond(utc):
    assert utc_from(utc_text(utc)) == utc
    assert len(utc_text(utc)) == UTC_LENGTH


@given(*[st.datetimes(datetime(1970, 1, 2), datetime(2999, 1, 1), timezones=zones)] * 2)
def test_the_texts_sort_by_time(one, other):
    assert (utc_text(one) < utc_text(other)) == (one < other)


def test_a_time_without_a_zone_has_no_text():
    with pytest.raises(ValueError, match="zone"):
        utc_text(datetime.now(UTC).replace(tzinfo=None))


@pytest.fixture
def filled(store, add, lot, trace):
    """A closed file with entries and traces, and a plain connection of another program to it."""
    add(lot("L-1"), lot("L-2"), traces=[trace(seed=1), trace(seed=2)])
    path = store.path
    store.close()
    raw = sqlite3.connect(path, isolation_level=None)
    yield raw
    raw.close()


TAMPER = [
    "UPDATE journal SET body = x'7b7d' WHERE seq = 1",
    "DELETE FROM journal WHERE seq = 2",
    "DELETE FROM journal",
    "INSERT OR REPLACE INTO journal SELECT bench, 1, utc, person, kind, unit_id, x'7b7d', prev, "
    "hash FROM journal WHERE seq = 2",
    "REPLACE INTO journal SELECT * FROM journal",
    "UPDATE OR REPLACE journal SET seq = 1 WHERE seq = 2",
    "UPDATE trace SET data = x'00'",
    "DELETE FROM trace",
    "INSERT OR REPLACE INTO trace SELECT sha256, x'00' FROM trace LIMIT 1",
    "INSERT OR REPLACE INTO trace (rowid, sha256, data) VALUES (1, printf('%064d', 7), x'00')",
    "INSERT INTO journal SELECT * FROM journal WHERE true ON CONFLICT DO UPDATE SET body = x'00'",
]


@pytest.mark.parametrize("recursive", [0, 1])
@pytest.mark.parametrize("statement", TAMPER)
def test_what_is_on_record_is_not_changed_even_by_another_program(filled, statement, recursive):
    filled.execute(f"PRAGMA recursive_triggers={recursive}")
    before = [filled.execute(f"SELECT * FROM {t}").fetchall() for t in ("journal", "trace")]
    with pytest.raises(sqlite3.IntegrityError, match="append-only"):
        filled.execute(statement)
    after = [filled.execute(f"SELECT * FROM {t}").fetchall() for t in ("journal", "trace")]
    assert after == before
    assert [len(rows) for rows in before] == [2, 2]


def test_many_traces_are_not_mistaken_for_replacements(filled):
    """A row that names no row number has -1 in the trigger, whatever numbers are taken."""
    filled.execute("INSERT INTO trace (rowid, sha256, data) VALUES (-2, printf('%064d', 1), x'')")
    for n in range(200):
        filled.execute("INSERT INTO trace (sha256, data) VALUES (printf('%064d', ?), x'')", [n + 2])
    assert filled.execute("SELECT count(*) FROM trace").fetchone() == (203,)


def test_the_writers_connection_blocks_them_too(store, add, lot):
    add(lot())
    path = store.path
    store.close()
    engine = writing_engine(path)
    with engine.connect() as connection, pytest.raises(Exception, match="append-only"):
        connection.exec_driver_sql("REPLACE INTO journal SELECT * FROM journal")
    engine.dispose()
