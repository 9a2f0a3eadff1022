"""Calibrations: reached from Instruments, a certificate worked out, looked over and signed."""

import pytest
from PySide6.QtWidgets import QApplication

from tests.ui import fake_calibrations
from tests.ui.fake_moments import pour
from tests.ui.fake_station import REFUSED


@pytest.fixture
def calibrations(open_bench):
    bench = open_bench(pour())
    bench.key("F6")
    bench.key("Ctrl+B")
    bench.outer = bench.window.made["instruments"]
    bench.page = bench.outer.calibrations
    return bench


def test_the_help_explains_what_is_seen(calibrations):
    parts = [part for part, _ in calibrations.outer.callouts()]
    assert calibrations.page.list in parts


def test_the_records_of_its_units_are_searched_for(calibrations, qtbot):
    with qtbot.waitSignal(calibrations.outer.wanted, timeout=1000) as found:
        calibrations.key("Ctrl+R")
    assert found.args == ["scale-1"]


def work_out(bench):
    bench.key("Ctrl+N")
    bench.type("C-27")
    bench.page.action_bar.press_primary()
    QApplication.processEvents()


def test_one_key_goes_there_and_back(calibrations):
    page = calibrations.page
    assert page.isVisible()
    assert page.title.text() == "Bench scale"
    assert not calibrations.outer.instruments[0].isVisible()
    calibrations.key("Ctrl+B")
    assert not page.isVisible()
    assert calibrations.outer.instruments[0].isVisible()
    assert calibrations.outer.poll.isActive()


def test_the_history_is_drawn_where_there_is_one(calibrations):
    page = calibrations.page
    assert page.curves.isVisible()
    calibrations.key("Down")
    assert page.title.text() == "Stickstoffbefüllungsdruckaufnehmer"
    assert not page.curves.isVisible()


def test_a_certificate_is_worked_out_before_it_can_be_signed(calibrations, qtbot):
    work_out(calibrations)
    page = calibrations.page
    assert calibrations.station.acted == []
    assert calibrations.station.certificates[0]["certificate"] == "C-27"
    assert calibrations.station.certificates[0]["instrument"] == "scale-1"
    assert page.lines.isVisible()
    assert "nothing is written yet" in calibrations.said
    assert calibrations.outer.unkept()
    calibrations.key("Ctrl+S")
    assert not page.lines.isVisible()
    for text in ("yearly", "271828"):
        calibrations.type(text)
        calibrations.key("Return")
    name, fields = calibrations.station.acted[0]
    assert name == "calibrate"
    assert (fields["certificate"], fields["reason"], fields["signature"]) == (
        "C-27",
        "yearly",
        "271828",
    )
    qtbot.waitUntil(lambda: not calibrations.outer.unkept(), timeout=2000)


def test_what_is_typed_can_be_changed_after_looking_it_over(calibrations):
    work_out(calibrations)
    calibrations.key("Ctrl+E")
    values = calibrations.page.form.values()
    assert values["certificate"] == "C-27"


def test_cancel_leaves_what_was_worked_out(calibrations):
    work_out(calibrations)
    calibrations.key("Esc")
    assert not calibrations.page.lines.isVisible()
    assert calibrations.page.opened.actions[0].id == "calibrate"
    assert not calibrations.outer.unkept()
    assert calibrations.station.acted == []


def test_a_refusal_leads_to_its_field_and_keeps_what_is_typed(calibrations):
    calibrations.key("Ctrl+N")
    calibrations.type("C-27")
    refused = REFUSED
    refused.field = "until"
    calibrations.station.failure = refused
    try:
        calibrations.page.action_bar.press_primary()
        QApplication.processEvents()
    finally:
        refused.field = ""
    rows = calibrations.page.form.rows
    until = next(row for row in rows if row.field.id == "until")
    assert calibrations.window.focusWidget() is until.editor
    assert calibrations.page.form.values()["certificate"] == "C-27"


def test_a_run_is_followed_while_it_is_seen(calibrations, monkeypatch, qtbot):
    monkeypatch.setattr(fake_calibrations, "opened", lambda key: fake_calibrations.running())
    calibrations.page._ask()
    lines = calibrations.page.lines
    qtbot.waitUntil(lines.isVisible, timeout=1000)
    asked = []
    monkeypatch.setattr(calibrations.page, "_ask", lambda: asked.append(1))
    qtbot.waitUntil(lambda: len(asked) > 1, timeout=2000)
    calibrations.key("F2")
    asked.clear()
    qtbot.wait(900)
    assert asked == []
