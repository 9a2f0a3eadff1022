"""A running bench takes a new instrument: on record, in the settings, and under the guard."""

import time
from datetime import UTC, datetime

import pytest

from benchstation.bench.assembly import Placed, bench_from, placed_last
from benchstation.bench.onboarding.instrument import New, Places
from benchstation.bench.onboarding.refitting import BenchKeeper
from benchstation.bench.outputs.assembly import GaugeLines
from benchstation.bench.outputs.feed import Feed, Source
from benchstation.clock import running_clock
from benchstation.config.settings import InstrumentSettings, SettingsError
from benchstation.demo import shop as demo
from benchstation.demo.world import make_world, serve_world
from benchstation.devices.profile import load_profile
from benchstation.domain.events import InstrumentChecked, InstrumentRegistered
from benchstation.domain.instrument_roles import InstrumentRole
from benchstation.domain.unit_commands import NotAllowedError
from benchstation.driver_api.errors import StationError
from benchstation.link.transport import Levels
from benchstation.screens.records.page import Records
from benchstation.screens.service import Station
from benchstation.store.engine import open_store
from sample_devices.air import VirtualClimate
from sample_devices.bench_model import BenchModel
from sample_devices.host import TcpHost
from sample_devices.scale import VirtualScale
from sample_devices.transducer import VirtualTransducer
from tests.waiting import eventually

PROFILES = {
    "scale": "scale-status-first",
    "gauge": "gauge-value-unit",
    "thermometer": "climate-line",
    "hygrometer": "climate-line.humidity",
}


class Bench:
    def __init__(self, session, station, keeper, kept, served) -> None:
        self.session, self.station, self.keeper = session, station, keeper
        self.kept, self.served = kept, served

    def sign_in(self, person):
        fields = {"person": person, "pin": demo.PIN}
        self.station.act("sign_in", fields).result(10)

    def entries(self):
        return [e.event for e in self.session.store.entries(kind=InstrumentRegistered.kind)]


@pytest.fixture
def bench(tmp_path, monkeypatch):
    monkeypatch.setenv("BENCHSTATION_HOME", str(tmp_path / "home"))
    with open_store(tmp_path / "s.sqlite", demo.BENCH) as store:
        demo.found(store, datetime.now(UTC))
        clock = running_clock()
        served = serve_world(make_world(8, demo.AIR), clock.seconds)
        live = bench_from(store, demo.demo_shop(store), clock, lambda: demo.AIR)
        station = Station(live, Records(store))
        session, kept = live.session, {}
        urls = {"scale-1": served.scale.url, "gauge-1": served.gauge.url}
        keep = lambda settings, old: kept.update({settings.role: (settings, old)})  # noqa: E731
        keeper = BenchKeeper(session, station.ask, keep, urls)
        session.scale.instrument.connect(served.scale.url)
        session.gauge.instrument.connect(served.gauge.url)
        session.watch.arm()
        station.start()
        yield Bench(session, station, keeper, kept, served)
        station.close()
        for fitted in session.instruments:
            fitted.instrument.stop()
        served.close()


@pytest.fixture
def device():
    made = []

    def start(role):
        kinds = {"scale": VirtualScale, "gauge": VirtualTransducer, "thermometer": VirtualClimate}
        kind = kinds[role]
        made.append(TcpHost(kind(BenchModel(3), rate_hz=50.0), time.perf_counter))
        return made[-1].url

    yield start
    for host in made:
        host.close()


def new(role, url, name="", passed=True, instead_of=None):
    name = name or f"{role}-2"
    profile = load_profile(PROFILES[role])
    return New(
        InstrumentSettings(id=name, role=role, profile=profile.id, url=url),
        InstrumentRegistered(name, role, "New", profile.id, "", 1.0, 0.0, 0.0, "", "", ""),
        InstrumentChecked(name, "check", 0.2, 0.2, 1e-4, passed),
        profile,
        profile,
        f"{role}-1" if instead_of is None else instead_of,
    )


