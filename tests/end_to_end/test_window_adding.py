"""A bench lead adds instruments in the real window, by keys and clicks, over real lines."""

import time
from datetime import UTC, datetime

import pytest
from PySide6.QtCore import Qt

from benchstation.bench.assembly import bench_from
from benchstation.bench.onboarding.instrument import Adding
from benchstation.bench.onboarding.refitting import BenchKeeper
from benchstation.clock import running_clock
from benchstation.demo import shop as demo
from benchstation.demo.materials import WEIGHT
from benchstation.demo.world import make_world, serve_world
from benchstation.domain.events import InstrumentChecked, InstrumentRegistered
from benchstation.link import ports as ports_module
from benchstation.screens.instruments.onboarding import AddingScreens
from benchstation.screens.records.page import Records
from benchstation.screens.service import Station
from benchstation.store.engine import open_store
from benchstation.ui.shell.window import Window
from sample_devices.bench_model import BenchModel
from sample_devices.host import TcpHost, serve
from sample_devices.protocol_bench import BenchPort
from sample_devices.scale import VirtualScale
from sample_devices.transducer import VirtualTransducer
from tests.bench.onboarding.test_instrument import WEIGHT as NEW_WEIGHT
from tests.end_to_end.hands import Hands

LISTEN_S = 0.5


class Lead(Hands):
    """Eyes on the window, hands on keyboard and mouse."""

    def __init__(self, qtbot, window, live, kept, served, adding) -> None:
        super().__init__(qtbot, window)
        self.live, self.kept, self.served, self.adding = live, kept, served, adding

    @property
    def page(self):
        return self.window.made["instruments"]

    @property
    def steps(self):
        return self.page.steps

    @property
    def view(self):
        return self.steps.shown

    @property
    def said(self) -> str:
        message = self.window.status_bar.line.message
        refused = self.steps.refusal or self.window.made[self.window.page].refusal
        return refused or (message.text if message else "")

    def click(self, action: str) -> None:
        button = next(b for b in self.steps.action_bar.buttons if b.action.id == action)
        assert button.isVisible()
        self.qtbot.mouseClick(button, Qt.MouseButton.LeftButton)

    def type(self, **values: str) -> None:
        for name, text in values.items():
            row = next(r for r in self.steps.form.rows if r.field.id == name)
            if row.field.kind.value == "choice":
                row.editor.setCurrentIndex(row.editor.findData(text))
                continue
            if row.field.kind.value == "check":
                self.qtbot.mouseClick(row.editor, Qt.MouseButton.LeftButton)
                continue
            row.editor.setFocus()
            row.editor.clear()
            self.qtbot.keyClicks(row.editor, text)

    def until_at(self, stage: str) -> None:
        def there() -> None:
            assert self.view is not None, self.said
            assert (self.view.step_id, self.view.busy) == (f"adding-{stage}", False), self.said

        self.until(there)

    def sign_in(self, person: str) -> None:
        self.window.bridge.act(
            "sign_in", {"person": person, "pin": demo.PIN}, lambda _: None, self.window.tell
        )
        # What is offered follows the person with the next moment that is shown.
        self.until(lambda: self.window.view.who == person)

    def begin(self) -> None:
        self.key("F6")
        self.key("Ctrl+N")
        self.until(lambda: self.steps.isVisible())
        self.until_at("port")

    def listen_at(self, url: str, stage: str = "match") -> None:
        self.type(address=url)
        self.key("Return")
        self.until_at(stage)

    def facts(self):
        return self.live.session.store.entries(kind=InstrumentRegistered.kind)


@pytest.fixture
def lead(qtbot, tmp_path, monkeypatch):
    monkeypatch.setenv("BENCHSTATION_HOME", str(tmp_path / "home"))
    monkeypatch.setattr(ports_module.list_ports, "comports", list)
    monkeypatch.setattr("benchstation.devices.discovery.ANSWER_WAIT_S", 0.05)
    with open_store(tmp_path / "s.sqlite", demo.BENCH) as store:
        demo.found(store, datetime.now(UTC))
        clock = running_clock()
        world = make_world(8, demo.AIR)
        served = serve_world(world, clock.seconds)
        live = bench_from(store, demo.demo_shop(store), clock, lambda: demo.AIR)
        station = Station(live, Records(store))
        session, kept = live.session, {}
        urls = {"scale-1": served.scale.url, "gauge-1": served.gauge.url}
        keep = lambda settings, old: kept.update({settings.role: settings})  # noqa: E731
        keeper = BenchKeeper(session, station.ask, keep, urls)
        adding = Adding(keeper, listen_s=LISTEN_S)
        session.scale.instrument.connect(served.scale.url)
        session.gauge.instrument.connect(served.gauge.url)
        session.watch.arm()
        station.start()
        window = Window(station, adding=AddingScreens(adding))
        qtbot.addWidget(window)
        window.resize(1280, 800)
        window.show()
        window.start()
        qtbot.waitUntil(lambda: window.view is not None)
        yield Lead(qtbot, window, live, kept, served, adding)
        window.close()
        adding.close()
        station.close()
        for fitted in session.instruments:
            fitted.instrument.stop()
        served.close()


