"""A badge that is scanned while text is typed becomes none; a lot or serial does, as ever."""

from dataclasses import replace

import pytest
from PySide6.QtCore import Qt
from PySide6.QtTest import QTest
from PySide6.QtWidgets import QApplication

from benchstation.screens.model.elements import FieldKind, FieldView
from tests.ui.fake_moments import intake, pour, two_alarms
from tests.ui.fake_station import REFUSED
from tests.ui.scanner import scan
from tests.ui.waiting import comes_and_stays

BADGE, LOT = "robin-0001", "K-12-RS"
ASKED = ("badge", {"badge": BADGE, "or": "the text's"})


def lines_and_text():
    fields = (
        FieldView("note", "Note", FieldKind.TEXT),
        FieldView("more", "More", FieldKind.LINES),
        FieldView("lot", "Lot", FieldKind.TEXT),
    )
    return replace(intake(), task=replace(intake().task, fields=fields))


@pytest.fixture
def bench(open_bench):
    made = open_bench(lines_and_text())
    made.station.badges = {BADGE}
    return made


def acted(bench) -> list[str]:
    return [name for name, _ in bench.station.acted if name != "typed"]


@pytest.mark.parametrize("end", [True, False])
@pytest.mark.parametrize("begun", ["", "weeping at "])
def test_a_badge_in_a_reason_is_the_badge_and_sends_nothing(open_bench, qtbot, begun, end):
    bench = open_bench(pour())
    bench.station.badges = {BADGE}
    bench.window.setFocus()
    bench.key("Ctrl+B")
    question = bench.task.action_bar.question
    assert question.isVisible()
    bench.type(begun)
    scan(bench.window, BADGE, end=end)
    qtbot.waitUntil(lambda: bench.station.acted == [ASKED], timeout=1500)
    qtbot.waitUntil(lambda: bench.said == "badge: done.", timeout=1500)
    assert question.reason.text() == begun
    assert question.isVisible()
    # The reason can still be sent, or left.
    bench.type("the seal weeps")
    bench.key("Return")
    assert bench.station.acted[-1] == ("back", {"reason": f"{begun}the seal weeps"})


def test_a_reason_that_one_has_begun_is_not_sent_by_another(open_bench):
    bench = open_bench(pour())
    bench.key("Ctrl+B")
    question = bench.task.action_bar.question
    bench.type("the seal weeps")
    bench.show(replace(pour(), who="another"))
    assert not question.isVisible()
    assert question.reason.text() == ""
    assert acted(bench) == []


@pytest.mark.parametrize("field", ["note", "more", "lot"])
def test_a_badge_leaves_a_field_as_it_was(bench, field):
    editor = bench.editor(field)
    editor.setFocus()
    bench.type("begun")
    scan(bench.window, BADGE)
    assert editor.text() == "begun"
    assert bench.window.focusWidget() is editor, "its end leads nowhere"
    assert acted(bench) == ["badge"]
    QTest.keyClick(editor, Qt.Key.Key_Z, Qt.KeyboardModifier.ControlModifier)
    assert BADGE not in editor.text(), "nor does it come back by undoing"


@pytest.mark.parametrize("field", ["note", "more"])
def test_what_was_marked_is_marked_again_after_a_badge_and_replaced_by_a_lot(bench, field):
    editor = bench.editor(field)
    editor.setFocus()
    bench.type("old lot")
    editor.selectAll()
    scan(bench.window, BADGE)
    assert editor.text() == "old lot"
    scan(bench.window, LOT)
    assert editor.text().strip() == LOT


def test_a_lot_goes_into_its_field_and_on_to_the_next(bench):
    bench.editor("note").setFocus()
    scan(bench.window, LOT)
    assert bench.editor("note").text() == LOT
    assert bench.window.focusWidget() is bench.editor("more")
    bench.editor("lot").setFocus()
    scan(bench.window, "K-13")
    assert bench.editor("lot").text() == "K-13"
    assert acted(bench)[-1] != "badge", "Enter in the last field signs, as ever"


def test_a_hand_s_keys_are_text_at_once(bench):
    editor = bench.editor("note")
    editor.setFocus()
    handle = bench.window.windowHandle()
    QTest.keyClick(handle, "w")
    assert editor.text() == "w"


def test_keys_after_a_scan_come_after_it(bench):
    editor = bench.editor("note")
    editor.setFocus()
    bench.station.later = True
    scan(bench.window, LOT, end=False)
    QTest.qWait(120)
    QTest.keyClick(bench.window.windowHandle(), "x")
    assert editor.text() == "", "it waits for the answer"
    bench.station.settle()
    QApplication.processEvents()
    assert editor.text() == f"{LOT}x"


def test_where_the_keyboard_has_gone_elsewhere_a_scan_is_no_text_and_no_action(bench):
    bench.editor("note").setFocus()
    bench.station.later = True
    scan(bench.window, "T T T T")
    bench.window.setFocus()
    bench.station.settle()
    QTest.qWait(120)
    assert bench.editor("note").text() == ""
    assert acted(bench) == ["badge"]


def test_a_scan_that_nobody_can_tell_of_is_dropped_and_said(bench):
    bench.station.failure = REFUSED
    bench.editor("note").setFocus()
    scan(bench.window, BADGE)
    assert bench.editor("note").text() == ""
    assert bench.said == str(REFUSED)


def test_the_reason_of_an_alarm_takes_no_badge(open_bench):
    bench = open_bench(two_alarms())
    bench.station.badges = {BADGE}
    reason = next(b.reason for b in bench.window.banners.banners if b.reason.isVisible())
    reason.setFocus()
    scan(bench.window, BADGE)
    assert reason.text() == ""
    assert bench.station.acted == [ASKED]
    assert bench.station.acknowledged == []


def test_the_search_takes_serials_and_no_badge(open_bench, qtbot):
    bench = open_bench(pour())
    bench.station.badges = {BADGE}
    bench.key("F4")
    page = bench.window.made["records"]
    page.search.setFocus()
    scan(bench.window, "MR-2230")
    assert bench.station.found[-1] == ("MR-2230", "")
    page.search.selectAll()
    scan(bench.window, BADGE)
    comes_and_stays(lambda: page.search.text() == "MR-2230", 300)
    assert not any(BADGE in words for words, _ in bench.station.found)


def test_a_draft_keeps_its_text_and_that_it_is_unkept(open_bench):
    bench = open_bench(pour())
    bench.station.badges = {BADGE}
    bench.key("F5")
    page = bench.window.made["specifications"]
    page.press_key("Ctrl+N")
    page.editor.area.setFocus()
    before = page.editor.text
    bench.type("# a word ")
    scan(bench.window, BADGE)
    assert page.editor.text == f"# a word {before}"
    assert page.editor.kept_words


def test_what_a_badge_began_is_taken_out_though_the_keyboard_has_gone(bench):
    editor = bench.editor("note")
    editor.setFocus()
    editor.textEdited.connect(lambda _: bench.window.setFocus())
    scan(bench.window, BADGE)
    assert editor.text() == ""


def test_a_field_that_is_gone_is_left_alone(bench, qtbot):
    bench.editor("note").setFocus()
    scan(bench.window, BADGE, end=False)
    bench.show(pour())
    comes_and_stays(lambda: acted(bench)[:1] == ["badge"], 150)
    assert "capture" not in acted(bench)
