import sqlite3

import pytest

from benchstation.domain.events import OilLotReceived, PersonEnrolled, ShopFounded, ShopTaken
from benchstation.domain.shop_chain import SHOP
from benchstation.store import journal, taken_chain
from benchstation.store.engine import open_store
from benchstation.store.errors import StoreCorruptError
from benchstation.store.row_check import RowError
from benchstation.store.taken import taken
from tests.store.conftest import START


@pytest.fixture
def shop_rows(tmp_path):
    """The shop's chain, as its database hands it out."""
    events = [
        ShopFounded("s-1", "Damper shop"),
        PersonEnrolled("p-shop", "Person of the shop", ("lead",)),
        OilLotReceived("L-shop", "Oil", 860.0, 5e-4),
    ]
    with open_store(tmp_path / "shop.sqlite", SHOP) as opened:
        opened.append(events, person="desk", utc=START)
        with opened.reading() as connection:
            return list(journal.rows(connection, SHOP))


def known(store):
    with store.reading() as connection:
        return [(r.bench, r.seq) for r in taken_chain.rows_as_known(connection, store.bench)]


def test_rows_of_the_shop_stand_where_the_bench_took_them(add, store, shop_rows, opening, clock):
    add(opening())
    store.take_shop(shop_rows[:1], clock())
    add(PersonEnrolled("p1", "Person", ("lead",)))
    store.take_shop(shop_rows[1:], clock())
    own = "bench-1"
    assert known(store) == [
        (own, 1), (SHOP, 1), (own, 2), (own, 3), (SHOP, 2), (SHOP, 3), (own, 4),
    ]  # fmt: skip
    assert [e.event for e in store.entries(kind="shop.taken")] == [
        ShopTaken(1, shop_rows[0].hash),
        ShopTaken(3, shop_rows[2].hash),
    ]
    assert store.head()[0] == 4
    with store.reading() as connection:
        assert journal.count(connection, own) == 4
        assert taken(connection, own) == (3, shop_rows[2].hash)
        assert taken(connection, own, before=4) == (1, shop_rows[0].hash)
        assert taken(connection, own, before=2) == (0, journal.GENESIS)


def test_what_was_taken_is_verified_folded_again_and_there_at_the_next_start(
    add, store, shop_rows, opening, path, clock
):
    add(opening())
    store.take_shop(shop_rows, clock())
    assert store.verify().problem == ""
    before = known(store)
    assert store.rebuild_projections() == 5
    assert store.verify().ok
    store.close()
    with open_store(path, "bench-1") as opened:
        assert known(opened) == before
        assert opened.verify().entries == 2


def test_nothing_is_taken_that_does_not_follow(add, store, shop_rows, clock):
    with pytest.raises(RowError, match="something between is missing"):
        store.take_shop(shop_rows[1:], clock())
    store.take_shop(shop_rows[:2], clock())
    with pytest.raises(RowError, match="follows entry 2"):
        store.take_shop(shop_rows[:1], clock())
    assert store.take_shop([], clock()) == []
    assert store.head()[0] == 1


def test_facts_and_rows_are_taken_together_or_not_at_all(store, shop_rows, clock, monkeypatch):
    monkeypatch.setattr(journal, "write", lambda *_: (_ for _ in ()).throw(RuntimeError))
    with pytest.raises(RuntimeError):
        store.take_shop(shop_rows, clock())
    monkeypatch.undo()
    with store.reading() as connection:
        assert journal.count(connection, SHOP) == 0
    store.take_shop(shop_rows, clock())
    assert store.verify().ok


@pytest.mark.parametrize(
    ("change", "words"),
    [
        ("DELETE FROM journal WHERE bench = 'shop' AND seq = 3", "read other entries"),
        ("DELETE FROM journal WHERE bench = 'shop' AND seq = 2", "something between is missing"),
        ("UPDATE journal SET person = 'x' WHERE bench = 'shop' AND seq = 2", "was altered"),
        (
            "INSERT INTO journal SELECT bench, 4, utc, person, kind, unit_id, body, prev, hash "
            "FROM journal WHERE bench = 'shop' AND seq = 3",
            "ends elsewhere than this bench read it",
        ),
    ],
)
def test_a_copy_that_was_altered_is_found(store, shop_rows, path, clock, change, words):
    store.take_shop(shop_rows, clock())
    store.close()
    raw = sqlite3.connect(path)
    guards = raw.execute("SELECT name, sql FROM sqlite_master WHERE type = 'trigger'").fetchall()
    for name, _ in guards:
        raw.execute(f"DROP TRIGGER {name}")
    raw.execute(change)
    for _, statement in guards:
        raw.execute(statement)
    raw.commit()
    raw.close()
    with open_store(path, "bench-1", read_only=True) as opened:
        found = opened.verify()
    assert not found.ok
    assert words in found.problem
    if "seq = 2" not in change:
        with pytest.raises(StoreCorruptError, match="cut off"):
            open_store(path, "bench-1")
