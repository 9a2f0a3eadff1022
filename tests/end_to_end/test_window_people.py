"""People at the real window: badges, a hand-over in mid-pour, leaving, PINs, the last lead."""

import random

import pytest
from PySide6.QtCore import Qt

from benchstation.bench.tare_loss import lose_tare
from benchstation.bench.targets import present_oil_target
from benchstation.demo import shop as demo
from benchstation.demo.recording import typed_at
from benchstation.domain.statements import Code, Statement
from benchstation.quantities.units import UnitSystem
from benchstation.ui.shell.theme import DARK, LIGHT
from tests.end_to_end.conftest import PACE
from tests.end_to_end.hands import Person, tare
from tests.ui.scanner import scan


class People(Person):
    """Hands on keyboard and scanner, eyes on the window."""

    @property
    def page(self):
        return self.window.made[self.window.page]

    def type(self, *texts: str) -> None:
        """Type into one field after the other, Enter between them and at the end."""
        for text in texts:
            self.qtbot.keyClicks(self.window.focusWidget(), text)
            self.key("Return")

    def badge(self, who: str) -> None:
        # A text field would take it, as it takes any scan.
        if self.window.view.who:
            self.window.setFocus()
        scan(self.window, demo.BADGES[who])
        self.until(lambda: self.window.view.who == who)

    def there(self, who: str) -> None:
        self.until(lambda: self.window.view.who == who)

    def turn_to(self, key: str) -> None:
        self.key(key)
        self.until(lambda: self.page.opened is not None)

    def until_row(self, key: str) -> None:
        self.until(lambda: self.page.opened.row.key == key)

    def open_row(self, key: str) -> None:
        self.page.list.choose(lambda row: row.key == key)
        self.until(lambda: self.page.opened.row.key == key)


@pytest.fixture
def people(person):
    return People(person.qtbot, person.window, person.station, person.hand)


def units_shown(window) -> list[str]:
    return [reading.unit for reading in window.view.strip]


def pour_half(people) -> None:
    """Bring the route to the oil by the bench, then tare and pour by hand."""
    session = people.session

    def act(action: str, **fields: str) -> None:
        people.station.act(action, fields).result(5)

    chance = random.Random(7)
    act("open", serial="E2E-7", specification="mr-46-front", lot="L-0417")
    while session.rebuild.current.kind.value != "weigh":
        step = session.rebuild.current
        notes = {note.id: "x" for note in step.notes}
        if step.kind.value == "release":
            people.until(lambda: session.gauge.instrument.latest().value > 1e5)
            people.hand.set_vent(0.6)
            people.until(lambda: session.gauge.instrument.latest().value < 1000.0)
            people.hand.set_vent(0.0)
        act("sign", **typed_at(session, session.rebuild, step, notes, chance))
    act("confirm_lot", lot="L-0417")
    tare(people, "body")
    pour_to(people, 0.1)


def pour_to(people, goal_kg: float) -> None:
    scale = people.session.scale.instrument
    while (left := goal_kg - scale.latest().value) > 0.0008:
        people.hand.set_pour(min(1.0, 0.02 + left / 0.4))
        people.qtbot.wait(5)
    people.hand.set_pour(0.0)


@pytest.mark.timeout(120)
def test_the_second_person_takes_over_in_mid_pour_and_signs_it(people):
    people.badge("kofler")
    pour_half(people)
    weighing, session = people.session.work.weighing, people.session
    people.hand.set_pour(0.05)
    people.badge("wieland")
    people.hand.set_pour(0.0)
    assert session.work.weighing is weighing
    assert weighing.tared
    pour_to(people, present_oil_target(session).pour_shown_kg)
    people.key("Space")
    people.until(lambda: session.rebuild.current.kind.value == "bleed")
    signed = session.store.entries(kind="step.signed")
    assert [entry.person for entry in signed[:-1]] == ["kofler"] * (len(signed) - 1)
    assert signed[-1].person == "wieland"
    assert people.window.view.person == "Jonas Wieland"


@pytest.mark.timeout(120)
def test_by_pin_beside_the_pour_and_back_again(people):
    people.badge("kofler")
    pour_half(people)
    panel = people.window.bench.switch
    people.key("Ctrl+W")
    people.until(panel.isVisible)
    people.hand.set_pour(0.05)
    before = people.session.scale.instrument.latest().value
    people.until(lambda: people.session.scale.instrument.latest().value > before + 0.005)
    people.hand.set_pour(0.0)
    people.key("Esc")
    people.until(lambda: not panel.isVisible())
    assert people.window.view.who == "kofler"
    people.key("Ctrl+W")
    people.until(panel.isVisible)
    # A scan does it too, though the form has the keyboard.
    people.badge("wieland")
    people.until(lambda: not panel.isVisible())
    assert people.session.work.weighing.tared


@pytest.mark.timeout(120)
def test_whoever_leaves_a_pour_is_signed_out_only_after_it(people):
    people.badge("kofler")
    pour_half(people)
    people.session.signed_in.idle.sign_out_after(40.0)
    people.qtbot.wait(int(60_000 / PACE))
    assert people.window.view.who == "kofler"
    assert not people.window.view.leaving
    step = people.session.rebuild.current.id
    # The tare goes, and with it what held the person.
    people.station._put(lambda: lose_tare(people.session, Statement(Code.TARED_AGAIN)) or "")
    people.said("is signed out in")
    people.there("")
    assert people.session.rebuild.current.id == step
    assert people.window.view.task.step_id == "sign-in"


