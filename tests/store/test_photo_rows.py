import hashlib
import sqlite3
from contextlib import closing

import pytest

from benchstation.domain.events import PhotoTaken
from benchstation.store import migrations
from benchstation.store.engine import open_store
from benchstation.store.errors import NotOnRecordError, NotStorableError, StoreCorruptError

DATA = b"a picture's bytes" * 100
NAME = hashlib.sha256(DATA).hexdigest()


@pytest.fixture
def taken():
    def make(name=NAME):
        return PhotoTaken("u1", "shots", name, len(DATA), "image/png", "piston")

    return make


@pytest.fixture
def kept(store, clock, opening, taken):
    store.append([opening(), taken()], person="ines", utc=clock(), photos={NAME: DATA})
    return store


def altered(path, *statements):
    with closing(sqlite3.connect(path)) as raw, raw:
        for statement in statements:
            raw.execute(statement)


def test_a_photograph_comes_back_byte_for_byte(kept):
    assert kept.get_photo(NAME) == DATA
    assert kept.verify().problem == ""
    with pytest.raises(NotOnRecordError, match="no photograph"):
        kept.get_photo("0" * 64)


def test_one_that_is_there_is_named_again_without_its_bytes(kept, clock, taken):
    kept.append([taken()], person="ines", utc=clock())
    kept.append([taken()], person="ines", utc=clock(), photos={NAME: DATA})
    assert kept.verify().problem == ""


@pytest.mark.parametrize("photos", [None, {"1" * 64: DATA}])
def test_an_event_without_its_photograph_keeps_nothing(store, clock, opening, taken, photos):
    name = next(iter(photos), NAME) if photos else NAME
    with pytest.raises(NotStorableError, match="photograph that is not on record"):
        store.append([opening(), taken(name)], person="ines", utc=clock(), photos=photos)
    assert store.entries() == []


def test_a_photograph_is_never_changed_or_deleted(kept):
    for statement in ("UPDATE photo SET data = x'00'", "DELETE FROM photo"):
        with pytest.raises(sqlite3.IntegrityError, match="append-only"):
            altered(kept.path, statement)


@pytest.mark.parametrize(
    ("statement", "problem"),
    [
        ("UPDATE photo SET data = x'00'", "was altered or damaged"),
        ("DELETE FROM photo", "refers to a photograph that is missing"),
    ],
)
def test_verifying_tells_of_a_missing_or_altered_photograph(kept, statement, problem):
    guards = [f"DROP TRIGGER photo_no_{name}" for name in ("update", "delete")]
    altered(kept.path, *guards, statement)
    assert problem in kept.verify().problem
    with pytest.raises((StoreCorruptError, NotOnRecordError)):
        kept.get_photo(NAME)


def test_a_file_of_the_first_form_gets_the_table(store, clock, opening, taken):
    store.append([opening()], person="ines", utc=clock())
    store.close()
    altered(store.path, "DROP TABLE photo", "DROP TABLE tree_head", "PRAGMA user_version=1")
    assert migrations.version_of(store.path) == 1
    with open_store(store.path, "bench-1") as again:
        again.append([taken()], person="ines", utc=clock(), photos={NAME: DATA})
        assert again.get_photo(NAME) == DATA
        assert again.verify().problem == ""
    (copy,) = store.path.parent.glob("*.backup")
    assert migrations.version_of(copy) == 1


def test_both_ways_to_the_table_give_the_same_one(tmp_path):
    open_store(tmp_path / "new.db", "b").close()
    open_store(tmp_path / "old.db", "b").close()
    altered(
        tmp_path / "old.db", "DROP TABLE photo", "DROP TABLE tree_head", "PRAGMA user_version=1"
    )
    open_store(tmp_path / "old.db", "b").close()

    def shape(name):
        raw = sqlite3.connect(tmp_path / name)
        columns = raw.execute("PRAGMA table_info(photo)").fetchall()
        guards = raw.execute("SELECT name, sql FROM sqlite_master WHERE type = 'trigger'")
        rows = columns, sorted(guards.fetchall())
        raw.close()
        return rows

    assert shape("old.db") == shape("new.db")
