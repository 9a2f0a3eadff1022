"""The guard judges every gauge in the path; the one in the fill line measures the charge."""

from dataclasses import replace

import pytest

from benchstation.demo import shop as demo
from benchstation.domain.events import AlarmChanged, AlarmEpisodeRecorded, ChargeCaptured
from benchstation.domain.guard import AlarmKind
from benchstation.quantities.formatter import METRIC
from benchstation.screens.bench.alarm_panel import banners
from benchstation.screens.bench.instrument_bar import strip
from benchstation.screens.bench.page import bench_view
from benchstation.screens.instruments.page import instrument_views
from sample_devices.transducer import VirtualTransducer
from tests.oil_hands import act
from tests.stepped_bench import START, Another, make_bench

FIRST = demo.instruments(START.date())["gauge"]
SECOND = Another(
    replace(FIRST, instrument_id="gauge-2", title="Manifold gauge", serial_number="G-2", gain=1.0),
    "",
    lambda model: VirtualTransducer(model, "gauge-value-unit"),
    use="manifold",
)


@pytest.fixture
def bench(tmp_path):
    made = make_bench(tmp_path, others=[SECOND])
    yield made
    made.store.close()


def open_alarms(bench):
    return {(a.kind, a.gauge) for a in bench.session.watch.snapshot().alarms}


def device(bench, name):
    return bench.lines[name].device


def changes(bench):
    entries = bench.store.entries(kind=AlarmChanged.kind)
    return [(e.event.alarm, e.event.gauge_id, e.event.state) for e in entries]


def test_each_gauge_shows_its_reading_under_its_own_name(bench):
    readings = {one.id: one for one in strip(bench.session, METRIC)}
    assert list(readings) == ["scale-1", "gauge-1", "gauge-2"]
    assert readings["gauge-1"].title == "Pressure, Charge gauge, 40 bar"
    assert readings["gauge-2"].title == "Pressure, manifold"
    assert readings["scale-1"].title == "Scale"
    views = instrument_views(bench.session, tuple(readings.values()))
    assert [view.id for view in views] == list(readings)
    keys = [a.key for view in views for a in (*view.actions, *view.recall) if a.key]
    assert len(set(keys)) == len(keys)


def test_the_second_gauge_over_the_limit_is_an_alarm_and_locks_the_capture(bench):
    device(bench, "gauge-2").offset_pa = bench.session.watch.limits.limit_gauge_pa + 1e5
    bench.until(lambda: (AlarmKind.HIGH_LIMIT, "gauge-2") in open_alarms(bench))
    assert not any(gauge == "gauge-1" for _, gauge in open_alarms(bench))
    seen = bench.session.watch.snapshot()
    assert seen.capture_locked
    assert seen.gauge_pa == pytest.approx(bench.session.watch.limits.limit_gauge_pa + 1e5, rel=0.01)
    (first, *_) = banners(bench.session, METRIC)
    assert first.headline.startswith("HIGH LIMIT")
    assert ", Manifold gauge   36.00 bar gauge" in first.headline
    readings = {one.id: one for one in strip(bench.session, METRIC)}
    assert "high limit" in readings["gauge-2"].words
    assert "high limit" not in readings["gauge-1"].words


def test_its_episode_is_on_record_with_its_own_pressure(bench):
    limit = bench.session.watch.limits.limit_gauge_pa
    device(bench, "gauge-2").offset_pa = limit + 1e5
    bench.until(lambda: (AlarmKind.HIGH_LIMIT, "gauge-2") in open_alarms(bench))
    device(bench, "gauge-2").offset_pa = 0.0
    bench.run(3)
    for alarm in bench.session.watch.snapshot().alarms:
        bench.session.watch.acknowledge("kofler", "manifold valve", alarm.episode)
    bench.until(lambda: not bench.session.watch.snapshot().alarms)
    bench.run(0.5)
    assert ("high limit", "gauge-2", "normal") in changes(bench)
    assert {gauge for _, gauge, _ in changes(bench)} == {"gauge-2"}
    recorded = [e.event for e in bench.store.entries(kind=AlarmEpisodeRecorded.kind)]
    (episode,) = (e for e in recorded if e.alarm == "high limit")
    trace = bench.store.get_trace(episode.trace_sha256)
    assert trace.channels["gauge_pa"].max() == pytest.approx(episode.peak_gauge_pa)


@pytest.mark.parametrize("lost", ["gauge", "gauge-2"])
def test_one_lost_gauge_is_an_alarm_and_the_pressure_is_not_known(bench, lost):
    bench.unplugged.add(lost)
    name = {"gauge": "gauge-1"}.get(lost, lost)
    bench.until(lambda: (AlarmKind.SIGNAL_LOST, name) in open_alarms(bench))
    assert open_alarms(bench) == {(AlarmKind.SIGNAL_LOST, name)}
    seen = bench.session.watch.snapshot()
    assert seen.capture_locked
    assert seen.gauge_pa is None
    bench.unplugged.clear()
    bench.run(3)
    assert bench.session.watch.snapshot().gauge_pa is not None


def test_the_charge_is_that_of_the_fill_line(bench):
    """The other one reads 3 bar too much; no charge is taken from it."""
    device(bench, "gauge-2").offset_pa = 3e5
    bench.work_to(None)
    charges = [e.event for e in bench.store.entries(kind=ChargeCaptured.kind)]
    assert {charge.instrument_id for charge in charges} == {"gauge-1"}
    charge = charges[-1]
    assert charge.settled_gauge_pa == pytest.approx(charge.target_gauge_pa, abs=5e4)


def test_a_gauge_that_takes_a_place_goes_on_with_what_its_guard_knew(bench):
    device(bench, "gauge-2").offset_pa = bench.session.watch.limits.limit_gauge_pa + 1e5
    bench.until(lambda: (AlarmKind.HIGH_LIMIT, "gauge-2") in open_alarms(bench))
    watch, old = bench.session.watch, bench.session.instruments.named("gauge-2").instrument
    taps = len(old.taps)
    watch.follow(bench.session.gauge.instrument, "gauge-3", "gauge-2")
    assert watch.gauges == ("gauge-1", "gauge-3")
    assert (AlarmKind.HIGH_LIMIT, "gauge-3") in open_alarms(bench)
    assert len(old.taps) == taps - 1


def test_a_step_that_measures_by_gauge_names_the_one_it_measures_with(bench):
    for _ in bench.technician(family="mr-46-rear").work():
        if bench.session.rebuild.current.id == "found":
            break
        bench.run(0.1)
    bench.run(2.5)
    lines = [text for text, _ in bench_view(bench.session, METRIC).task.lines]
    assert "on Charge gauge, 40 bar" in lines
    act(bench, "sign")
    (measured,) = bench.session.unit().signatures["found"].evidence
    assert measured.instruments == ("gauge-1",)
