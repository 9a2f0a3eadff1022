import shutil
import sqlite3

import pytest
from sqlalchemy import text

from benchstation.domain.events import PersonEnrolled
from benchstation.store import journal, schema, signed_heads
from benchstation.store.engine import open_store
from benchstation.store.errors import BehindError, StoreCorruptError
from benchstation.store.known_heads import KnownHeads
from benchstation.store.shop.errors import ForkError
from benchstation.store.shop.exchange import Exchange
from benchstation.store.shop.giving_back import entries_at, give_back
from benchstation.store.trust import SYSTEM, Acceptance
from tests.store.shop.conftest import NOW, chain_at

AS_IT_IS = Acceptance(SYSTEM, "")


def exchanged(bench):
    """Send all and take all."""
    line = Exchange(bench.store, bench.shop.bench_address(bench.name))
    try:
        while (done := line.step(NOW)).sent or done.took:
            pass
    finally:
        line.close()


@pytest.fixture
def lost(bench, tmp_path):
    """A bench that sent all it has, and whose file is that of an earlier hour."""
    bench.work(1)
    exchanged(bench)
    bench.store.close()
    copy = tmp_path / "copy.sqlite"
    shutil.copyfile(bench.path, copy)
    bench.store = bench.opened()
    bench.work(2)
    exchanged(bench)
    bench.kept = bench.rows()
    bench.store.close()
    shutil.copyfile(copy, bench.path)
    return bench


def given_back(bench):
    with open_store(bench.path, bench.name, accepted=AS_IT_IS) as store:
        return give_back(store, bench.shop.bench_address(bench.name))


def test_a_file_of_an_earlier_hour_gets_all_of_it_back_and_is_opened_as_ever(lost, shop):
    with pytest.raises(BehindError):
        lost.opened()
    done = given_back(lost)
    assert (done.before, done.now) == (7, len(lost.kept))
    lost.store = lost.opened()
    assert lost.rows() == lost.kept
    assert lost.store.verify(known=KnownHeads(lost.home)).problem == ""
    with lost.store.reading() as here, shop.owner.connect() as there:
        assert signed_heads.kept(here, lost.name) == signed_heads.kept(there, lost.name)
        assert journal.count(here, "shop") == len(chain_at(shop, "shop"))
        traces = schema.trace.select().order_by(schema.trace.c.sha256)
        assert len(here.execute(traces).all()) == 3
    # And it goes on from there.
    lost.file_unit()
    exchanged(lost)
    assert chain_at(shop, lost.name) == lost.rows()


def test_a_file_that_is_gone_is_made_from_nothing_but_the_shop(lost, shop):
    lost.path.unlink()
    assert given_back(lost).before == 0
    lost.store = lost.opened()
    assert lost.rows() == lost.kept
    assert lost.store.verify(known=KnownHeads(lost.home)).ok


def test_nothing_is_given_back_twice_and_nothing_to_a_file_that_is_ahead(lost):
    given_back(lost)
    again = given_back(lost)
    assert again.before == again.now == len(lost.kept)
    lost.store = lost.opened()
    lost.file_unit()
    lost.store.close()
    assert given_back(lost).now == len(lost.kept) + 3
    assert entries_at(lost.shop.bench_address(lost.name), lost.name) == len(lost.kept)


def test_a_file_that_went_on_by_itself_is_a_fork_and_stays_as_it_is(lost):
    accepted = Acceptance("p-1", "the disk broke")
    with lost.opened(accepted=accepted) as store:
        store.append([PersonEnrolled("p-9", "Somebody", ("lead",))], person="x", utc=NOW)
        before = store.head()
    with pytest.raises(ForkError, match="another entry 8 of this bench"):
        given_back(lost)
    lost.store = lost.opened()
    assert lost.store.head() == before


@pytest.mark.parametrize(
    ("change", "words"),
    [
        ("UPDATE journal SET person = 'x' WHERE bench = 'bench-1' AND seq = 9", "was altered"),
        ("UPDATE tree_head SET root = repeat('0', 64) WHERE size > 9", "signed head of"),
        ("UPDATE tree_head SET public_key = repeat('0', 64) WHERE size > 9", "signed head of"),
        ("DELETE FROM journal WHERE bench = 'bench-1' AND seq = 9", "something between"),
        ("DELETE FROM journal WHERE bench = 'shop' AND seq = 3", "the shop's chain|between"),
    ],
)
def test_what_was_altered_at_the_shop_does_not_come_back(lost, shop, change, words):
    tables = ("journal", "tree_head")
    with shop.owner.begin() as owner:
        for table in tables:
            owner.execute(text(f"ALTER TABLE {table} DISABLE TRIGGER USER"))
        owner.execute(text(change))
    before = sqlite3.connect(lost.path).execute("SELECT count(*) FROM journal").fetchone()
    with pytest.raises(StoreCorruptError, match=words):
        given_back(lost)
    assert sqlite3.connect(lost.path).execute("SELECT count(*) FROM journal").fetchone() == before
    lost.store = lost.opened(accepted=Acceptance("p-1", "looked at it"))
