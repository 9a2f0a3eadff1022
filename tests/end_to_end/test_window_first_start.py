"""A bench is set up from nothing in the first-start window, by keys and clicks, and then runs."""

import time
from datetime import UTC, datetime

import pytest
from PySide6.QtCore import Qt

from benchstation import app
from benchstation.bench.onboarding.first_start import FirstStart, Outcome, Question, person_id
from benchstation.config.settings import Settings, load_settings
from benchstation.domain.events import BenchSetUpChanged, PersonEnrolled, PinRefused
from benchstation.domain.people import Person, Role, check_pin, hash_pin
from benchstation.link import ports as ports_module
from benchstation.screens.instruments.first_start import FirstStartScreens
from benchstation.screens.model.elements import FieldKind
from benchstation.store.engine import open_store
from benchstation.store.trust import trust_at
from benchstation.ui.shell.first_start import FirstStartWindow
from sample_devices.bench_model import BenchModel
from sample_devices.host import TcpHost
from sample_devices.scale import VirtualScale
from sample_devices.transducer import VirtualTransducer
from tests.bench.onboarding.test_instrument import WEIGHT
from tests.end_to_end.hands import Hands
from tests.waiting import eventually

PIN = "924716"


class Owner(Hands):
    """Someone who unpacks a bench."""

    def __init__(self, qtbot, window, start, home) -> None:
        super().__init__(qtbot, window)
        self.start, self.home = start, home

    @property
    def view(self):
        return self.window.steps.shown

    @property
    def said(self) -> str:
        message = self.window.status_bar.line.message
        return self.window.steps.refusal or (message.text if message else "")

    @property
    def keyboard_at(self) -> str:
        """The field that the keyboard is in."""
        rows = self.window.steps.form.rows
        return next((r.field.id for r in rows if r.editor is self.window.focusWidget()), "")

    def click(self, action: str) -> None:
        steps = self.window.steps
        buttons = [*steps.action_bar.buttons, *(card.button for card in steps.cards.cards)]
        button = next(b for b in buttons if b.action.id == action and b.isVisible())
        self.qtbot.mouseClick(button, Qt.MouseButton.LeftButton)

    def type(self, **values: str) -> None:
        for name, text in values.items():
            row = next(r for r in self.window.steps.form.rows if r.field.id == name)
            if row.field.kind is FieldKind.CHOICE:
                row.editor.setCurrentIndex(row.editor.findData(text))
                continue
            row.editor.setFocus()
            row.editor.clear()
            self.qtbot.keyClicks(row.editor, text)

    def until_at(self, step: str) -> None:
        def there() -> None:
            assert self.view is not None
            assert (self.view.step_id, self.view.busy) == (step, False), self.said

        self.until(there)

    def answer_shop(self) -> None:
        self.until_at("first-choice")
        self.key("2")
        self.until_at("first-shop")
        self.type(shop="Hillside dampers", place="640 m", hose="35 bar", gauge="40 bar")
        self.click("shop")
        self.until_at("first-person")

    def answer_person(self) -> None:
        self.type(name="Ana Bohm", pin=PIN, again=PIN)
        self.key("Return")
        self.until_at("scale-adding-port")

    def prove(self, role: str, url: str, **fields: str) -> None:
        self.until_at(f"{role}-adding-port")
        self.type(address=url)
        self.key("Return")
        self.until_at(f"{role}-adding-match")
        self.key("Return")
        self.until_at(f"{role}-adding-prove")
        self.until(lambda: self.view.big is not None and not self.view.big.stale)
        self.until(lambda: "moving" not in self.view.big.caption)
        if fields:
            self.type(**fields)
        self.key("Return")
        self.until_at(f"{role}-adding-name")
        self.click("name")
        self.until_at(f"{role}-adding-certificate")
        self.key("Ctrl+G")
        self.until_at(f"{role}-adding-save")
        self.key("Return")


@pytest.fixture
def owner(qtbot, tmp_path, monkeypatch):
    home = tmp_path / "home"
    monkeypatch.setenv("BENCHSTATION_HOME", str(home))
    monkeypatch.setattr(ports_module.list_ports, "comports", list)
    start = FirstStart(app.write_bench, listen_s=0.5)
    window = FirstStartWindow(FirstStartScreens(start))
    qtbot.addWidget(window)
    window.resize(1280, 800)
    window.show()
    yield Owner(qtbot, window, start, home)
    window.close()
    start.close()


@pytest.fixture
def devices():
    model = BenchModel(4)
    model.on_pan = "check weight"
    served = [
        TcpHost(VirtualScale(model, rate_hz=50.0, noise_kg=1e-6), time.perf_counter),
        TcpHost(VirtualTransducer(model, rate_hz=50.0), time.perf_counter),
    ]
    yield [host.url for host in served]
    for host in served:
        host.close()


