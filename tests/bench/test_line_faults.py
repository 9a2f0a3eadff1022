"""What devices and cables do in the middle of a pour or a charge, over real ports.

The faults are those of the line and of the device behind it; the bench runs ten times as fast as
the wall. What is judged is the station: shown at once, nothing captured across it, back by itself.
"""

import logging
import shutil
from datetime import UTC, datetime, timedelta

import pytest

from benchstation.bench.assembly import bench_from
from benchstation.bench.capture.weighing import Phase
from benchstation.bench.tare_loss import recover
from benchstation.clock import running_clock
from benchstation.demo import shop as demo
from benchstation.demo.world import make_world
from benchstation.domain.events import AlarmChanged, TareLost, TareProven
from benchstation.domain.specification import StepKind
from benchstation.domain.statements import Code, Statement
from benchstation.domain.unit_commands import NotAllowedError
from benchstation.link.statistics import LinkState
from benchstation.screens.records.page import Records
from benchstation.screens.service import Station
from benchstation.store.engine import open_store
from sample_devices.faults import STEADY_MARKS, FaultyDevice
from sample_devices.host import serve
from tests.stepped_bench import make_bench
from tests.waiting import PATIENCE_S, eventually, let_pass, stays

PACE = 10.0
AT_ONCE_S = 0.6
BACK_WITHIN_S = 2.0
STORE = "rebuilds.sqlite"


class Line(FaultyDevice):
    """A device that can fall silent, and say other things than its own."""

    silent = False
    says = b""

    def output(self, t: float) -> bytes:
        out = super().output(t)
        return b"" if self.silent else self.says or out

    def receive(self, data: bytes, t: float) -> bytes:
        out = super().receive(data, t)
        return b"" if self.silent else out


class Running:
    """A station on real ports, gone on with at some step of a unit."""

    def __init__(self, store) -> None:
        self.clock = running_clock(PACE)
        self.store = store
        self.world = make_world(5, demo.AIR)
        self.lines = {"scale": Line(self.world.scale, 1), "gauge": Line(self.world.gauge, 2)}
        self.ports = {role: serve(line, self.clock.seconds) for role, line in self.lines.items()}
        self.live = bench_from(store, demo.demo_shop(store), self.clock, lambda: demo.AIR)
        self.session = self.live.session
        recover(self.session)
        self.station = Station(self.live, Records(store))
        for role, port in self.ports.items():
            getattr(self.session, role).instrument.connect(port.url)
        self.session.watch.arm()
        self.station.start()
        self.act("sign_in", person="kofler", pin=demo.PIN)
        self.until(lambda: not any(r.stale for r in self.view.strip))

    @property
    def view(self):
        return self.station.view()

    @property
    def model(self):
        return self.world.model

    def act(self, action: str, **fields: str) -> str:
        return self.station.act(action, fields).result(5)

    def until(self, condition, seconds: float = PATIENCE_S) -> float:
        return eventually(condition, seconds, lambda: f"not in time; said: {self.view.said}")

    def stale(self, role: str) -> bool:
        return self.view.strip[0 if role == "scale" else 1].stale

    def events(self, kind):
        return [e.event for e in self.store.entries(kind=kind.kind)]

    def close(self) -> None:
        self.station.close()
        for role, port in self.ports.items():
            getattr(self.session, role).instrument.stop()
            port.close()

    # --- at the bench ----------------------------------------------------------------------------

    def tare(self) -> None:
        self.model.put_on_pan("body")
        self.until(lambda: self.session.scale.instrument.latest().value > 0.8)
        self.act("tare")
        self.until(lambda: self.session.work.weighing.phase is Phase.POURING)

    def pour(self, mass_kg: float, opening: float = 0.6) -> None:
        """Pour so much of what is still to go, and let it come to rest."""
        start = self.model.oil_kg
        self.model.pour_opening = opening
        self.until(lambda: self.model.oil_kg - start > mass_kg - 0.004)
        self.model.pour_opening = 0.0
        self.until(lambda: self.model.flow == 0.0)
        self.model.take_out(self.model.oil_kg - start - mass_kg)
        scale, since = self.session.scale.instrument, self.clock.seconds()
        self.until(lambda: scale.latest().at > since + 0.1)

    def fill(self, share: float) -> None:
        """Let gas in up to so much of the target."""
        target = self.session.work.charge_target.target_gauge_pa
        self.model.regulator_gauge_pa = 1.8 * target
        self.model.valve_opening = 1.0
        self.until(lambda: self.model.gas_gauge_pa > share * target)
        self.model.valve_opening = 0.0

    def needs_tare(self) -> bool:
        return self.session.work.weighing.phase is Phase.NEED_TARE and bool(self.events(TareLost))

    def assert_nothing_is_captured(self) -> None:
        with pytest.raises(NotAllowedError, match="tare is not proven"):
            self.act("capture")
        assert not self.session.rebuild.captures
        assert self.store.verify().ok


