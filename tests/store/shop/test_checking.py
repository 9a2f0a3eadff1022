"""A shop whose chains were altered by other means is found."""

import pytest
from sqlalchemy import text

from benchstation.domain.events import PersonEnrolled
from benchstation.store.bench_key import bench_key
from benchstation.store.engine import open_store
from benchstation.store.known_heads import KnownHeads
from benchstation.store.shop.shop_store import open_shop
from benchstation.store.trust import Trust
from tests.shop_server import WHEN


@pytest.fixture
def desk(shop, tmp_path):
    trust = Trust(bench_key(tmp_path), KnownHeads(tmp_path), tmp_path)
    with open_store(tmp_path / "b.db", "bench-1") as store:
        for n in range(5):
            store.append([PersonEnrolled(f"b{n}", "B", ("lead",))], person="lea", utc=WHEN)
        shop.take(store)
    with open_shop(shop.login_address("shop_desk"), trust) as opened:
        for n in range(3):
            opened.append([PersonEnrolled(f"p{n}", "P", ("lead",))], person="lea", utc=WHEN)
        yield opened


def alter(shop, statement):
    with shop.owner.begin() as connection:
        for table in ("journal", "tree_head"):
            connection.execute(text(f"ALTER TABLE {table} DISABLE TRIGGER USER"))
        connection.execute(text(statement))


def test_all_chains_are_checked(desk):
    seen = []
    result = desk.verify(lambda done, total: seen.append((done, total)))
    assert result.ok
    assert result.entries == 8
    assert seen[-1] == (8, 8)
    assert desk.of_bench("bench-1").verify().entries == 5
    assert desk.verify(cancelled=lambda: True).stopped


@pytest.mark.parametrize(
    ("statement", "why"),
    [
        ("UPDATE journal SET person = 'eve' WHERE bench = 'bench-1' AND seq = 3", "was altered"),
        ("DELETE FROM journal WHERE bench = 'bench-1' AND seq = 2", "something between is missing"),
        ("DELETE FROM journal WHERE bench = 'shop' AND seq = 3", "3 entries were signed and 2"),
        ("UPDATE tree_head SET root = repeat('a', 64)", "does not fit them"),
        ("UPDATE tree_head SET signature = repeat('a', 128)", "does not fit them"),
    ],
)
def test_what_was_altered_is_named(shop, desk, statement, why):
    alter(shop, statement)
    result = desk.verify()
    assert not result.ok
    assert why in result.problem