@pytest.mark.parametrize("role", ["scale", "gauge"])
def test_it_is_on_record_kept_and_read_at_once(bench, device, role):
    bench.sign_in(demo.LEAD)
    old = getattr(bench.session, role)
    url = device(role)
    said = bench.keeper.save(new(role, url))
    assert f"is the {role} of this bench now" in said
    fitted = getattr(bench.session, role)
    assert fitted.registered.instrument_id == f"{role}-2"
    assert not old.instrument.reader.thread.is_alive()
    assert (bench.kept[role][0].url, bench.kept[role][1]) == (url, f"{role}-1")
    assert bench.keeper.used_by(url) == "New"
    eventually(lambda: fitted.good_value(bench.session.clock.seconds()) is not None)
    assert bench.session.watch.gauges == ("gauge-2" if role == "gauge" else "gauge-1",)
    assert {i.instrument_id for i in bench.entries() if i.role == role} == {
        f"{role}-1",
        f"{role}-2",
    }
    assert Placed(f"{role}-2", role) in placed_last(bench.session.store)
    assert len(bench.session.instruments.of(role)) == 1


@pytest.mark.parametrize(
    ("person", "words"),
    [("", "nobody is signed in"), (demo.TECHNICIANS[0], "Have a bench lead or QA sign in")],
)
def test_who_may_not(bench, device, person, words):
    if person:
        bench.sign_in(person)
    url = device("scale")
    before = bench.session.scale
    for job in (bench.keeper.begin, lambda: bench.keeper.save(new("scale", url))):
        with pytest.raises(NotAllowedError, match=words):
            job()
    assert bench.session.scale is before
    assert (len(bench.entries()), bench.kept) == (2, {})


def test_a_failed_check_and_no_calibration_lock_the_capture(bench, device):
    bench.sign_in(demo.LEAD)
    said = bench.keeper.save(new("scale", device("scale"), passed=False))
    assert "Capture is locked" in said
    assert bench.session.message.needs_attention
    assert bench.session.scale.unfit(bench.session.clock.utc().date())


def test_settings_that_cannot_be_written_leave_the_old_one_reading(bench, device):
    def refuse(instrument, instead_of):
        raise SettingsError("the settings cannot be written.")

    bench.sign_in(demo.LEAD)
    bench.keeper._keep = refuse
    old = bench.session.gauge
    with pytest.raises(SettingsError):
        bench.keeper.save(new("gauge", device("gauge")))
    assert bench.session.gauge is old
    assert bench.session.watch.gauges == ("gauge-1",)
    eventually(lambda: old.good_value(bench.session.clock.seconds()) is not None)
    assert bench.session.watch.snapshot().alarms == ()


@pytest.mark.parametrize("role", ["scale", "gauge"])
def test_another_one_comes_beside_and_both_are_read(bench, device, role):
    bench.sign_in(demo.LEAD)
    first, url = getattr(bench.session, role), device(role)
    said = bench.keeper.save(new(role, url, instead_of=""))
    assert f"New is a {role} of this bench now" in said
    assert bench.kept[role][1] == ""
    assert getattr(bench.session, role) is first
    assert [one.id for one in bench.session.instruments.of(role)] == [f"{role}-1", f"{role}-2"]
    now = bench.session.clock.seconds
    eventually(lambda: all(one.good_value(now()) is not None for one in bench.session.instruments))
    assert bench.keeper.used_by(url) == "New"
    assert bench.session.watch.gauges == ("gauge-1", *(["gauge-2"] if role == "gauge" else []))
    bench.keeper.save(new(role, device(role), name=f"{role}-3", instead_of=f"{role}-1"))
    assert [one.id for one in bench.session.instruments.of(role)] == [f"{role}-3", f"{role}-2"]
    assert bench.keeper.used_by(url) == "New"


def test_whose_place_is_meant_is_asked_by_port_and_by_what_is_lost(bench, device):
    places = bench.keeper.places
    eventually(lambda: bench.session.gauge.good_value(bench.session.clock.seconds()) is not None)
    title = bench.session.gauge.registered.title
    assert places(InstrumentRole.GAUGE, device("gauge")) == Places((("gauge-1", title),), "")
    assert places(InstrumentRole.GAUGE, bench.served.gauge.url).meant == "gauge-1"
    bench.keeper.let_go(bench.served.gauge.url)
    eventually(lambda: bench.session.gauge.good_value(bench.session.clock.seconds()) is None)
    assert places(InstrumentRole.GAUGE, device("gauge")).meant == "gauge-1"
    assert places(InstrumentRole.THERMOMETER, device("gauge")) == Places()