@pytest.fixture(scope="module")
def journals(tmp_path_factory):
    """Journals of a unit that has come to the pour, and to the charge."""
    made = {}
    for kind in (StepKind.WEIGH, StepKind.CHARGE):
        folder = tmp_path_factory.mktemp(kind.value)
        bench = make_bench(folder, name=STORE, start=datetime.now(UTC) - timedelta(hours=2))
        bench.work_to(kind)
        bench.store.close()
        made[kind] = folder / STORE
    return made


@pytest.fixture
def go_on(journals, tmp_path):
    running, stores = [], []

    def start(kind: StepKind) -> Running:
        shutil.copyfile(journals[kind], tmp_path / STORE)
        stores.append(open_store(tmp_path / STORE, demo.BENCH))
        running.append(Running(stores[-1]))
        return running[-1]

    yield start
    for made in running:
        made.close()
    for store in stores:
        store.close()


@pytest.fixture
def pouring(go_on):
    bench = go_on(StepKind.WEIGH)
    bench.tare()
    bench.pour(0.06)
    return bench


@pytest.fixture
def charging(go_on):
    bench = go_on(StepKind.CHARGE)
    # What the pour left in it, closed.
    bench.model.oil_kg = bench.session.rebuild.net_shown_kg
    bench.model.let_air_out()
    bench.fill(1.16)
    return bench


# --- the line ------------------------------------------------------------------------------------


def test_the_scales_plug_is_pulled_mid_pour(pouring, caplog):
    caplog.set_level(logging.INFO, "benchstation.link")
    pouring.ports["scale"].unplug()
    assert pouring.until(lambda: pouring.stale("scale")) < AT_ONCE_S
    assert pouring.until(pouring.needs_tare) < AT_ONCE_S
    assert pouring.events(TareLost)[-1].reason.code is Code.LINE_LOST
    stays(lambda: pouring.stale("scale"), 0.5)
    pouring.ports["scale"].replug()
    assert pouring.until(lambda: not pouring.stale("scale")) < BACK_WITHIN_S
    pouring.assert_nothing_is_captured()
    assert len(pouring.events(TareLost)) == 1
    told = [r.message for r in caplog.records if r.levelno >= logging.INFO]
    assert len([words for words in told if "the line was lost" in words]) == 1
    assert len([words for words in told if words.endswith("is live")]) == 1
    assert len(told) == 2


def test_the_cable_is_pulled_behind_the_adapter(pouring):
    """The port stays and says nothing; what was done at the scale meanwhile is not known."""
    line = pouring.lines["scale"]
    line.silent = True
    assert pouring.until(lambda: pouring.stale("scale")) < AT_ONCE_S
    stays(lambda: pouring.stale("scale"), 1.2)
    line.silent = False
    assert pouring.until(lambda: not pouring.stale("scale")) < BACK_WITHIN_S
    pouring.until(pouring.needs_tare)
    assert pouring.events(TareLost)[-1].reason.code is Code.NO_READING
    pouring.assert_nothing_is_captured()


def test_the_scale_starts_anew_mid_pour_and_shows_zero(pouring):
    line, scale = pouring.lines["scale"], pouring.world.scale
    line.silent = True
    pouring.until(lambda: pouring.stale("scale"))
    stays(lambda: pouring.stale("scale"), 1.2)
    rejected = pouring.session.scale.instrument.statistics.rejected
    scale._zero, scale._tare = scale._filtered, 0.0
    line.silent, line.says = False, b"SELF TEST 1.04 ... OK\r\n"
    pouring.until(lambda: pouring.session.scale.instrument.statistics.rejected > rejected)
    line.says = b""
    pouring.until(lambda: not pouring.stale("scale"))
    pouring.until(pouring.needs_tare)
    pouring.assert_nothing_is_captured()


def test_another_device_is_on_the_scales_port(go_on):
    bench = go_on(StepKind.WEIGH)
    bench.lines["scale"].says = b"+012.345 bar\r\n"
    assert bench.until(lambda: bench.stale("scale")) < AT_ONCE_S
    shown = bench.view.strip[0]
    assert shown.health == "failure"
    with pytest.raises(NotAllowedError, match="no valid reading"):
        bench.act("tare")
    bench.until(lambda: bench.session.scale.instrument.link_state is LinkState.SILENT)
    assert "never a whole frame" in bench.session.scale.instrument.link_words