@pytest.mark.timeout(60)
def test_a_key_in_the_last_half_minute_keeps_the_person(people):
    people.badge("kofler")
    people.session.signed_in.idle.sign_out_after(60.0)
    people.said("is signed out in")
    people.qtbot.keyClick(people.window.windowHandle(), "x")
    people.until(lambda: not people.window.view.leaving, 2)
    assert people.window.view.who == "kofler"


@pytest.mark.timeout(60)
def test_a_lead_enrols_someone_who_scans_a_badge_of_their_own(people):
    people.badge("oberhauser")
    people.turn_to("F7")
    people.key("Ctrl+N")
    people.type("Ines Aller")
    for _ in range(3):
        people.key("Return")
    people.type("314159", "314159")
    people.type(demo.PIN)
    people.said("Ines Aller is enrolled.")
    people.until_row("ines-aller")
    people.key("F2")
    people.key("Ctrl+L")
    people.there("")
    people.until(lambda: people.window.view.task.step_id == "sign-in")
    name = people.window.bench.task.form.rows[0].editor
    name.setFocus()
    name.setCurrentIndex(name.findData("ines-aller"))
    people.key("Return")
    people.type("314159")
    people.there("ines-aller")
    people.turn_to("F7")
    people.open_row("ines-aller")
    people.until(lambda: "register_badge" in people.page.opened.forms)
    people.key("Ctrl+G")
    for _ in range(2):
        scan(people.window, "locker-0815")
    people.type("314159")
    people.said("signs you in from now on")
    people.badge("kofler")
    scan(people.window, "locker-0815")
    people.there("ines-aller")
    told = [(e.kind, e.person) for e in people.session.store.entries()]
    kinds = [one for one in told if not one[0].startswith("person.signed_")]
    assert kinds[-2:] == [("person.enrolled", "oberhauser"), ("person.badge", "ines-aller")]


@pytest.mark.timeout(60)
def test_a_changed_pin_is_asked_for_from_then_on(people):
    people.badge("kofler")
    people.turn_to("F7")
    people.open_row("kofler")
    people.key("Ctrl+P")
    people.type("999999", "271828", "271828")
    people.said("this is not your PIN")
    people.page.form.rows[0].editor.setFocus()
    people.type(demo.PIN, "271828", "271828")
    people.said("Your PIN is changed.")
    people.key("F2")
    people.key("Ctrl+L")
    people.until(lambda: people.window.view.task.step_id == "sign-in")
    for pin, who in ((demo.PIN, ""), ("271828", "kofler")):
        name, field = (row.editor for row in people.window.bench.task.form.rows)
        name.setCurrentIndex(name.findData("kofler"))
        field.setFocus()
        people.type(pin)
        if not who:
            people.said("not the PIN")
        people.there(who)


@pytest.mark.timeout(60)
def test_the_last_lead_is_refused_and_told_why(people):
    people.badge("oberhauser")
    people.turn_to("F7")
    people.open_row("oberhauser")
    people.key("Ctrl+Delete")
    people.said("the last bench lead stays")
    people.key("Ctrl+R")
    people.until(lambda: people.page.form_open is not None)
    lead = next(row.editor for row in people.page.form.rows if row.field.id == "lead")
    people.window.setFocus()
    people.qtbot.mouseClick(lead, Qt.MouseButton.LeftButton)
    people.page.form.rows[-1].editor.setFocus()
    people.type(demo.PIN)
    people.said("last bench lead who can sign in")
    assert "lead" in people.session.person.roles


@pytest.mark.timeout(60)
def test_units_and_theme_go_with_the_person_and_pages_follow(people):
    window = people.window
    people.badge("kofler")
    people.key("F9")
    people.until(lambda: people.session.shop.people["kofler"].preferences.theme == "light")
    people.key("Ctrl+U")
    people.until(lambda: people.station.display is UnitSystem.INCH_POUND)
    people.until(lambda: "psi gauge" in units_shown(window))
    people.badge("wieland")
    people.until(lambda: "bar gauge" in units_shown(window))
    people.until(lambda: window.theme is DARK)
    people.turn_to("F11")
    people.open_row("L-0417")
    before = people.session.store.lots()
    people.badge("kofler")
    people.until(lambda: window.theme is LIGHT)
    people.until(lambda: "psi gauge" in units_shown(window))
    assert people.session.store.lots() == before


@pytest.mark.timeout(60)
def test_a_lot_is_received_used_and_found_again_in_records(people):
    people.badge("oberhauser")
    people.turn_to("F11")
    people.key("Ctrl+N")
    people.type("L-0500", "ISO VG 15 damper oil", "0.8520", "0.0003", "", "certificate 88")
    people.type("Oil trade", "2027-01-31")
    people.said("Lot L-0500 is received")
    people.until_row("L-0500")
    people.key("Ctrl+E")
    people.said("Lot L-0500 is used up")
    people.until(lambda: people.page.opened.row.state == "used up")
    people.key("Ctrl+R")
    assert people.window.page == "records"
    assert people.page.search.text() == 'lot "L-0500"'
