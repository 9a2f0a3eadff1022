"""Acts on a filed unit: their form in the record's place, of the unit that it was opened for."""

from dataclasses import replace

import pytest

from benchstation.driver_api.errors import StationError
from benchstation.screens.model.elements import ActionView, FieldKind, FieldView, TaskView
from tests.ui.fake_moments import pour
from tests.ui.fake_station import REFUSED, FakeStation, record_detail
from tests.ui.pages.test_records import choose

LEAVE = ActionView("leave", "Cancel", "Esc")
SIGN = ActionView("ship", "Put on record", "Return", primary=True, does="ship")
FORM = TaskView(
    "ship",
    "Ship it",
    "Figures only.",
    fields=(
        FieldView("customer", "Customer", FieldKind.TEXT),
        FieldView("signature", "Your PIN", FieldKind.PIN),
    ),
    actions=(SIGN, LEAVE),
)
SHIP = ActionView("ship", "Ship", "Ctrl+S", does="ship")

RELEASE = ActionView(
    "released", "Release", "Ctrl+R", needs_reason=True, needs_pin=True, does="dispose"
)


@pytest.fixture
def bench(open_bench, qtbot, monkeypatch):
    def open_record(station, unit_id):
        detail = replace(record_detail(unit_id), acts=(SHIP,), forms={"ship": FORM})
        return station._answer(detail)

    monkeypatch.setattr(FakeStation, "open_record", open_record)
    opened = open_bench(replace(pour(), who="quin", barred={}))
    opened.key("F4")
    opened.page = opened.window.made["records"]
    qtbot.waitUntil(lambda: opened.page.list.rows.rowCount() > 0, timeout=1000)
    choose(opened, qtbot, 0)
    return opened


def fill(bench, **texts):
    for row in bench.page.act_panel.form.rows:
        row.put(texts.get(row.field.id, ""))


def done(bench, act):
    return [fields for name, fields in bench.station.acted if name == act]


def test_what_is_filled_in_goes_out_for_the_unit_that_is_open(bench, qtbot):
    bench.key("Ctrl+S")
    assert bench.page.act_panel.isVisible()
    assert not bench.page.detail.isVisible()
    fill(bench, customer="Kim", signature="246810")
    bench.page.act_panel.action_bar.press_primary()
    qtbot.waitUntil(lambda: bench.page.detail.isVisible(), timeout=1000)
    assert done(bench, "ship") == [{"customer": "Kim", "signature": "246810", "unit": "u0"}]


def test_a_refusal_keeps_the_form_but_for_the_pin(bench, qtbot, monkeypatch):
    def refusing(station, act, fields):
        station.acted.append((act, dict(fields)))
        raise REFUSED

    bench.key("Ctrl+S")
    fill(bench, customer="Kim", signature="1")
    monkeypatch.setattr(FakeStation, "act", refusing)
    bench.page.act_panel.action_bar.press_primary()
    qtbot.waitUntil(lambda: bool(done(bench, "ship")), timeout=1000)
    qtbot.wait(20)
    assert bench.page.act_panel.isVisible()
    assert bench.page.act_panel.form.values() == {"customer": "Kim", "signature": ""}


def test_a_form_never_goes_out_for_another_unit(bench, qtbot):
    bench.key("Ctrl+S")
    choose(bench, qtbot, 1)
    assert not bench.page.act_panel.isVisible()
    assert bench.page.detail.isVisible()
    bench.key("Ctrl+S")
    bench.key("Esc")
    bench.key("Esc")
    assert not bench.page.act_panel.isVisible()
    assert done(bench, "ship") == []


def test_that_qa_looked_is_noted_for_each_record_that_opens(bench, qtbot):
    choose(bench, qtbot, 2)
    qtbot.waitUntil(lambda: len(done(bench, "note_shown")) == 2, timeout=1000)
    assert done(bench, "note_shown") == [{"unit": "u0"}, {"unit": "u2"}]


def test_a_wrong_pin_keeps_the_reason_of_qas_word_until_another_unit_opens(
    bench, qtbot, monkeypatch
):
    def refusing(station, act, fields):
        station.acted.append((act, dict(fields)))
        raise StationError("this is not your PIN.", field="signature")

    monkeypatch.setattr(FakeStation, "act", refusing)
    question = bench.page.qa.question
    bench.page.qa.show_actions((RELEASE,))
    bench.key("Ctrl+R")
    question.reason.setText("sound hold test")
    question.pin.setText("999999")
    question.send.click()
    qtbot.waitUntil(lambda: "not your PIN" in bench.page.refusal, timeout=1000)
    assert question.isVisible()
    assert (question.reason.text(), question.pin.text()) == ("sound hold test", "")
    assert bench.window.focusWidget() is question.pin
    choose(bench, qtbot, 1)
    assert not question.isVisible()
    assert len(done(bench, "dispose")) == 1
