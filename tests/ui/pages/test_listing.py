"""People and Materials: rows, what is open, and forms that come, are left, and are sent."""

import pytest

from benchstation.ui.shell.theme import TARGET_PX
from tests.ui import fake_lists
from tests.ui.fake_moments import pour
from tests.ui.fake_station import REFUSED


@pytest.fixture
def people(open_bench):
    bench = open_bench(pour())
    bench.key("F7")
    bench.page = bench.window.made["people"]
    return bench


@pytest.fixture
def materials(open_bench):
    bench = open_bench(pour())
    bench.key("F11")
    bench.page = bench.window.made["materials"]
    return bench


def fill(bench, *texts: str) -> None:
    for text in texts:
        bench.type(text)
        bench.key("Return")


def test_the_first_is_open_and_arrows_open_others(people):
    assert people.page.title.text() == "Alex Sample"
    people.key("Down")
    assert people.page.title.text() == "Maximiliane Oberwiesenfelderhuber"
    assert people.window.focusWidget() is people.page.list


def test_a_form_takes_the_keyboard_and_is_sent_with_whose_it_is(people):
    people.key("Ctrl+P")
    assert people.page.form_open is not None
    fill(people, "246810", "271828", "271828")
    name, fields = people.station.acted[0]
    assert name == "change_pin"
    assert fields == {"person": "p1", "old": "246810", "pin": "271828", "pin_again": "271828"}
    assert people.said == "change_pin: done."
    assert people.page.form_open is None
    assert not people.page.form.rows


def test_a_refusal_keeps_the_form_without_its_secrets(people):
    people.key("Ctrl+N")
    people.type("Ines")
    people.station.failure = REFUSED
    people.page.action_bar.press_primary()
    people.show(pour())
    assert people.said == str(REFUSED)
    values = people.page.form.values()
    assert (values["name"], values["pin"]) == ("Ines", "")
    people.station.failure = None
    people.page.action_bar.press_primary()
    people.show(pour())
    assert people.station.acted[-1][1]["name"] == "Ines"


def test_esc_leaves_the_field_then_the_form(people):
    people.key("Ctrl+N")
    people.key("Esc")
    assert people.page.form_open is not None
    people.key("Esc")
    assert people.page.form_open is None
    assert people.station.acted == []
    assert people.page.title.text() == "Alex Sample"


def test_what_needs_a_reason_asks_for_it(people):
    people.key("Ctrl+Delete")
    people.type("moved away")
    people.key("Return")
    assert people.station.acted == [("take_off", {"person": "p1", "reason": "moved away"})]


def test_a_disabled_action_says_why(people):
    people.key("Down")
    people.key("Ctrl+Delete")
    assert people.said == "Mark as left: the last bench lead stays"
    assert people.station.acted == []


def test_choosing_another_row_leaves_the_form(people):
    people.key("Ctrl+N")
    people.page.list.choose(lambda row: row.key == "p3")
    assert people.page.form_open is None


def test_only_the_row_that_is_chosen_opens(people):
    people.station.later = True
    people.page.list.choose(lambda row: row.key == "p2")
    people.page.list.choose(lambda row: row.key == "p3")
    people.station.settle()
    people.window.bridge.refresh()
    people.show(pour())
    assert people.page.title.text() == "Robin Sample"


def test_forms_and_actions_are_as_high_as_a_finger(people):
    people.key("Ctrl+N")
    for row in people.page.form.rows:
        assert row.editor.height() >= TARGET_PX - 4
    for button in people.page.action_bar.buttons[:2]:
        assert button.height() >= TARGET_PX


def test_a_lots_units_are_looked_for_in_records(materials):
    materials.station.records[3:5] = []
    materials.key("Ctrl+R")
    assert materials.window.page == "records"
    assert materials.station.found[-1] == ('lot "L-0417"', "")


def test_a_lot_is_used_up_or_withdrawn(materials):
    materials.key("Ctrl+E")
    assert materials.station.acted == [("use_up", {"lot_open": "L-0417"})]
    materials.key("Ctrl+Delete")
    materials.type("water in it")
    materials.key("Return")
    assert materials.station.acted[1] == (
        "withdraw_lot",
        {"lot_open": "L-0417", "reason": "water in it"},
    )


def test_a_bottle_is_worked_out_beside_the_list(materials):
    materials.key("Down")
    materials.key("Ctrl+B")
    materials.key("Down")
    materials.key("Return")
    fill(materials, "10 L", "150 bar")
    sent = {"lot_open": "bottle", "family": "f", "volume": "10 L", "gauge": "150 bar"}
    assert materials.station.bottles == [sent]
    assert materials.station.acted == []
    assert [term.shown.value for term in materials.page.terms.terms] == ["856"]
    assert materials.page.form_open is None


def test_everything_can_be_named_by_a_screen_reader(people, materials):
    for page in (people.page, materials.page):
        assert page.list.accessibleName()
        assert page.list.rows.data(page.list.rows.index(0, 0)).startswith(
            (fake_lists.PEOPLE[0].title, fake_lists.MATERIALS[0].title)
        )
