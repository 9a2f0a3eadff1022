"""A technician drives a whole unit through the real window by keys and clicks, over real lines."""

import json

import pytest
from PySide6.QtCore import Qt

from benchstation.demo import shop as demo
from benchstation.rebuild.specification import StepKind
from tests.end_to_end.hands import charge, file, fill_gas, function, push, start_unit, to_charge


@pytest.mark.timeout(150)
def test_a_whole_unit_by_keys_and_clicks(person, tmp_path):
    start_unit(person)
    to_charge(person)
    charge(person)
    function(person)
    push(person)
    file(person)
    person.key("F4")
    assert person.window.page == "records"
    records = person.window._made["records"]
    person.until(lambda: len(records.list.rows.rows) == 1)
    records.search.setFocus()
    person.qtbot.keyClicks(records.search, "e2e")
    person.key("Return")
    person.until(lambda: records.detail.shown is not None)
    assert [t.title for t in records.detail.shown.traces] == ["Pour", "Charge"]
    records.folder.setText(str(tmp_path / "out"))
    person.window.setFocus()
    person.key("Ctrl+E")
    written = {".pdf", ".json"}
    person.until(lambda: {p.suffix for p in (tmp_path / "out").glob("*")} == written)
    (exported,) = (tmp_path / "out").glob("*.json")
    record = json.loads(exported.read_text("utf-8"))["record"]
    assert record["serial"] == "E2E-1"
    assert record["decision"] == "pass"
    person.key("F2")
    person.key("Ctrl+L")
    person.until_step("sign-in")
    person.fill(person="anders", pin=demo.PIN)
    person.key("Return")
    person.until_step("filed")
    person.key("F4")
    person.window.setFocus()
    person.key("Ctrl+R")
    person.qtbot.keyClicks(records.qa.question.reason, "record complete")
    person.qtbot.keyClick(records.qa.question.reason, Qt.Key.Key_Return)
    person.until(lambda: records.detail.shown.row.state == "released")
    person.key("F2")
    person.key("Return")
    person.until_step("open")


@pytest.mark.timeout(150)
def test_an_exceeded_limit_is_held_to_acknowledge_with_a_reason(at_charge):
    person = at_charge
    fill_gas(person, 35.3e5)
    window = person.window
    person.until(lambda: bool(window.view.alarms))
    banner = window.banners.banners[0]
    assert banner.isVisible()
    assert "HIGH LIMIT" in window.view.alarms[0].headline
    top = banner.mapTo(window, banner.rect().topLeft()).y()
    assert top > window.strip.geometry().bottom(), "it covers no reading"
    person.key("Space")
    assert not person.station._live.desk.charge_wanted
    episode = window.view.alarms[0].id
    banner.reason.setFocus()
    person.qtbot.keyClicks(banner.reason, "regulator set too high")
    person.qtbot.mousePress(banner.button, Qt.MouseButton.LeftButton)
    person.qtbot.wait(100)
    person.qtbot.mouseRelease(banner.button, Qt.MouseButton.LeftButton)
    person.qtbot.wait(100)
    assert any(a.id == episode and a.hold_label for a in window.view.alarms)
    person.qtbot.mousePress(banner.button, Qt.MouseButton.LeftButton)
    person.qtbot.wait(700)
    person.qtbot.mouseRelease(banner.button, Qt.MouseButton.LeftButton)
    person.until(lambda: not any(a.id == episode and a.hold_label for a in window.view.alarms))
    person.hand.set_vent(0.3)
    person.until(lambda: not any(a.id == episode for a in window.view.alarms))
    desk = person.station._live.desk
    assert desk.rebuild.current.kind is StepKind.CHARGE
    assert desk.rebuild.hold_reasons == ("the high limit was exceeded",)
