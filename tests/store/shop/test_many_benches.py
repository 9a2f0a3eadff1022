"""Twenty benches at once, and a bench that comes back with a week of work."""

import random
import threading
import time
from datetime import UTC, datetime

import pytest

from benchstation.demo import history
from benchstation.domain.events import Adopted, OilLotReceived
from benchstation.domain.shop_chain import SHOP
from benchstation.store import journal
from benchstation.store.backends.postgresql import ShopAddress
from benchstation.store.engine import open_store
from benchstation.store.errors import StoreError
from benchstation.store.shop.exchange import Exchange
from benchstation.store.trust import trust_at
from tests.cutting_proxy import cutting_proxy
from tests.store.shop.conftest import NOW, chain_at, shop_events

BENCHES = 20


def exchanged_until_level(bench, troubles):
    """Work and exchange at the same time, as every other bench does; the last rounds only take."""
    line = Exchange(bench.store, bench.shop.bench_address(bench.name))
    rng = random.Random(bench.name)
    try:
        for n in range(6):
            if n < 4:
                bench.add(OilLotReceived(f"lot-{rng.randrange(6)}", bench.name, 860.0, 5e-4))
                bench.file_unit()
            try:
                line.step(bench.now())
            except StoreError as error:
                troubles.append(error)
        while not _level(line, bench):
            pass
    finally:
        line.close()


def _level(line, bench):
    done = line.step(bench.now())
    return not done.sent and not done.took and done.at_shop == bench.store.head()[0]


@pytest.mark.timeout(300)
def test_twenty_benches_at_once_lose_nothing_and_agree_on_the_shop(joined, shop):
    benches = [joined(f"bench-{n:02}") for n in range(BENCHES)]
    troubles = []
    for one in benches:
        shop.bench_address(one.name)
    threads = [
        threading.Thread(target=exchanged_until_level, args=(one, troubles)) for one in benches
    ]
    for thread in threads:
        thread.start()
    for thread in threads:
        thread.join()
    # Nobody waits for another in a circle: no deadlock, and no lock that ran out.
    assert troubles == []
    said = [event for event in shop_events(shop) if not event.kind.startswith("shop.bench")]
    judged = [(event.bench, event.seq) for event in said]
    assert len(judged) == len(set(judged)) == 4 * BENCHES
    whole = chain_at(shop, SHOP)
    for one in benches:
        assert chain_at(shop, one.name) == one.rows()
        line = Exchange(one.store, shop.bench_address(one.name))
        while line.step(NOW).took:
            pass
        line.close()
        with one.store.reading() as local:
            assert [tuple(row) for row in journal.rows(local, SHOP)] == whole
    # Of several that say something about one lot at once, one is adopted.
    lots = [e.content["lot"] for e in said if isinstance(e, Adopted)]
    assert set(lots) == {event.content["lot"] for event in said}
    assert benches[0].store.verify().problem == ""


def offline(shop, tmp_path, units, cuts):
    """Let a bench come back with so many units over a line that is cut so often."""
    path = tmp_path / "r.sqlite"
    with open_store(path, "bench-1") as made:
        history.make_history(made, datetime(2026, 3, 6, tzinfo=UTC).date(), units)
    rng = random.Random(units)
    with (
        cutting_proxy(shop.server.port) as proxy,
        open_store(path, "", trust=trust_at(tmp_path / "home")) as store,
    ):
        address = shop.bench_address(store.bench)
        line = Exchange(store, ShopAddress(address.url.set(port=proxy.port), address.password))
        broken, began = 0, time.perf_counter()
        while True:
            left = cuts - broken
            proxy.allow(rng.randrange(1_000, 400_000) if left > 0 else None)
            try:
                while (done := line.step(NOW)).sent or done.took:
                    pass
                break
            except StoreError:
                broken += 1
        took_s = time.perf_counter() - began
        line.close()
        with store.reading() as local:
            own = [tuple(row) for row in journal.rows(local, store.bench)]
            traces = local.exec_driver_sql("SELECT count(*) FROM trace").scalar_one()
        assert chain_at(shop, store.bench) == own
        assert shop.rows("SELECT count(*) FROM trace") == [(traces,)]
        assert chain_at(shop, SHOP)
        filed = sum(row[4] == "unit.filed" for row in own)
        return filed, len(own), broken, took_s


@pytest.mark.timeout(300)
def test_days_offline_come_over_a_line_that_breaks(shop, tmp_path):
    filed, _, broken, _ = offline(shop, tmp_path, 4, 6)
    assert filed == 4
    assert broken == 6


@pytest.mark.soak
@pytest.mark.timeout(3600)
def test_a_week_offline_with_five_hundred_units_comes_over_a_line_that_breaks(
    shop, tmp_path, capsys
):
    filed, entries, broken, took_s = offline(shop, tmp_path, 500, 200)
    with capsys.disabled():
        print(f"\n{filed} units, {entries} entries, {broken} cuts, {took_s:.1f} s")
    assert filed >= 450
    assert broken == 200
