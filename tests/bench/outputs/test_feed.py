"""The reading feed over real sockets: loopback only, read only, and never a brake."""

import json
import logging
import math
import socket
import threading
import time
from datetime import UTC, datetime

import pytest

from benchstation.bench.assembly import bench_from
from benchstation.bench.outputs import feed as module
from benchstation.bench.outputs.assembly import feed_for
from benchstation.bench.outputs.feed import FORM, MOST_CLIENTS, MOST_LINES, MOST_SENT_BYTES
from benchstation.clock import running_clock
from benchstation.demo import shop as demo
from benchstation.demo.world import make_world
from benchstation.devices.instrument import Sample
from benchstation.driver_api.reading import Fault, FaultKind
from benchstation.screens.bench.lamp import output_notes
from benchstation.store.engine import open_store
from sample_devices.protocol_bench import BenchPort
from tests.waiting import eventually, let_pass, stays

OVER_PA = 37e5


def free_port() -> int:
    with socket.socket() as probe:
        probe.bind(("127.0.0.1", 0))
        return probe.getsockname()[1]


@pytest.fixture
def session(tmp_path):
    """A bench of the demo shop; nothing is read yet."""
    with open_store(tmp_path / "s.sqlite", demo.BENCH) as store:
        demo.found(store, datetime.now(UTC))
        live = bench_from(store, demo.demo_shop(store), running_clock(), lambda: demo.AIR)
        yield live.session


@pytest.fixture
def feed(session):
    made = feed_for(free_port(), session)
    made.start()
    yield made
    made.close()


class Client:
    """A program that reads lines."""

    def __init__(self, feed, host="127.0.0.1", *, buffer=None):
        family = socket.AF_INET6 if ":" in host else socket.AF_INET
        self.socket = socket.socket(family)
        if buffer is not None:
            self.socket.setsockopt(socket.SOL_SOCKET, socket.SO_RCVBUF, buffer)
        self.socket.settimeout(3.0)
        eventually(lambda: self.socket.connect_ex((host, feed.port)) == 0)
        self.file = self.socket.makefile("rb")

    def line(self):
        line = self.file.readline()
        assert line.endswith(b"\n"), "the feed closed the connection"
        return json.loads(line, parse_constant=pytest.fail)

    def next(self, kind):
        while (line := self.line())["kind"] != kind:
            pass
        return line

    @property
    def closed(self):
        try:
            while self.socket.recv(65_536):
                pass
        except ConnectionError:
            return True
        return True

    def __enter__(self):
        return self

    def __exit__(self, *_):
        self.file.close()
        self.socket.close()


def sample(session, value, stable=None):
    return Sample(value, session.clock.seconds(), stable, 1e-4, "g", b"raw")


def give(session, role, item):
    """What the reader's thread does with an item."""
    fitted = session.scale if role == "scale" else session.gauge
    for tap in fitted.instrument.taps:
        tap(item)


@pytest.mark.parametrize("host", ["127.0.0.1", "::1"])
def test_a_client_hears_who_speaks_and_then_every_reading_in_si(session, feed, host):
    if ":" in host and not socket.has_ipv6:
        pytest.skip("no IPv6 here")
    with Client(feed, host) as client:
        hello = client.next("hello")
        assert (hello["form"], hello["bench"], hello["alarms"]) == (FORM, demo.BENCH, [])
        give(session, "scale", sample(session, 0.2188, True))
        mass = client.next("reading")
        give(session, "gauge", sample(session, 15.1e5))
        pressure = client.next("reading")
    at = datetime.fromisoformat(mass.pop("time"))
    assert abs((datetime.now(UTC) - at).total_seconds()) < 5
    assert mass == {
        "kind": "reading",
        "role": "scale",
        "instrument": session.scale.registered.instrument_id,
        "value": 0.2188,
        "unit": "kg",
        "reference": None,
        "stable": True,
        "health": "failure",  # nothing was ever read over its line
    }
    assert (pressure["value"], pressure["unit"]) == (15.1e5, "Pa")
    assert (pressure["reference"], pressure["stable"]) == ("gauge", None)


def test_a_fault_has_no_value(session, feed):
    with Client(feed) as client:
        client.next("hello")
        give(
            session,
            "gauge",
            Fault(FaultKind.OVER_RANGE, session.clock.seconds(), b"+OL", "<b>+OL</b>"),
        )
        line = client.next("fault")
        assert (line["fault"], line["role"]) == ("over range", "gauge")
        assert "value" not in line
        for value in (math.nan, math.inf):
            give(session, "scale", sample(session, value))
            line = client.next("fault")
            assert "value" not in line


def test_changes_of_the_guard_are_told_and_open_alarms_at_the_hello(session, feed):
    session.watch.arm()
    with Client(feed) as client:
        client.next("hello")
        give(session, "gauge", sample(session, OVER_PA))
        line = client.next("guard")
        assert (line["alarm"], line["state"]) == ("high limit", "active, unacknowledged")
        assert (line["gauge_pa"], line["threshold_gauge_pa"]) == (OVER_PA, 35e5)
        assert client.next("guard")["alarm"] == "high warning", "the limit implies it"
        session.watch.acknowledge("kofler", "regulator", line["episode"])
        told = [client.next("guard") for _ in range(2)]
        assert {one["state"] for one in told} == {"active, acknowledged"}
        assert {one["instrument"] for one in (line, *told)} == {"gauge-1"}
    with Client(feed) as late:
        alarms = late.next("hello")["alarms"]
    assert [(a["alarm"], a["state"]) for a in alarms] == [
        ("high limit", "active, acknowledged"),
        ("high warning", "active, acknowledged"),
    ]


