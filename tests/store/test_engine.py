import sqlite3
import threading
from contextlib import closing

import pytest

from benchstation.store.engine import open_store
from benchstation.store.errors import (
    NotBegunError,
    NotInOrderError,
    StoreError,
    StoreFullError,
    StoreLockedError,
    StoreReadOnlyError,
)
from benchstation.store.search import find_units


def writers_pragma(store, text):
    """Change a setting of the writer's connection, outside any transaction."""
    return store._writer.connection.driver_connection.execute(f"PRAGMA {text}").fetchone()


@pytest.fixture
def no_room(store):
    """Let the file grow no more, as on a full disk; gives the way to free room again."""

    def begin():
        (pages,) = writers_pragma(store, "page_count")
        writers_pragma(store, f"max_page_count={pages}")
        return lambda: writers_pragma(store, "max_page_count=1000000")

    return begin


def in_a_group(store, *steps):
    with store.bulk():
        for step in steps:
            step()


def test_an_append_is_whole_or_nothing(store, add, opening, filing, lot, trace):
    add(lot())
    with pytest.raises(NotInOrderError):
        add(opening(), filing(), filing(), traces=[trace()])
    assert [e.kind for e in store.entries()] == ["oil.received"]
    assert find_units(store) == []
    assert store.verify().ok
    add(opening(), filing())
    assert [e.seq for e in store.entries()] == [1, 2, 3]


def test_nothing_to_append_is_nothing(store, add):
    assert add() == []
    assert store.head() == (0, "0" * 64)


def test_what_was_appended_is_there_when_opened_again(path, store, add, opening):
    entries = add(opening())
    store.close()
    with open_store(path, "bench-1") as again:
        assert again.entries() == entries
        assert again.open_unit() == "u1"
        assert again.head() == (1, entries[0].hash)


def test_a_full_disk_loses_nothing_and_the_store_goes_on(
    store, add, opening, filing, trace, no_room
):
    add(opening())
    before = store.entries()
    free = no_room()
    big = [trace(n=20_000, seed=n) for n in range(4)]
    for _ in range(2):
        with pytest.raises(StoreFullError, match="disk is full; nothing of this was kept"):
            add(filing(), traces=big)
        assert store.entries() == before
        assert store.open_unit() == "u1"
    free()
    add(filing(), traces=big)
    assert store.open_unit() is None
    assert len(store.entries()) == 2
    assert store.verify().problem == ""


def test_a_disk_that_fills_up_during_a_group_leaves_nothing_of_it(store, add, lot, trace, no_room):
    add(lot())
    free = no_room()
    with pytest.raises(StoreFullError):
        in_a_group(store, lambda: add(lot("L-2")), lambda: add(traces=[trace(n=20_000)]))
    free()
    assert list(store.lots()) == ["L-0417"]
    add(lot("L-3"))
    assert [e.seq for e in store.entries()] == [1, 2]
    assert store.verify().ok


def test_a_file_that_may_not_be_written_is_said_in_words(store, add, lot):
    writers_pragma(store, "query_only=1")
    with pytest.raises(StoreReadOnlyError, match="read but not written"):
        add(lot())
    writers_pragma(store, "query_only=0")
    add(lot())
    assert store.head()[0] == 1


def test_a_program_that_ignores_the_lock_is_waited_for_then_named(store, add, lot):
    writers_pragma(store, "busy_timeout=50")
    raw = sqlite3.connect(store.path, isolation_level=None)
    raw.execute("BEGIN IMMEDIATE")
    with pytest.raises(StoreLockedError, match="another program is writing"):
        add(lot())
    raw.rollback()
    raw.close()
    assert add(lot())[0].seq == 1


def test_opened_for_reading_only_nothing_is_appended(path, store, add, lot):
    add(lot())
    with open_store(path, "bench-1", read_only=True) as reader:
        for write in (lambda: add(lot("L-2"), to=reader), reader.rebuild_projections):
            with pytest.raises(StoreReadOnlyError, match="for reading only"):
                write()
        assert list(reader.lots()) == ["L-0417"]
        add(lot("L-2"))
        assert list(reader.lots()) == ["L-0417", "L-2"]


def test_reading_makes_no_file(path):
    with pytest.raises(StoreError, match="cannot be opened"):
        open_store(path, "bench-1", read_only=True)
    assert not path.exists()


def test_a_file_whose_making_was_cut_off_is_said_in_words_and_made_whole_later(path):
    for begun in (b"", None):
        path.unlink(missing_ok=True)
        if begun is None:
            with closing(sqlite3.connect(path)) as raw:
                raw.execute("PRAGMA journal_mode=WAL")
        else:
            path.write_bytes(begun)
        with pytest.raises(NotBegunError, match="no records were begun"):
            open_store(path, "bench-1", read_only=True)
        with open_store(path, "bench-1") as store:
            assert store.entries() == []


@pytest.mark.parametrize("where", ["file/records.db", "folder"])
def test_a_place_that_cannot_hold_records_is_said_in_words(tmp_path, where):
    (tmp_path / "file").write_text("x")
    (tmp_path / "folder").mkdir()
    with pytest.raises(StoreError) as caught:
        open_store(tmp_path / where, "bench-1")
    assert caught.value.advice


def test_a_closed_store_says_so(store, add, lot):
    store.close()
    store.close()
    for use in (lambda: add(lot()), store.entries, store.open_unit, store.verify):
        with pytest.raises(StoreError, match="closed"):
            use()


class TestBulk:
    def test_a_group_is_kept_as_one(self, store, add, opening, filing, path):
        with open_store(path, "bench-1", read_only=True) as reader:
            with store.bulk():
                for n in range(20):
                    add(opening(f"u{n}"), filing(f"u{n}"))
                assert reader.head()[0] == 0
            assert reader.head() == store.head()
            assert len(find_units(reader)) == 20
            assert reader.verify().ok

    def test_inside_one_sees_what_is_not_kept_yet(self, store, add, opening):
        with store.bulk():
            add(opening())
            assert store.open_unit() == "u1"
            assert [u.unit_id for u in find_units(store)] == ["u1"]
            assert store.head()[0] == 1
        assert store.open_unit() == "u1"

    def test_a_refused_append_leaves_the_others_of_the_group(self, store, add, opening, filing):
        with store.bulk():
            add(opening())
            with pytest.raises(NotInOrderError):
                add(opening("u2"))
            add(filing())
        assert [e.kind for e in store.entries()] == ["unit.opened", "unit.filed"]
        assert store.verify().ok

    def test_an_exception_leaves_nothing_of_the_group(self, store, add, lot):
        add(lot())
        with pytest.raises(ZeroDivisionError):
            in_a_group(store, lambda: add(lot("L-2")), lambda: 1 / 0)
        assert store.head()[0] == 1
        assert add(lot("L-3"))[0].seq == 2
        assert store.verify().ok

    def test_groups_do_not_nest(self, store):
        with store.bulk(), pytest.raises(StoreError, match="under way"), store.bulk():
            pass


def test_threads_append_one_after_the_other(store, add, lot):
    def work(name):
        for n in range(15):
            add(lot(f"{name}{n}"))

    threads = [threading.Thread(target=work, args=(name,)) for name in "abc"]
    for thread in threads:
        thread.start()
    for thread in threads:
        thread.join()
    assert [e.seq for e in store.entries()] == list(range(1, 46))
    assert len(store.lots()) == 45
    assert store.verify().ok