def test_a_name_at_the_bench_is_given_once(bench, device):
    bench.sign_in(demo.LEAD)
    for name in ("scale-1", "SCALE-1"):
        with pytest.raises(NotAllowedError, match="'scale-1' stands at this bench"):
            bench.keeper.save(new("scale", device("scale"), name=name, instead_of=""))
    assert (len(bench.entries()), bench.kept) == (2, {})


def test_one_port_is_not_read_by_two(bench):
    bench.sign_in(demo.LEAD)
    with pytest.raises(NotAllowedError, match="is on this port"):
        bench.keeper.save(new("scale", bench.served.gauge.url))
    with pytest.raises(NotAllowedError, match="is a gauge on record"):
        bench.keeper.save(new("scale", "socket://127.0.0.1:9", name="gauge-1"))
    assert len(bench.entries()) == 2


def test_a_gauge_that_is_let_go_is_an_alarm_until_it_is_back(bench):
    url = bench.served.gauge.url
    eventually(lambda: bench.session.watch.snapshot().gauge_pa is not None)
    title = bench.session.gauge.registered.title
    assert bench.keeper.used_by(url) == title
    bench.keeper.let_go(url)
    assert bench.keeper.used_by(url) == ""
    eventually(lambda: bench.session.watch.snapshot().worst is not None)
    assert "SIGNAL" in bench.session.watch.snapshot().worst.kind.value.upper()
    bench.keeper.take_back()
    eventually(lambda: bench.session.gauge.good_value(bench.session.clock.seconds()) is not None)
    assert bench.keeper.used_by(url) == title


def test_names_are_free_ones(bench, device):
    assert bench.keeper.new_id("scale") == "scale-2"
    bench.sign_in(demo.QA)
    bench.keeper.save(new("scale", device("scale")))
    assert bench.keeper.new_id("scale") == "scale-3"


def test_a_bench_that_does_not_answer_is_worded(bench, monkeypatch):
    monkeypatch.setattr("benchstation.bench.onboarding.refitting.ANSWER_WITHIN_S", 0.05)
    bench.station._stop.set()
    bench.station._thread.join(5)
    with pytest.raises(StationError, match="does not answer"):
        bench.keeper.begin()


def test_lamp_and_feed_go_on_with_the_new_gauge(bench, device):
    session = bench.session
    session.outputs.send_to(
        Feed(0, "b", session.clock, (Source(session.gauge.instrument, "gauge-1"),))
    )
    lines = GaugeLines(lambda: session.gauge.instrument, Levels())
    bench.sign_in(demo.LEAD)
    bench.keeper.save(new("gauge", device("gauge")))
    assert session.outputs.feed.sources["gauge-2"].instrument is session.gauge.instrument
    assert session.outputs.feed.sources["gauge-2"].instrument_id == "gauge-2"
    assert "gauge-1" not in session.outputs.feed.sources
    eventually(lambda: session.outputs.feed.waiting)
    set_to = []
    session.gauge.instrument.set_levels = set_to.append
    lines.send(Levels(True, None))
    assert set_to == [Levels(True, None)]


def test_two_values_of_one_line_are_two_instruments_on_its_port(bench, device):
    bench.sign_in(demo.LEAD)
    url = device("thermometer")
    bench.keeper.save(new("thermometer", url, instead_of=""))
    # As the wizard does: the port is let go while it is listened to, and taken back after.
    bench.keeper.let_go(url)
    bench.keeper.save(new("hygrometer", url, instead_of=""))
    both = [bench.session.instruments.named(name) for name in ("thermometer-2", "hygrometer-2")]
    now = bench.session.clock.seconds
    eventually(lambda: all(one.good_value(now()) is not None for one in both))
    assert [round(one.good_value(now()), 2) for one in both] == [294.55, 0.45]
    with pytest.raises(NotAllowedError, match="is on this port"):
        bench.keeper.save(new("thermometer", url, name="thermometer-3", instead_of=""))