def test_four_questions_set_a_bench_up(owner, devices, monkeypatch):
    scale, gauge = devices
    owner.answer_shop()
    owner.answer_person()
    owner.prove("scale", scale, nominal="200 g", **WEIGHT)
    owner.prove("gauge", gauge)
    owner.until_at("first-review")
    said = " ".join(text for text, _ in owner.view.lines)
    assert "fill tool, regulator outlet" in said
    assert said.count("nothing can be captured") == 2
    assert not owner.home.exists(), "nothing is written before the last screen"
    owner.key("Return")
    owner.until(lambda: owner.start.outcome is Outcome.BENCH)
    owner.until(lambda: not owner.window.isVisible())
    settings = load_settings()
    assert (settings.shop, settings.altitude_m) == ("Hillside dampers", 640.0)
    assert settings.path_ratings == {"fill hose": 35e5, "gauge range": 40e5}
    assert settings.instruments[0].url == scale
    with open_store(settings.data_path / app.STORE_FILE, "bench-1", read_only=True) as store:
        assert store.verify().ok
        (person,) = store.people().values()
        assert set(store.instruments()) == {"scale-1", "gauge-1"}
        kinds = [entry.event.kind for entry in store.entries()]
    assert (person.person_id, person.roles) == ("ana-bohm", ("technician", "lead"))
    assert check_pin(Person("x", "", frozenset({Role.LEAD}), person.pin_hash), PIN)
    assert kinds.count("instrument.checked") == 2
    assert kinds.count("material.received") == 1, "the check weight, for the check of each day"
    # And the real window reads it.
    seen = []

    def look(port, **_):
        eventually(lambda: not any(reading.stale for reading in port.view().strip))
        seen.append(port.view())
        return 0

    monkeypatch.setattr(app, "run_window", look)
    assert app.run_bench(settings) == 0
    assert seen[0].shop == "Hillside dampers"
    assert not any(reading.stale for reading in seen[0].strip)


@pytest.mark.parametrize(
    ("changed", "why"),
    [
        ({"shop": ""}, "the shop has no name"),
        ({"hose": "", "gauge": ""}, "no part of the pressure path has a rating"),
        ({"hose": "35"}, "'35' has no unit"),
        ({"hose": "-3 bar"}, "Shop: fill hose"),
        ({"place": "9 hPa"}, "barometer: "),
        ({"place": "somewhere"}, "barometer: "),
        ({"bench_id": "a b"}, "the bench's name"),
        ({"temperature": "200 °C"}, "air temperature"),
    ],
)
def test_a_wrong_answer_is_refused_at_once(owner, changed, why):
    owner.until_at("first-choice")
    owner.click("set_up")
    owner.until_at("first-shop")
    given = {"shop": "Hillside", "place": "640 m", "hose": "35 bar", "gauge": "40 bar"}
    owner.type(**(given | changed))
    owner.click("shop")
    owner.until(lambda: why in owner.said)
    assert not any(name in owner.said for name in ("path_ratings", "_id", "_pa", "_k:"))
    assert owner.keyboard_at == next(iter(changed)), owner.said
    assert owner.view.step_id == "first-shop"
    kept = {row.field.id: row.value() for row in owner.window.steps.form.rows}
    assert (given | changed).items() <= kept.items()


@pytest.mark.parametrize(
    ("given", "why"),
    [
        ({"name": "A", "pin": PIN, "again": "924717"}, "the two PINs differ"),
        ({"name": "A", "pin": "123456", "again": "123456"}, "too easy"),
        ({"name": "A", "pin": "12", "again": "12"}, "6 to 32 digits"),
        ({"name": "", "pin": PIN, "again": PIN}, "name"),
    ],
)
def test_a_wrong_person_is_refused_and_the_pin_is_typed_anew(owner, given, why):
    owner.answer_shop()
    owner.type(**given)
    owner.click("person")
    owner.until(lambda: why in owner.said)
    assert owner.view.step_id == "first-person"
    kept = {row.field.id: row.value() for row in owner.window.steps.form.rows}
    assert (kept["pin"], kept["again"]) == ("", "")
    assert owner.keyboard_at == ("pin" if given["name"] else "name")


def test_every_question_can_be_gone_back_from(owner, devices):
    owner.answer_shop()
    owner.answer_person()
    owner.key("Esc")  # leaves the field
    owner.key("Esc")
    owner.until_at("first-person")
    owner.key("Esc")
    owner.key("Alt+Left")
    owner.until_at("first-shop")
    kept = {row.field.id: row.value() for row in owner.window.steps.form.rows}
    assert kept["shop"] == "Hillside dampers"
    owner.click("back")
    owner.until_at("first-choice")


def test_from_the_transducer_back_to_the_scale_and_on_again(owner, devices):
    scale, gauge = devices
    owner.answer_shop()
    owner.answer_person()
    owner.prove("scale", scale, nominal="200 g", **WEIGHT)
    owner.until_at("gauge-adding-port")
    owner.click("leave")
    owner.until_at("scale-adding-port")
    owner.prove("scale", scale, nominal="200 g", **WEIGHT)
    owner.prove("gauge", gauge)
    owner.until_at("first-review")
    owner.click("back")
    owner.until_at("gauge-adding-port")
    assert not owner.home.exists()