def test_the_gauges_plug_is_pulled_while_gas_flows(charging):
    charging.model.valve_opening = 0.05
    charging.ports["gauge"].unplug()
    assert charging.until(lambda: charging.stale("gauge")) < AT_ONCE_S
    charging.until(lambda: any("SIGNAL" in a.headline for a in charging.view.alarms))
    with pytest.raises(NotAllowedError, match="capture is locked"):
        charging.act("capture")
    charging.model.valve_opening = 0.0
    charging.ports["gauge"].replug()
    assert charging.until(lambda: not charging.stale("gauge")) < BACK_WITHIN_S
    states = [e.state for e in charging.events(AlarmChanged) if e.alarm == "signal lost"]
    assert states[0] == "active, unacknowledged"
    charging.until(lambda: charging.events(AlarmChanged)[-1].state == "returned, unacknowledged")
    assert charging.session.rebuild.charge is None


def test_a_charge_is_not_told_across_a_gap(charging):
    """What came before the silence and what comes after it are no one curve."""
    charging.until(
        lambda: charging.session.work.charging.settled(charging.clock.seconds()) is not None, 10
    )
    line, judged = charging.lines["gauge"], charging.session.work.charging
    line.silent = True
    charging.until(lambda: charging.stale("gauge"))
    stays(lambda: charging.stale("gauge"), 1.2)
    charging.model.gas_kg *= 0.97
    line.silent = False
    charging.until(lambda: not charging.stale("gauge"))
    charging.until(lambda: judged.settled(charging.clock.seconds()) is None)
    charging.until(
        lambda: charging.session.work.charging.settled(charging.clock.seconds()) is not None, 10
    )
    settled = charging.session.work.charging.settled(charging.clock.seconds())
    assert settled.settled_gauge_pa == pytest.approx(charging.model.gas_gauge_pa, rel=0.004)


# --- the device ----------------------------------------------------------------------------------


def test_the_unit_key_is_pressed_mid_pour(pouring):
    pouring.world.scale.unit = "lb"
    pouring.until(pouring.needs_tare)
    assert pouring.events(TareLost)[-1].reason == Statement.of(
        Code.UNIT_CHANGED, before="g", after="lb"
    )
    pouring.world.scale.unit = "g"
    stays(pouring.needs_tare, 0.3)
    pouring.assert_nothing_is_captured()


def test_a_frozen_scale_is_never_captured_and_proves_no_tare(pouring):
    pouring.lines["scale"].frozen = True
    pouring.pour(0.1)
    pouring.act("capture")
    pouring.until(lambda: "frozen" in " ".join(pouring.view.strip[0].words))
    stays(lambda: not pouring.session.rebuild.captures, 0.5)
    pouring.act("tare")
    pouring.until(lambda: "Not tared" in pouring.view.said)
    assert len(pouring.events(TareProven)) == 1


def test_a_steady_flag_that_is_stuck_captures_no_moving_mass(pouring):
    pouring.lines["scale"].stuck_steady = STEADY_MARKS["scale-status-first"]
    pouring.model.pour_opening = 0.1
    pouring.until(lambda: pouring.model.flow > 0.0)
    pouring.act("capture")
    stays(lambda: not pouring.session.rebuild.captures, 1.0)
    assert pouring.session.scale.instrument.latest().stable, "the scale says so"
    pouring.model.pour_opening = 0.0
    pouring.until(lambda: bool(pouring.session.rebuild.captures))
    shown = pouring.session.rebuild.captures[0].event.shown_kg
    assert shown == pytest.approx(pouring.model.oil_kg, abs=5e-4), "all of it, at rest"


def test_a_slow_drift_is_not_captured(pouring, monkeypatch):
    """0.06 g/s: every window agrees within itself, and no two of them do."""
    scale = pouring.world.scale
    measure = type(scale)._measure

    def drifting(self):
        measure(self)
        self._zero -= 6e-5 * self.interval_s * drift[0]

    drift = [1.0]
    monkeypatch.setattr(type(scale), "_measure", drifting)
    let_pass(1.5)
    pouring.act("capture")
    stays(lambda: not pouring.session.rebuild.captures, 1.5)
    drift[0] = 0.0
    pouring.until(lambda: bool(pouring.session.rebuild.captures))