def test_a_pulled_plug_is_a_change_of_health(session, feed):
    world = make_world(5, demo.AIR)
    port = BenchPort("fed", world.gauge, session.clock.seconds)
    session.gauge.instrument.connect(port.url)
    try:
        with Client(feed) as client:
            client.next("reading")
            while client.next("health")["health"] != "good":
                pass
            port.unplug()
            line = client.next("health")
            assert (line["role"], line["health"]) == ("gauge", "failure")
            assert line["reason"]
            assert line["advice"]
    finally:
        session.gauge.instrument.stop()
        port.close()


def test_a_slow_client_loses_its_oldest_lines_and_is_told_how_many(session, feed):
    with Client(feed, buffer=4096) as slow, Client(feed) as quick:
        quick.next("hello")
        slow.next("hello")
        count = 12_000
        heard: list[dict] = []
        reading = threading.Thread(
            target=lambda: heard.extend(quick.next("reading") for _ in range(count))
        )
        reading.start()
        longest = 0.0
        for number in range(count):
            start = time.perf_counter()
            give(session, "scale", sample(session, float(number)))
            longest = max(longest, time.perf_counter() - start)
            if number % 100 == 0:
                let_pass(module.TICK_S / 2)
        reading.join(20)
        assert [line["value"] for line in heard] == [float(n) for n in range(count)]
        assert longest < 0.5  # the reader's thread waited for nobody
        kept, lost = [], 0
        while not kept or kept[-1] != count - 1:
            line = slow.next("reading")
            kept.append(line["value"])
            lost += line.get("lost", 0)
        assert lost > 0
        assert len(kept) + lost == count
        assert kept == sorted(kept)


def test_what_a_client_sends_is_thrown_away(session, feed):
    with Client(feed) as client:
        client.next("hello")
        client.socket.sendall(b'GET / HTTP/1.1\r\n\r\n{"kind":"tare"}\n\xff\x00')
        give(session, "scale", sample(session, 1.0))
        assert client.next("reading")["value"] == 1.0
    assert not session.watch.snapshot().alarms


def test_a_client_that_never_stops_sending_is_let_go(session, feed):
    with Client(feed) as noisy, Client(feed) as other:
        noisy.next("hello")
        with pytest.raises(ConnectionError):
            noisy.socket.sendall(b"x" * 1000 * MOST_SENT_BYTES)
        other.next("hello")
        give(session, "scale", sample(session, 1.0))
        assert other.next("reading")["value"] == 1.0


def test_a_client_that_takes_nothing_for_long_gives_its_place_up(session, feed, monkeypatch):
    monkeypatch.setattr(module, "STUCK_S", 0.2)
    with Client(feed, buffer=4096) as stuck:
        stuck.next("hello")

        def let_go():
            give(session, "scale", sample(session, 1.0))
            return not feed.clients

        eventually(let_go)


def test_so_many_clients_and_no_more(session, feed):
    clients = [Client(feed) for _ in range(MOST_CLIENTS)]
    for client in clients:
        client.next("hello")
    with Client(feed) as late:
        assert late.closed
    clients[0].__exit__()
    eventually(lambda: len(feed.clients) < MOST_CLIENTS)
    with Client(feed) as again:
        again.next("hello")
    for client in clients[1:]:
        client.__exit__()


def test_a_port_that_is_taken_is_said_once_and_tried_again(session, monkeypatch, caplog):
    monkeypatch.setattr(module, "AGAIN_S", 0.1)
    caplog.set_level(logging.WARNING, "benchstation.bench.outputs.feed")

    def said_once():
        return [r for r in caplog.records if "is not there" in r.message]

    with socket.socket() as other:
        other.bind(("127.0.0.1", 0))
        other.listen()
        made = feed_for(other.getsockname()[1], session)
        made.start()
        eventually(lambda: "cannot be opened" in made.problem)
        session.outputs.send_to(made)
        assert f"port {made.port} cannot be opened" in output_notes(session)[0]
        stays(lambda: len(said_once()) == 1, 0.35)
    try:
        with Client(made) as client:
            client.next("hello")
        assert output_notes(session) == ()
        assert len(said_once()) == 1
    finally:
        made.close()


def test_it_listens_on_loopback_only(feed):
    eventually(lambda: bool(feed.listeners))
    hosts = {listener.getsockname()[0] for listener in feed.listeners}
    assert hosts <= {"127.0.0.1", "::1"}


def test_without_clients_nothing_is_kept(session, feed):
    for _ in range(3 * MOST_LINES):
        give(session, "scale", sample(session, 1.0))
    eventually(lambda: not feed.waiting)
    with Client(feed) as client:
        client.next("hello")
        give(session, "scale", sample(session, 2.0))
        assert client.next("reading")["value"] == 2.0
