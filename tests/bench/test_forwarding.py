import time
from datetime import UTC, datetime, timedelta

import pytest

from benchstation.bench.forwarding import Forwarder, ForwardStanding
from benchstation.domain.events import PersonEnrolled, ShopTaken
from benchstation.domain.shop_chain import SHOP
from benchstation.quantities.formatter import local_clock, local_time
from benchstation.store import journal
from benchstation.store.backends.postgresql import ShopAddress
from tests.cutting_proxy import cutting_proxy
from tests.store.shop.conftest import JoinedBench, bench, chain_at, joined, shop_events
from tests.waiting import eventually

__all__ = ["bench", "joined"]
NOW = datetime(2026, 3, 4, 9, 0, tzinfo=UTC)


@pytest.fixture
def proxy(shop):
    with cutting_proxy(shop.server.port) as made:
        yield made


def through(proxy, shop, name):
    address = shop.bench_address(name)
    return ShopAddress(address.url.set(port=proxy.port), address.password)


@pytest.fixture
def forward(shop, proxy):
    """Make the forwarder of a bench, through the proxy, with short waits; all are closed."""
    made = []

    def make(one: JoinedBench, *, start=True):
        forwarder = Forwarder(one.store, through(proxy, shop, one.name), one.now)
        forwarder.look_again_s, forwarder.waits = 0.02, (0.01, 0.05)
        made.append(forwarder)
        if start:
            forwarder.start()
        return forwarder

    yield make
    for forwarder in made:
        forwarder.close()


def all_sent(forwarder, one):
    return forwarder.standing.sent == one.store.head()[0]


def clock(utc):
    return local_clock(utc, seconds=False)


def test_the_note_says_what_waits_since_when_and_what_is_wrong():
    minute = timedelta(minutes=1)
    at, then = clock(NOW), clock(NOW - minute)
    first = ForwardStanding()
    assert first.note(NOW, 0) == "Shop: not reached yet."
    assert first.note(NOW, 1) == "Shop: not reached yet; 1 entry waits."
    well = ForwardStanding(12, NOW - minute, NOW)
    assert well.note(NOW, 12) == f"Shop: all is sent, last sent {then}."
    assert well.note(NOW, 24) == f"Shop: 12 entries wait, last sent {then}."
    later = NOW + 2 * minute
    assert well.note(later, 12) == f"Shop: not reached since {at}."
    assert well.note(later, 24) == f"Shop: not reached since {at}; 12 entries wait."
    away = ForwardStanding(12, NOW - minute, NOW, away=True)
    assert away.note(NOW, 13) == f"Shop: not reached since {at}; 1 entry waits."
    refused = ForwardStanding(12, None, NOW, problem="this login may not add to that chain.")
    assert refused.note(NOW, 12) == "Shop: this login may not add to that chain."
    assert refused.note(NOW, 14).endswith("that chain. 2 entries wait.")
    day = well.note(NOW + timedelta(days=3), 12)
    assert local_time(NOW) in day
    forked = ForwardStanding(12, None, NOW, fork="the shop holds another entry 7.")
    assert forked.note(NOW, 30) == "Fork: the shop holds another entry 7."


def test_what_is_appended_is_sent_at_once_and_what_the_shop_said_is_taken(bench, shop, forward):
    forwarder = forward(bench)
    bench.work(2)
    eventually(lambda: all_sent(forwarder, bench))
    # Two facts of the shop were adopted, and that was read back.
    eventually(lambda: bench.store.entries(kind=ShopTaken.kind))
    eventually(lambda: all_sent(forwarder, bench))
    assert chain_at(shop, bench.name) == bench.rows()
    with bench.store.reading() as local:
        assert [tuple(row) for row in journal.rows(local, SHOP)] == chain_at(shop, SHOP)
    assert bench.store.verify().problem == ""
    assert forwarder.note(bench.now()).startswith("Shop: all is sent, last sent")


def test_an_append_does_not_wait_for_a_shop_that_swallows_everything(bench, forward, proxy):
    forwarder = forward(bench)
    bench.work()
    eventually(lambda: all_sent(forwarder, bench))
    proxy.hold(True)
    began = time.perf_counter()
    bench.work(3)
    assert time.perf_counter() - began < 2.0
    began = time.perf_counter()
    forwarder.close()
    assert time.perf_counter() - began < 2.0
    proxy.hold(False)
    assert not forwarder._thread.is_alive()


def test_a_shop_that_is_not_there_is_said_and_reached_when_it_is(bench, shop, forward, proxy):
    proxy.allow(0)
    forwarder = forward(bench)
    bench.work()
    eventually(lambda: forwarder.standing.away)
    assert forwarder.note(NOW) == "Shop: not reached yet; 6 entries wait."
    proxy.allow(None)
    eventually(lambda: all_sent(forwarder, bench))
    assert not forwarder.standing.away
    proxy.allow(0)
    proxy.cut()
    bench.file_unit()
    eventually(lambda: forwarder.standing.away)
    assert "not reached since" in forwarder.note(bench.now())
    proxy.allow(None)
    eventually(lambda: all_sent(forwarder, bench))
    assert chain_at(shop, bench.name) == bench.rows()


def test_a_fork_stops_the_sending_and_never_the_bench(bench, shop, forward, tmp_path, caplog):
    bench.work()
    # A computer of the same name that began from nothing reached the shop first.
    stranger = JoinedBench(tmp_path / "stranger", shop, bench.name)
    stranger.add(PersonEnrolled("p-9", "Somebody", ("lead",)))
    stranger.send()
    stranger.store.close()
    there = chain_at(shop, bench.name)
    forwarder = forward(bench)
    eventually(lambda: forwarder.standing.fork)
    assert forwarder.note(NOW).startswith("Fork: the shop holds another entry 1 of this")
    eventually(lambda: not forwarder._thread.is_alive())
    assert "fork" in caplog.text
    bench.file_unit()
    assert chain_at(shop, bench.name) == there
    rows = shop.rows("SELECT bench, seq, hash_there, hash_given FROM fork")
    assert rows == [(bench.name, 1, there[0][8], bench.rows()[0][8])]
    assert bench.store.verify().ok


def test_two_benches_learn_from_each_other(joined, shop, forward):
    one, other = joined("bench-1"), joined("bench-2")
    forwarders = [forward(one), forward(other)]
    one.work()
    other.work()

    def level():
        with one.store.reading() as local, other.store.reading() as there:
            heads = {journal.head(local, SHOP), journal.head(there, SHOP)}
        sent = all(all_sent(f, b) for f, b in zip(forwarders, (one, other), strict=True))
        return sent and heads == {(4, chain_at(shop, SHOP)[-1][8])}

    eventually(level)
    assert len(shop_events(shop)) == 4
    for made in (one, other):
        assert made.store.verify().ok
        assert chain_at(shop, made.name) == made.rows()