@pytest.fixture
def device():
    """A device on a line that the bench does not know yet."""
    made = []

    def start(shape="scale-unit-when-stable", host=serve, kind=VirtualScale):
        model = BenchModel(3)
        model.on_pan = "check weight"
        # As quiet as a draught shield makes it: the check allows five steps.
        quiet = {"noise_kg": 1e-6} if kind is VirtualScale else {}
        made.append(host(kind(model, shape, rate_hz=50.0, **quiet), time.perf_counter))
        return made[-1].url

    yield start
    for host in made:
        host.close()


def bench_port(device, clock):
    return BenchPort("new", device, clock)


@pytest.mark.parametrize("host", [serve, TcpHost, bench_port])
def test_a_scale_is_replaced_live(lead, device, host):
    lead.sign_in(demo.LEAD)
    url = device(host=host)
    lead.begin()
    lead.listen_at(url)
    assert lead.view.rows[0].key == "scale-unit-when-stable"
    assert lead.view.raw_lines
    lead.key("Return")
    lead.until_at("prove")
    lead.until(lambda: lead.view.big.number == "200.00" and not lead.view.big.stale)
    lead.type(weight=WEIGHT)
    lead.click("check")
    lead.until_at("name")
    assert lead.facts()[-1].event.instrument_id != "scale-2", "nothing is kept before the end"
    lead.type(
        place="scale-1",
        title="New scale",
        serial="A7",
    )
    lead.click("name")
    lead.until_at("certificate")
    lead.type(
        certificate="K-9",
        laboratory="Eichlabor",
        on="2026-01-02",
        until="2099-01-02",
        u="0.02 g",
    )
    lead.click("certificate")
    lead.until_at("save")
    assert lead.kept == {}
    lead.click("save")
    lead.until(lambda: lead.page.fitted.isVisible())
    registered = lead.facts()[-1].event
    assert (registered.instrument_id, registered.role) == ("scale-2", "scale")
    assert registered.u_calibration == pytest.approx(2e-5)
    assert lead.facts()[-1].person == demo.LEAD
    assert lead.kept["scale"].url == url
    assert [e.event.instrument_id for e in lead.facts() if e.event.role == "scale"] == [
        "scale-1",
        "scale-2",
    ]
    checked = lead.live.session.store.entries(kind=InstrumentChecked.kind)[-1].event
    assert (checked.instrument_id, checked.passed) == ("scale-2", True)
    session = lead.live.session
    lead.until(lambda: session.scale.good_value(session.clock.seconds()) is not None)
    assert session.scale.good_value(session.clock.seconds()) == pytest.approx(0.2, abs=1e-3)
    lead.until(lambda: "New scale" in lead.page.instruments[0].title.text())
    assert not session.scale.unfit(session.clock.utc().date())


def test_a_gauge_is_replaced_and_the_guard_listens_to_it(lead, device):
    lead.sign_in(demo.QA)
    lead.begin()
    lead.listen_at(device("gauge-value-unit", kind=VirtualTransducer))
    assert lead.view.rows[0].key == "gauge-value-unit"
    lead.key("Return")
    lead.until_at("prove")
    assert "all pressure out" in lead.view.instruction
    lead.until(lambda: not lead.view.big.stale)
    lead.key("Return")
    lead.until_at("name")
    lead.type(place="gauge-1")
    lead.click("name")
    lead.until_at("certificate")
    lead.key("Ctrl+G")
    lead.until_at("save")
    old = lead.live.session.gauge
    lead.key("Return")
    lead.until(lambda: lead.page.fitted.isVisible())
    session = lead.live.session
    assert session.gauge is not old
    assert "Capture is locked" in session.message.text
    assert "no calibration" in session.message.text
    assert old.instrument.taps == []
    tapped = []
    session.gauge.instrument.taps.append(tapped.append)
    assert session.watch.gauges == ("gauge-2",)
    lead.until(lambda: len(tapped) > 3)
    lead.until(lambda: session.watch.snapshot().gauge_pa is not None)
    assert session.watch.snapshot().alarms == ()


def test_a_technician_may_not(lead):
    lead.sign_in(demo.TECHNICIANS[0])
    lead.key("F6")
    lead.key("Ctrl+N")
    lead.until(lambda: lead.said == "Add an instrument: a bench lead or QA does this")
    assert not lead.steps.isVisible()