def test_one_port_is_not_taken_twice_and_a_scale_is_no_gauge(owner, devices):
    scale, _ = devices
    owner.answer_shop()
    owner.answer_person()
    owner.prove("scale", scale, nominal="200 g", **WEIGHT)
    owner.until_at("gauge-adding-port")
    owner.type(address=scale)
    owner.key("Return")
    owner.until_at("gauge-adding-listen")
    assert "no profile reads them" in owner.view.lines[0][0]


def test_nothing_is_kept_of_a_window_that_is_closed(owner):
    owner.answer_shop()
    owner.window.close()
    assert owner.start.outcome is Outcome.NOTHING
    assert not owner.home.exists()


def test_help_and_theme(owner):
    owner.until_at("first-choice")
    owner.key("F1")
    assert owner.window.pages.currentIndex() == 1
    owner.key("F1")
    assert owner.window.pages.currentIndex() == 0
    before = owner.window.theme
    owner.key("F9")
    assert owner.window.theme is not before


def test_the_demonstration_is_chosen_by_one_key(qtbot):
    start = FirstStart(lambda *_: None)
    window = FirstStartWindow(FirstStartScreens(start))
    qtbot.addWidget(window)
    window.show()
    owner = Owner(qtbot, window, start, None)
    owner.until_at("first-choice")
    owner.key("1")
    owner.until(lambda: start.question is Question.DONE)
    assert start.outcome is Outcome.DEMO
    owner.until(lambda: not window.isVisible())
    start.close()


@pytest.mark.parametrize(
    ("outcome", "started"),
    [(Outcome.NOTHING, []), (Outcome.DEMO, ["demo"])],
)
def test_what_comes_after_it(monkeypatch, outcome, started):
    begun = []
    monkeypatch.setattr(app, "first_start", lambda: outcome)
    monkeypatch.setattr(app, "run_demo", lambda: begun.append("demo") or 0)
    assert app.run_bench(Settings()) == 0
    assert begun == started


@pytest.mark.parametrize(
    ("name", "wanted"),
    [("Ána Böhm", "ana-bohm"), ("  Al  O'Neil ", "al-o-neil"), ("李", "first"), ("7", "7")],
)
def test_a_persons_name_in_the_records(name, wanted):
    assert person_id(name) == wanted


@pytest.fixture
def founded(qtbot, tmp_path, monkeypatch):
    """The window of a bench whose settings are lost, and whose records are there."""
    home = tmp_path / "home"
    monkeypatch.setenv("BENCHSTATION_HOME", str(home))
    monkeypatch.setattr(ports_module.list_ports, "comports", list)
    lead = PersonEnrolled("ana", "Ana Bohm", ("technician", "lead"), hash_pin(PIN))
    qa = PersonEnrolled("quinn", "Quinn", ("qa",), hash_pin("975318"))
    with open_store(home / "data" / app.STORE_FILE, "bench-1", trust=trust_at(home)) as store:
        store.append([lead, qa], person="set-up", utc=datetime.now(UTC))
    start = FirstStart(app.write_bench, listen_s=0.5, founded=app.FoundedRecords())
    window = FirstStartWindow(FirstStartScreens(start))
    qtbot.addWidget(window)
    window.resize(1280, 800)
    window.show()
    yield Owner(qtbot, window, start, home)
    window.close()
    start.close()


def test_lost_settings_of_a_founded_bench_are_answered_by_a_lead(founded, devices):
    founded.answer_shop()
    assert [field.id for field in founded.view.fields] == ["name", "reason", "pin"]
    for given, why in (
        ({"name": "Ana Bohm", "reason": "", "pin": PIN}, "no reason"),
        ({"name": "Quinn", "reason": "new computer", "pin": "975318"}, "is no lead"),
        ({"name": "Ana Bohm", "reason": "new computer", "pin": "135791"}, "not the PIN"),
    ):
        founded.type(**given)
        founded.click("person")
        founded.until(lambda why=why: why in founded.said)
    founded.type(name="Ana Bohm", reason="new computer", pin=PIN)
    founded.click("person")
    founded.until_at("scale-adding-port")
    founded.prove("scale", devices[0], nominal="200 g", **WEIGHT)
    founded.prove("gauge", devices[1])
    founded.until_at("first-review")
    said = [text for text, _ in founded.view.lines]
    assert any("Ratings: fill hose 35 bar" in text for text in said), said
    assert any("new gauge gauge-1" in text for text in said)
    founded.key("Return")
    founded.until(lambda: founded.start.question is Question.DONE)
    with open_store(founded.home / "data" / app.STORE_FILE, "", read_only=True) as store:
        people = [e.event.person_id for e in store.entries(kind=PersonEnrolled.kind)]
        assert people == ["ana", "quinn"]
        (signed,) = store.entries(kind=BenchSetUpChanged.kind)
        assert (signed.person, signed.event.reason) == ("ana", "new computer")
        assert len(store.entries(kind=PinRefused.kind)) == 1
