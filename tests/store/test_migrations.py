import sqlite3

import pytest
from sqlalchemy import text

from benchstation.store import migrations, projections
from benchstation.store.engine import open_store
from benchstation.store.errors import (
    NewerStoreError,
    StoreCorruptError,
    StoreError,
    StoreReadOnlyError,
)
from benchstation.store.search import find_units


@pytest.fixture
def old(store, add, opening, filing, trace):
    """A closed file of the form before the next."""
    add(opening(), filing(), traces=[trace()])
    store.close()
    return store.path


@pytest.fixture
def next_form(monkeypatch):
    """A version of the program that knows one more form."""

    def upgrade(connection):
        connection.execute(text("ALTER TABLE journal ADD COLUMN note TEXT"))

    monkeypatch.setattr(migrations, "VERSION", migrations.VERSION + 1)
    monkeypatch.setattr(migrations, "MIGRATIONS", {migrations.VERSION: upgrade})


def pragma(path, name):
    raw = sqlite3.connect(path)
    try:
        return raw.execute(f"PRAGMA {name}").fetchone()[0]
    finally:
        raw.close()


def test_a_new_file_has_the_newest_form(store):
    assert pragma(store.path, "user_version") == migrations.VERSION
    assert pragma(store.path, "application_id") == migrations.APPLICATION_ID
    with store.reading() as connection:
        assert migrations.missing_triggers(connection) == []


def test_an_older_file_is_copied_then_brought_up_to_date(old, next_form):
    before = old.read_bytes()
    with open_store(old, "bench-1") as store:
        assert len(store.entries()) == 2
        # Only the tables of this version are known as ours.
        assert store.verify().problem == "the schema in the file was altered: journal."
    assert pragma(old, "user_version") == migrations.VERSION
    (copy,) = old.parent.glob("*.backup")
    assert pragma(copy, "user_version") == migrations.VERSION - 1
    raw = [sqlite3.connect(p) for p in (old, copy)]
    columns = [[row[1] for row in r.execute("PRAGMA table_info(journal)")] for r in raw]
    rows = [r.execute("SELECT seq, body, hash FROM journal ORDER BY seq").fetchall() for r in raw]
    for r in raw:
        r.close()
    assert columns[0] == [*columns[1], "note"]
    assert rows[0] == rows[1]
    assert before != old.read_bytes()


def test_a_step_that_fails_leaves_the_file_as_it_was(old, next_form, monkeypatch):
    def fail(connection):
        connection.execute(text("ALTER TABLE journal ADD COLUMN note TEXT"))
        raise RuntimeError("power")

    monkeypatch.setitem(migrations.MIGRATIONS, migrations.VERSION, fail)
    with pytest.raises(RuntimeError, match="power"):
        open_store(old, "bench-1")
    assert pragma(old, "user_version") == migrations.VERSION - 1
    monkeypatch.undo()
    with open_store(old, "bench-1") as store:
        assert store.verify().ok


def test_an_older_file_cannot_be_opened_for_reading_only(old, next_form):
    with pytest.raises(StoreReadOnlyError, match="older version"):
        open_store(old, "bench-1", read_only=True)


@pytest.mark.parametrize("read_only", [False, True])
def test_a_newer_file_is_refused_and_not_touched(old, read_only):
    raw = sqlite3.connect(old)
    raw.execute(f"PRAGMA user_version={migrations.VERSION + 1}")
    raw.close()
    before = old.read_bytes()
    with pytest.raises(NewerStoreError, match="newer version"):
        open_store(old, "bench-1", read_only=read_only)
    assert old.read_bytes() == before


def test_a_database_of_something_else_is_refused_and_not_touched(path):
    raw = sqlite3.connect(path)
    raw.execute("CREATE TABLE recipes (name TEXT)")
    raw.close()
    before = path.read_bytes()
    with pytest.raises(StoreCorruptError, match="does not hold records"):
        open_store(path, "bench-1")
    assert path.read_bytes() == before


def test_a_file_that_is_no_database_is_refused_and_not_touched(path):
    path.write_bytes(b"Dear diary, " * 1000)
    with pytest.raises(StoreCorruptError, match="does not hold records"):
        open_store(path, "bench-1")
    assert path.read_bytes() == b"Dear diary, " * 1000


def test_projections_of_an_older_program_are_made_again(old, monkeypatch):
    monkeypatch.setattr(projections, "VERSION", f"{projections.VERSION}, later")
    raw = sqlite3.connect(old)
    raw.execute("DROP TABLE unit")
    raw.execute("CREATE TABLE unit (unit_id TEXT, serial TEXT)")
    raw.commit()
    raw.close()
    with open_store(old, "bench-1") as store:
        assert [u.serial for u in find_units(store)] == ["MR-2231"]
        assert store.verify().ok


def test_missing_guards_stop_a_writer_but_not_a_reader(old):
    raw = sqlite3.connect(old)
    raw.execute("DROP TRIGGER journal_no_delete")
    raw.execute("CREATE TRIGGER journal_no_delete BEFORE DELETE ON journal BEGIN SELECT 1; END")
    raw.close()
    with pytest.raises(StoreCorruptError, match=r"guards are missing \(journal_no_delete\)"):
        open_store(old, "bench-1")
    with open_store(old, "bench-1", read_only=True) as store:
        assert len(store.entries()) == 2


def test_an_end_that_was_cut_off_stops_a_writer(old):
    raw = sqlite3.connect(old)
    statement = raw.execute(
        "SELECT sql FROM sqlite_master WHERE name = 'journal_no_delete'"
    ).fetchone()[0]
    raw.executescript(
        f"DROP TRIGGER journal_no_delete; DELETE FROM journal WHERE seq = 2; {statement}"
    )
    raw.close()
    with pytest.raises(StoreCorruptError, match="the end was cut off"):
        open_store(old, "bench-1")


def test_another_benchs_records_are_refused(old):
    with pytest.raises(StoreError, match="records of the bench 'bench-1', not of 'bench-2'"):
        open_store(old, "bench-2")
    with open_store(old, "", read_only=True) as store:
        assert store.bench == "bench-1"


def test_new_records_need_a_benchs_name(path):
    with pytest.raises(StoreError, match="bench's name"):
        open_store(path, "")


def test_a_backup_is_whole_and_replaces_an_older_one(store, add, lot, tmp_path):
    target = tmp_path / "backup.db"
    target.write_bytes(b"older")
    add(lot())
    store.back_up(target)
    add(lot("L-2"))
    assert sorted(p.name for p in tmp_path.glob("backup*")) == ["backup.db"]
    with open_store(target, "bench-1") as copy:
        assert copy.verify().ok
        assert copy.head()[0] == 1


def test_a_file_of_the_first_form_is_verified_searchable_and_has_room_for_photographs(old):
    raw = sqlite3.connect(old)
    for (name,) in raw.execute("SELECT name FROM sqlite_master WHERE type = 'trigger'").fetchall():
        if "photo" in name or "tree_head" in name:
            raw.execute(f"DROP TRIGGER {name}")
    raw.execute("DROP TABLE photo")
    raw.execute("DROP TABLE tree_head")
    raw.execute("PRAGMA user_version = 1")
    raw.execute("UPDATE meta SET value = '0' WHERE key LIKE '%projection%'")
    raw.commit()
    raw.close()
    with open_store(old, "bench-1") as store:
        assert store.verify().ok
        assert len(find_units(store)) == 1
        with store.reading() as connection:
            assert migrations.missing_triggers(connection) == []
            assert connection.execute(text("SELECT count(*) FROM photo")).scalar() == 0
    assert pragma(old, "user_version") == migrations.VERSION
