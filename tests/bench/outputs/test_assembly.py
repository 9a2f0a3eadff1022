"""Lamp on a whole bench: told by the reader's thread, on a port of its own or on the gauge's."""

import time
from datetime import UTC, datetime

import pytest

from benchstation.bench.assembly import bench_from
from benchstation.bench.outputs.assembly import lamp_for, lamp_from
from benchstation.clock import running_clock
from benchstation.config.settings import SettingsError, parse_settings
from benchstation.demo import shop as demo
from benchstation.demo.world import make_world
from benchstation.driver_api.reading import Health
from benchstation.link.ports import LinkError
from benchstation.screens.bench.lamp import output_notes
from benchstation.screens.instruments.page import instrument_views
from benchstation.store.engine import open_store
from sample_devices.protocol_bench import BenchPort
from tests.bench.outputs.test_lamp import TEXT, Listener
from tests.waiting import eventually

OVER_PA = 37e5
"""Above the demo hose's 35 bar, inside the gauge's range."""


@pytest.fixture
def bench(tmp_path):
    """A bench whose gauge is read over a real transport; the bench itself is never moved on."""
    with open_store(tmp_path / "s.sqlite", demo.BENCH) as store:
        demo.found(store, datetime.now(UTC))
        clock = running_clock()
        world = make_world(5, demo.AIR)
        live = bench_from(store, demo.demo_shop(store), clock, lambda: demo.AIR)
        gauge = BenchPort("gauge", world.gauge, clock.seconds)
        lamp = BenchPort("stack", Listener(), clock.seconds)
        live.session.gauge.instrument.connect(gauge.url)
        live.session.watch.arm()
        yield live, world, gauge, lamp
        if live.session.outputs.lamp is not None:
            live.session.outputs.lamp.close()
        live.session.gauge.instrument.stop()
        gauge.close()
        lamp.close()


def fit(live, url, **parts):
    settings = parse_settings({"lamp": {"url": url, "refresh_s": 0.2, **parts}}).lamp
    live.session.outputs.show_on(lamp_for(settings, live.session))
    live.session.outputs.lamp.start()
    return live.session.outputs.lamp


def test_the_lamp_follows_the_gauge_while_nobody_runs_the_bench(bench):
    live, world, _, port = bench
    fit(live, port.url, rts={}, dtr={"steady": ["alarm"]})
    eventually(lambda: port.level("rts"))
    world.gauge.offset_pa = OVER_PA
    eventually(lambda: port.level("dtr") and not port.level("rts"), 1.0)
    for alarm in live.session.watch.snapshot().alarms:
        live.session.watch.acknowledge("kofler", "regulator", alarm.episode)
    eventually(lambda: not port.level("dtr"), 0.5)


def test_a_silent_gauge_turns_it_to_the_fail_safe_side_while_the_bench_stands_still(bench):
    live, _, gauge, port = bench
    lamp = fit(live, port.url, rts={})
    eventually(lambda: port.level("rts"))
    gauge.unplug()
    assert eventually(lambda: not port.level("rts"), 3.0) > 0.5
    assert lamp.health().category is Health.GOOD  # the lamp is well; the gauge is not


def test_the_gauges_own_port_carries_it_too(bench):
    live, world, gauge, _ = bench
    lamp = fit(live, "gauge", dtr={})
    eventually(lambda: gauge.level("dtr"))
    world.gauge.offset_pa = OVER_PA
    eventually(lambda: not gauge.level("dtr"), 1.0)
    readings = live.session.gauge.instrument.statistics.readings
    eventually(lambda: live.session.gauge.instrument.statistics.readings > readings)
    gauge.unplug()
    eventually(lambda: lamp.health().category is Health.FAILURE)
    before = len(gauge.levels)
    gauge.replug()
    eventually(lambda: lamp.health().category is Health.GOOD, 5.0)
    # At the new opening DTR stood at once as the lamp had it, not energised as ports usually do.
    reopened = [on for _, line, on in gauge.levels[before:] if line == "dtr"]
    assert reopened[0] is False


def test_the_instruments_page_shows_the_lamp_and_its_loss(bench):
    live, _, _, port = bench
    fit(live, port.url, text=TEXT)
    shown = lambda: instrument_views(live.session, ())[-1]  # noqa: E731
    eventually(lambda: shown().reading.number == "normal")
    assert shown().link == "connected"
    assert output_notes(live.session) == ()
    port.unplug()
    eventually(lambda: shown().reading.health == "failure")
    assert output_notes(live.session) == ("Stack light is lost; look at the window.",)
    assert shown().role == "lamp"
    assert "tried again" in shown().link


def test_a_listener_that_fails_does_not_stop_the_guard(bench, caplog):
    live, world, _, _ = bench

    def broken(*_):
        raise RuntimeError("bug")

    live.session.watch.listeners.append(broken)
    world.gauge.offset_pa = OVER_PA
    eventually(lambda: bool(live.session.watch.snapshot().alarms))
    assert "a listener of the guard failed" in caplog.text


def test_it_costs_the_guard_next_to_nothing(bench):
    live, _, _, port = bench
    lamp = fit(live, port.url, rts={})
    seen = live.session.watch.snapshot()
    start = time.perf_counter()
    for _ in range(1000):
        lamp.tell(seen)
    assert (time.perf_counter() - start) / 1000 < 2e-4


def test_without_a_gauge_there_is_no_port_of_it():
    settings = parse_settings({"lamp": {"url": "gauge", "rts": {}}}).lamp
    with pytest.raises(LinkError, match="gauge's port"):
        lamp_from(settings, None, 1.0)


@pytest.mark.parametrize(
    ("lamp", "words"),
    [
        ({"url": "x"}, "give rts, dtr or both"),
        ({"url": "x", "rts": {}, "text": TEXT}, "give rts, dtr or both"),
        ({"url": "gauge", "text": TEXT}, "gauge's port carries its own bytes"),
        ({"url": "x", "rts": {"steady": ["alarm"]}}, "same when 'lost'"),
        ({"url": "x", "rts": {"steady": ["normal", "alarm"]}}, "same when 'alarm'"),
        ({"url": "x", "rts": {"steady": ["normal"], "flash": ["normal"]}}, "both steady and"),
        ({"url": "x", "text": {**TEXT, "lost": TEXT["normal"]}}, "same when 'lost'"),
        ({"url": "x", "text": {**TEXT, "alarm": "\u2713"}}, "no single byte"),
        ({"url": "x", "rts": {}, "refresh_s": 0.0}, "refresh_s"),
        ({"url": "x", "rts": {"steady": ["sometimes"]}}, "steady"),
    ],
)
def test_a_lamp_that_could_not_warn_is_refused(lamp, words):
    with pytest.raises(SettingsError, match=words):
        parse_settings({"lamp": lamp})


def test_a_lamp_on_an_instruments_port_is_refused():
    gauge = {"id": "g", "role": "gauge", "profile": "gauge-value-unit", "url": "/dev/p1"}
    with pytest.raises(SettingsError, match="write 'gauge'"):
        parse_settings({"instruments": [gauge], "lamp": {"url": "/dev/p1", "rts": {}}})
