from contextlib import contextmanager

import pytest
from sqlalchemy import text

from benchstation.domain.events import DeskJoined, OilLotReceived, PersonEnrolled
from benchstation.domain.shop_chain import SHOP
from benchstation.store import journal, signed_heads, tree_rows
from benchstation.store.bench_key import bench_key
from benchstation.store.errors import StoreError
from benchstation.store.merkle import grown
from benchstation.store.shop import taking
from benchstation.store.shop.errors import ShopChangedError
from benchstation.store.shop.exchange import Exchange
from benchstation.store.shop.taking import ShopReader
from tests.store.shop.conftest import NOW, chain_at


class Desk:
    """Says things in the shop's own chain, and signs its heads."""

    def __init__(self, shop, home):
        self.shop, self.key = shop, bench_key(home)
        self.say(DeskJoined("desk-1", self.key.public))

    def say(self, *events):
        with self.shop.owner.begin() as there:
            head = journal.head(there, SHOP)
            journal.write(
                there, journal.chained(events, bench=SHOP, head=head, person="qa", utc=NOW)
            )

    def sign(self, size=None, key=None, root=None):
        with self.shop.owner.begin() as there:
            hashes = [row.hash for row in journal.rows(there, SHOP)][:size]
            made = grown(map(tree_rows.leaf_of, hashes))
            head = (key or self.key).sign(SHOP, made.size, root or made.root(), NOW)
            signed_heads.keep(there, head)


@pytest.fixture
def desk(shop, tmp_path):
    return Desk(shop, tmp_path / "desk")


def person(number):
    return PersonEnrolled(f"p-{number}", f"Person {number}", ("technician",))


def reader_of(bench):
    with bench.store.reading() as local:
        return ShopReader(local)


def read(reader, shop):
    with shop.owner.connect() as there:
        return [row.seq for row in reader.next_rows(there)]


@contextmanager
def unguarded(shop):
    with shop.owner.begin() as owner:
        for table in ("journal", "tree_head"):
            owner.execute(text(f"ALTER TABLE {table} DISABLE TRIGGER USER"))
        yield lambda words: owner.execute(text(words))
        for table in ("journal", "tree_head"):
            owner.execute(text(f"ALTER TABLE {table} ENABLE TRIGGER USER"))


def copy_of(bench):
    with bench.store.reading() as local:
        return [tuple(row) for row in journal.rows(local, SHOP)]


def exchange(bench, steps=4):
    line = Exchange(bench.store, bench.shop.bench_address(bench.name))
    try:
        for _ in range(steps):
            done = line.step(bench.now())
    finally:
        line.close()
    return done


def test_the_chain_is_read_in_parts_in_its_order(bench, shop, desk, monkeypatch):
    desk.say(*(person(n) for n in range(6)))
    desk.sign()
    monkeypatch.setattr(taking, "_NEXT", taking._NEXT.limit(3))
    reader = reader_of(bench)
    assert [read(reader, shop) for _ in range(4)] == [[1, 2, 3], [4, 5, 6], [7], []]
    assert reader.last == (7, chain_at(shop, SHOP)[-1][8])


def test_what_is_read_stands_in_the_bench_and_is_taken_up_there(bench, shop, desk):
    desk.say(person(1))
    exchange(bench)
    assert copy_of(bench) == chain_at(shop, SHOP)
    again = reader_of(bench)
    assert again.last[0] == 2
    assert read(again, shop) == []
    desk.say(person(2))
    assert read(again, shop) == [3]


@pytest.mark.parametrize(
    ("change", "words"),
    [
        ("UPDATE journal SET person = 'x' WHERE bench = 'shop' AND seq = 3", "was altered"),
        ("DELETE FROM journal WHERE bench = 'shop' AND seq = 3", "something between"),
        ("UPDATE journal SET prev = repeat('0', 64) WHERE bench = 'shop' AND seq = 3", "follow"),
        ("UPDATE tree_head SET root = repeat('0', 64)", "signed head of 4"),
        ("UPDATE tree_head SET signature = repeat('0', 128)", "signed head of 4"),
    ],
)
def test_a_chain_that_was_altered_is_not_taken(bench, shop, desk, change, words):
    desk.say(person(1), person(2), person(3))
    desk.sign()
    with unguarded(shop) as run:
        run(change)
    with pytest.raises(ShopChangedError, match=words):
        exchange(bench)
    assert copy_of(bench) == []
    # The bench's own entries are safe in its file, and it works on.
    bench.file_unit()
    assert bench.store.verify().ok


def test_a_head_by_a_key_that_is_not_on_record_proves_nothing_and_stops_nobody(
    bench, shop, desk, tmp_path, caplog
):
    desk.say(person(1))
    desk.sign(key=bench_key(tmp_path / "stranger"), root=bytes(32))
    assert read(reader_of(bench), shop) == [1, 2]
    assert "not on record" in caplog.text


def test_a_head_that_is_signed_after_its_entries_were_read_is_looked_at_too(bench, shop, desk):
    desk.say(person(1), person(2))
    reader = reader_of(bench)
    assert read(reader, shop) == [1, 2, 3]
    desk.sign(size=2)
    assert read(reader, shop) == []
    desk.sign(root=bytes(32))
    with pytest.raises(ShopChangedError, match="signed head of 3"):
        read(reader, shop)


def test_another_chain_than_the_one_that_was_taken_is_said_at_the_next_line(bench, shop, desk):
    desk.say(person(1), person(2))
    exchange(bench)
    with unguarded(shop) as run:
        run("DELETE FROM journal WHERE bench = 'shop' AND seq > 1")
    desk.say(person(7), person(8), person(9))
    with pytest.raises(ShopChangedError, match="up to entry 3"):
        exchange(bench)
    with pytest.raises(ShopChangedError, match="Keep this bench's records"):
        exchange(bench)


def test_what_a_restored_shop_lost_of_what_it_adopted_comes_back_from_a_bench(bench, shop, desk):
    bench.add(person(1), OilLotReceived("L-9", "Oil", 860.0, 5e-4))
    exchange(bench)
    before = chain_at(shop, SHOP)
    assert len(before) == 3
    with unguarded(shop) as run:
        run("DELETE FROM journal WHERE bench = 'shop' AND seq > 1")
        run("DELETE FROM journal WHERE bench = 'bench-1' AND seq > 1")
        run("DELETE FROM tree_head WHERE size > 1")
    exchange(bench)
    # Not adopted anew with another time: the entries that all benches took.
    assert chain_at(shop, SHOP) == before == copy_of(bench)
    assert chain_at(shop, bench.name) == bench.rows()


def test_what_a_desk_had_said_a_bench_may_not_put_back(bench, shop, desk):
    desk.say(person(1))
    exchange(bench)
    with unguarded(shop) as run:
        run("DELETE FROM journal WHERE bench = 'shop' AND seq > 1")
    with pytest.raises(StoreError, match="may not add such an entry"):
        exchange(bench)
    assert len(chain_at(shop, SHOP)) == 1