def test_not_while_a_unit_is_on_the_bench(lead, device):
    lead.sign_in(demo.LEAD)
    lead.begin()
    fields = {"serial": "U-1", "specification": "mr-46-front", "lot": "L-0417"}
    lead.window.bridge.act("open", fields, lambda _: None, lead.window.tell)
    lead.until(lambda: lead.live.session.rebuild is not None)
    lead.type(address=device())
    lead.key("Return")
    lead.until(lambda: "U-1 is on the bench" in lead.said)
    assert lead.view.step_id == "adding-port"


def test_a_device_that_must_be_asked_is_asked_with_consent_only(lead, device):
    lead.sign_in(demo.LEAD)
    lead.begin()
    lead.listen_at(device("scale-request-reply", host=TcpHost), stage="listen")
    assert lead.view.lines[0][0] == "Nothing came."
    lead.click("ask")
    lead.until(lambda: "nothing was tried" in lead.said)
    lead.type(consent="yes")
    lead.click("ask")
    lead.until_at("match")
    assert lead.view.rows[0].key == "scale-request-reply"


def test_a_failed_check_is_told_and_may_be_gone_on_with(lead, device):
    lead.sign_in(demo.LEAD)
    lead.begin()
    lead.listen_at(device())
    lead.key("Return")
    lead.until_at("prove")
    lead.until(lambda: lead.view.big.number == "200.00" and not lead.view.big.stale)
    lead.key("Ctrl+G")
    assert "check it first" in lead.said
    lead.type(nominal="100 g", **NEW_WEIGHT)
    lead.key("Return")
    lead.until(lambda: "must show 100.00 g" in lead.view.lines[0][0])
    lead.key("Ctrl+G")
    lead.until_at("name")
    lead.type(place="scale-1")
    lead.click("name")
    lead.until_at("certificate")
    lead.key("Ctrl+G")
    lead.until_at("save")
    lead.key("Return")
    lead.until(lambda: lead.page.fitted.isVisible())
    session = lead.live.session
    assert session.scale.registered.instrument_id == "scale-2"
    assert not session.scale.checked.passed


def test_leaving_in_the_middle_takes_back_the_port(lead):
    """The bench's own scale is listened to, and then left as it was."""
    lead.sign_in(demo.LEAD)
    lead.begin()
    session = lead.live.session
    before = session.scale.instrument.statistics.connects
    lead.listen_at(lead.served.scale.url)
    lead.key("Esc")
    lead.until(lambda: lead.page.fitted.isVisible())
    assert "nothing was changed" in lead.said
    lead.until(lambda: session.scale.good_value(session.clock.seconds()) is not None)
    assert session.scale.instrument.statistics.connects >= before
    assert len(lead.facts()) == 2
    assert lead.kept == {}


def test_listening_can_be_stopped(lead, device, monkeypatch):
    monkeypatch.setattr(lead.adding, "listen_s", 60.0)
    lead.sign_in(demo.LEAD)
    lead.begin()
    lead.type(address=device())
    lead.key("Return")
    lead.until(lambda: lead.view.busy and len(lead.view.raw_lines) > 2)
    lead.key("Ctrl+S")
    lead.until_at("listen")
    assert "Stopped" in lead.said


def test_a_wrong_calibration_is_refused_and_what_was_typed_is_kept(lead, device):
    lead.sign_in(demo.LEAD)
    lead.begin()
    lead.listen_at(device())
    lead.key("Return")
    lead.until_at("prove")
    lead.until(lambda: lead.view.big.number == "200.00" and not lead.view.big.stale)
    lead.type(weight=WEIGHT)
    lead.click("check")
    lead.until_at("name")
    lead.click("name")
    lead.until_at("certificate")
    given = {"certificate": "K-9", "on": "2026-01-02", "until": "2027-01-02"}
    given |= {"laboratory": "Eichlabor"}
    for u, why in (("30 mbar", "mass"), ("", "neither points nor a gain"), ("0.02 g", "")):
        lead.type(**given, u=u)
        lead.click("certificate")
        if why:
            lead.until(lambda why=why: why in lead.said)
            assert lead.view.step_id == "adding-certificate"
    lead.until_at("save")
    lead.key("Alt+Left")
    lead.until_at("certificate")
    kept = {row.field.id: row.value() for row in lead.steps.form.rows}
    assert given.items() <= kept.items()


def test_a_port_that_is_not_there(lead):
    lead.sign_in(demo.LEAD)
    lead.begin()
    lead.type(address="/dev/no-such-port")
    lead.key("Return")
    lead.until(lambda: "there is no such port" in lead.said)
    lead.until_at("port")


def test_an_alarm_stands_above_it(lead):
    lead.sign_in(demo.LEAD)
    lead.begin()
    lead.served.gauge.unplug()
    lead.until(lambda: lead.window.banners.isVisible())
    assert "SIGNAL LOST" in lead.window.view.alarms[0].headline
    assert lead.steps.isVisible()
