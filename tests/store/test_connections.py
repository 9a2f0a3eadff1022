import sqlite3
import subprocess
import sys
import textwrap

import pytest

from benchstation.store import connections
from benchstation.store.connections import WriterLock, read_only, reading_engine, writing_engine
from benchstation.store.engine import open_store
from benchstation.store.errors import StoreError, StoreLockedError

WRITER = textwrap.dedent("""
    import sys
    from pathlib import Path
    from benchstation.store.engine import open_store
    with open_store(Path(sys.argv[1]), "bench-1"):
        print("open", flush=True)
        sys.stdin.read()
""")


@pytest.fixture
def other_program(path):
    """Another program that has the records open for writing."""
    child = subprocess.Popen(
        [sys.executable, "-c", WRITER, str(path)],
        stdin=subprocess.PIPE,
        stdout=subprocess.PIPE,
        text=True,
    )
    assert child.stdout.readline() == "open\n"
    yield child
    child.stdin.close()
    child.wait()
    child.stdout.close()


def test_a_second_program_may_not_write_but_may_read(path, other_program):
    with pytest.raises(StoreLockedError, match=r"another program has these records open") as caught:
        open_store(path, "bench-1")
    assert caught.value.where == str(path)
    with open_store(path, "bench-1", read_only=True) as store:
        assert store.head()[0] == 0


def test_a_program_that_dies_leaves_no_lock_behind(path, other_program):
    other_program.kill()
    other_program.wait()
    with open_store(path, "bench-1") as store:
        assert store.head()[0] == 0


def test_a_second_writer_in_the_same_program_is_refused_too(store):
    with pytest.raises(StoreLockedError):
        open_store(store.path, "bench-1")
    store.close()
    with open_store(store.path, "bench-1") as again:
        assert again.head()[0] == 0


def test_a_lock_that_could_not_be_taken_is_not_let_go_by_the_loser(path):
    first, second = WriterLock(path), WriterLock(path)
    first.take()
    with pytest.raises(StoreLockedError):
        second.take()
    second.release()
    with pytest.raises(StoreLockedError):
        second.take()
    first.release()
    second.take()
    second.release()


def test_the_writer_has_the_settings_that_keep_records_safe(path):
    engine = writing_engine(path)
    with engine.connect() as connection:
        for name, value in {
            "journal_mode": "wal", "synchronous": 2, "foreign_keys": 1, "recursive_triggers": 1,
        }.items():  # fmt: skip
            assert connection.exec_driver_sql(f"PRAGMA {name}").scalar() == value
    engine.dispose()


def test_a_setting_that_does_not_take_stops_the_start(path, monkeypatch):
    monkeypatch.setitem(connections.WRITER_PRAGMAS, "synchronous", 7)
    with pytest.raises(StoreError, match="synchronous stays"):
        open_store(path, "bench-1")
    monkeypatch.undo()
    open_store(path, "bench-1").close()


def test_writing_begins_at_once_and_reading_does_not_stop_it(store, add, lot):
    raw = sqlite3.connect(store.path, timeout=0, isolation_level=None)
    with store.reading() as connection:
        connection.exec_driver_sql("SELECT * FROM journal")
        add(lot())
        assert connection.exec_driver_sql("SELECT count(*) FROM journal").scalar() == 0
    with store._writing(), pytest.raises(sqlite3.OperationalError, match="locked"):
        raw.execute("BEGIN IMMEDIATE")
    raw.close()


def test_a_readers_connection_cannot_write(store):
    raw = read_only(store.path)
    with pytest.raises(sqlite3.OperationalError, match="readonly"):
        raw.execute("INSERT INTO meta VALUES ('a', 'b')")
    raw.close()
    engine = reading_engine(store.path)
    with engine.connect() as connection, pytest.raises(Exception, match="readonly"):
        connection.exec_driver_sql("INSERT INTO meta VALUES ('a', 'b')")
    engine.dispose()


def test_a_path_with_signs_of_its_own_is_a_path(tmp_path):
    path = tmp_path / "50% off? #1 ü" / "records & more.db"
    with open_store(path, "bench-1") as store:
        assert store.head()[0] == 0
    assert path.exists()
    with open_store(path, "bench-1", read_only=True) as store:
        assert store.verify().ok
