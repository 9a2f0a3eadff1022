"""Whatever is cut or killed between a bench and the shop: nothing lost, doubled or reordered."""

import contextlib
import os
import random
import signal
import subprocess
import sys
import threading
from functools import partial

import pytest

from benchstation.domain.shop_chain import SHOP
from benchstation.store.backends.postgresql import ShopAddress
from benchstation.store.engine import open_store
from tests.cutting_proxy import cutting_proxy
from tests.spoken_text import ROOT
from tests.store.shop.conftest import JoinedBench, chain_at
from tests.waiting import eventually

WAIT_S = 60.0


class Worker:
    """The process of a bench, and what it said is durable."""

    def __init__(self, bench, address, *more):
        url = address.url.set(drivername="postgresql").render_as_string(hide_password=True)
        self._command = [
            sys.executable, "-m", "tests.forwarding_worker",
            str(bench.path), str(bench.home), bench.name, url, *more,
        ]  # fmt: skip
        self._environment = {**os.environ, "BENCHSTATION_SHOP_PASSWORD": address.password}
        self.durable = 0
        self.start()

    def start(self):
        self.process = subprocess.Popen(
            self._command, env=self._environment, cwd=ROOT, text=True,
            stdin=subprocess.PIPE, stdout=subprocess.PIPE,
        )  # fmt: skip
        self._reading = threading.Thread(target=self._read, args=(self.process.stdout,))
        self._reading.start()

    def _read(self, lines):
        for line in lines:
            if line.strip().isdigit():
                self.durable = max(self.durable, int(line))

    def say(self, word):
        self.process.stdin.write(f"{word}\n")
        self.process.stdin.flush()

    def how(self):
        return f"the bench's process stands at {self.process.poll()}, entry {self.durable}"

    def kill(self):
        self.process.kill()
        self._gone()

    def _gone(self):
        code = self.process.wait(WAIT_S)
        self._reading.join()
        self.process.stdin.close()
        self.process.stdout.close()
        return code

    def end(self):
        """Let it send all and end; give its exit code."""
        self.say("end")
        return self._gone()


def kill_backend(shop):
    """Kill the server's process that serves the bench: the server then restarts all of them."""
    with contextlib.suppress(Exception):
        for (pid,) in shop.rows("SELECT pid FROM pg_stat_activity WHERE usename LIKE 'bench%'"):
            os.kill(pid, signal.SIGKILL)


def require_whole(bench, shop, durable):
    """Hold both sides against each other, entry by entry, and verify the bench's own file."""
    with open_store(bench.path, bench.name, read_only=True) as store:
        bench.store = store
        own = bench.rows()
        assert len(own) >= durable
        assert chain_at(shop, bench.name) == own
        assert [row[1] for row in own] == list(range(1, len(own) + 1))
        assert store.verify().problem == ""
    chain_at(shop, SHOP)
    rows = shop.rows("SELECT count(*), count(DISTINCT hash) FROM journal WHERE bench = 'bench-1'")
    assert rows == [(len(own), len(own))]
    assert shop.rows("SELECT count(*) FROM fork") == [(0,)]
    named = shop.rows("SELECT count(*) FROM trace")[0][0]
    assert named == sum(row[4] == "charge.captured" for row in own)
    return len(own)


def cut_and_kill(bench, shop, cuts, seed):
    """Cut the line so often, at random bytes, and kill each part in between; give what happened."""
    rng = random.Random(seed)
    happened = dict.fromkeys(("line", "bench", "forwarder", "backend", "server"), 0)
    with cutting_proxy(shop.server.port) as proxy:
        address = shop.bench_address(bench.name)
        address = ShopAddress(address.url.set(port=proxy.port), address.password)
        bench.store.close()
        worker = Worker(bench, address)
        try:
            while sum(happened.values()) < cuts:
                what = rng.choices(list(happened), (86, 4, 6, 3, 1))[0]
                before = proxy.cuts
                if what == "line":
                    # From the first bytes of a greeting to the middle of a batch.
                    proxy.allow(rng.randrange(1, 4_000 if rng.random() < 0.5 else 60_000))
                    eventually(partial(lambda cuts: proxy.cuts > cuts, before), WAIT_S, worker.how)
                    happened["line"] += proxy.cuts - before
                else:
                    proxy.allow(None)
                    enough = proxy.passed + rng.randrange(20_000)
                    passed = partial(lambda least: proxy.passed > least, enough)
                    eventually(passed, WAIT_S, worker.how)
                    happened[what] += 1
                    if what == "bench":
                        worker.kill()
                        worker.start()
                    elif what == "forwarder":
                        worker.say("forwarder")
                    elif what == "backend":
                        kill_backend(shop)
                    else:
                        shop.server.stop(at_once=rng.random() < 0.5)
                        shop.server.start()
            proxy.allow(None)
            assert worker.end() == 0
        except BaseException:
            worker.kill()
            raise
    happened["entries"] = require_whole(bench, shop, worker.durable)
    return happened


@pytest.fixture
def file_only(tmp_path, shop):
    bench = JoinedBench(tmp_path, shop)
    yield bench
    bench.store.close()


@pytest.mark.timeout(300)
def test_twenty_cuts_and_kills_lose_double_and_reorder_nothing(file_only, shop):
    happened = cut_and_kill(file_only, shop, 20, seed=4)
    assert happened["entries"] > 20
    assert happened["line"] > 0


@pytest.mark.soak
@pytest.mark.timeout(7200)
def test_a_thousand_cuts_and_kills_lose_double_and_reorder_nothing(file_only, shop, capsys):
    happened = cut_and_kill(file_only, shop, 1_000, seed=int(os.environ.get("SEED", "1")))
    with capsys.disabled():
        print(f"\n{happened}")
    assert all(happened.values())
