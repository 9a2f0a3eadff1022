"""A scan goes to whoever waits for it, and a hand's keys go on as ever."""

from dataclasses import replace

import pytest
from PySide6.QtCore import Qt
from PySide6.QtTest import QTest

from benchstation.screens.model.elements import ActionView
from tests.ui.fake_moments import intake, pour, sign_in
from tests.ui.scanner import scan
from tests.ui.waiting import comes_and_stays


def pressed(bench, key) -> None:
    QTest.keyClick(bench.window.windowHandle(), key)


def until_acted(bench, qtbot, *wanted) -> None:
    qtbot.waitUntil(lambda: [name for name, _ in bench.station.acted] == list(wanted), timeout=1500)


def test_a_scan_in_the_middle_of_a_pour_is_a_badge_and_no_action(open_bench, qtbot):
    bench = open_bench(pour())
    # Its letters are the keys of tare and capture.
    scan(bench.window, "T4711 T")
    comes_and_stays(lambda: bench.station.acted == [("badge", {"badge": "T4711 T"})], 120)
    assert "badge: done." in bench.said


def test_a_single_key_is_handed_on_after_a_moment(open_bench, qtbot):
    bench = open_bench(pour())
    timer = bench.window.scans.timer
    usual_ms = timer.interval()
    # However late a busy machine looks, the moment is not over yet.
    timer.setInterval(10_000)
    pressed(bench, Qt.Key.Key_T)
    assert bench.station.acted == []
    timer.setInterval(usual_ms)
    until_acted(bench, qtbot, "tare")


def test_keys_of_a_hand_keep_their_order(open_bench, qtbot):
    bench = open_bench(pour())
    pressed(bench, Qt.Key.Key_T)
    pressed(bench, Qt.Key.Key_F6)
    until_acted(bench, qtbot, "tare")
    assert bench.window.page == "instruments"


def test_a_tick_by_key_counts_before_the_click_that_follows_it(open_bench, qtbot):
    bench = open_bench(intake())
    tick = next(row for row in bench.task.form.rows if row.field.kind.value == "check")
    tick.editor.setFocus()
    pressed(bench, Qt.Key.Key_Space)
    button = next(b for b in bench.task.action_bar.buttons if b.action.id == "sign")
    where = button.mapTo(bench.window, button.rect().center())
    QTest.mouseClick(bench.window.windowHandle(), Qt.MouseButton.LeftButton, pos=where)
    qtbot.waitUntil(lambda: any(name == "sign" for name, _ in bench.station.acted), timeout=1500)
    fields = next(fields for name, fields in bench.station.acted if name == "sign")
    assert fields[tick.field.id] == "yes"


def test_two_quick_keys_are_both_handed_on(open_bench, qtbot):
    bench = open_bench(pour())
    scan(bench.window, "T ", end=False)
    until_acted(bench, qtbot, "tare", "capture")


def test_a_burst_without_an_end_is_no_row_of_keys(open_bench, qtbot):
    bench = open_bench(pour())
    scan(bench.window, "TTTT TTTT", end=False)
    comes_and_stays(lambda: bench.station.acted == [], 120)


def test_a_slow_row_of_keys_and_enter_is_no_scan(open_bench, qtbot):
    bench = open_bench(pour())
    scan(bench.window, "XYXYXY", gap_s=0.2)
    assert ("badge", {"badge": "XYXYXY"}) not in bench.station.acted


def test_a_scan_goes_into_the_text_that_is_being_typed(open_bench, qtbot):
    bench = open_bench(intake())
    field = next(r for r in bench.task.form.rows if r.field.kind.value == "text")
    field.editor.setFocus()
    scan(bench.window, "KIT-0088", end=False)
    qtbot.waitUntil(lambda: field.value() == "KIT-0088", timeout=1500)
    assert bench.station.acted == [("badge", {"badge": "KIT-0088", "or": "the text's"})]


def test_at_the_sign_in_form_a_scan_signs_in_whatever_has_the_keyboard(open_bench, qtbot):
    bench = open_bench(sign_in())
    name, pin = bench.editor("person"), bench.editor("pin")
    name.setFocus()
    scan(bench.window, "robin-0001")
    assert bench.station.acted == [("badge", {"badge": "robin-0001"})]
    assert name.currentIndex() == -1, "its letters choose no name"
    bench.station.acted.clear()
    pin.setFocus()
    pin.setText("12")
    scan(bench.window, "robin-0001")
    # What a hand had begun is dropped.
    assert bench.station.acted == [("sign_in", {"person": "", "pin": "robin-0001"})]


def test_an_unknown_badge_is_told(open_bench):
    bench = open_bench(pour())
    bench.station.failure = RuntimeError("x")
    scan(bench.window, "unknown-1")
    assert bench.said


def test_every_key_click_and_scan_says_that_somebody_is_there(open_bench, qtbot):
    bench = open_bench(pour())
    pressed(bench, Qt.Key.Key_Shift)
    assert bench.station.stirred == 1
    QTest.mouseClick(bench.window.windowHandle(), Qt.MouseButton.LeftButton)
    assert bench.station.stirred == 2
    scan(bench.window, "robin-0001")
    assert bench.station.stirred == 13


def test_a_warning_of_the_signing_out_stands_in_the_foot_and_goes(open_bench):
    bench = open_bench(pour())
    for left in (30, 29):
        words = f"Alex Sample is signed out in {left} s. Press any key to stay."
        bench.show(replace(pour(), leaving=words))
        assert bench.said == words
    bench.show(pour())
    assert bench.said == ""


def test_a_text_that_is_not_kept_is_told_to_the_station(open_bench):
    bench = open_bench(pour())
    bench.key("F5")
    page = bench.window.made["specifications"]
    page.press_key("Ctrl+N")
    page.editor.begin(page.editor.text + "# a word\n")
    page.editor.mark_unkept()
    bench.window.bridge.refresh()
    assert bench.station.held_text == [True]


def switching(title="Who takes over from Alex?"):
    form = sign_in().task
    stay = ActionView("stay", "Go back", "Esc")
    return replace(form, step_id="switch", title=title, actions=(*form.actions, stay))


@pytest.fixture
def handing_over(open_bench):
    bench = open_bench(pour())
    bench.show(replace(pour(), switch=switching()))
    bench.panel = bench.window.bench.switch
    return bench


def test_the_form_stands_beside_the_pour_and_has_the_keyboard(handing_over):
    bench = handing_over
    assert bench.panel.isVisible()
    assert bench.task.primary_readout.isVisible(), "the number stays"
    assert bench.panel.isAncestorOf(bench.window.focusWidget())
    panel = bench.panel.mapTo(bench.window, bench.panel.rect().topLeft()).x()
    task = bench.task
    assert task.mapTo(bench.window, task.rect().topRight()).x() < panel


def test_name_and_pin_sign_the_next_one_in(handing_over):
    bench = handing_over
    bench.key("Down")
    bench.key("Return")
    bench.type("271828")
    bench.key("Return")
    assert bench.station.acted == [("sign_in", {"person": "p1", "pin": "271828"})]
    assert not bench.panel.form.rows[1].value(), "no PIN stays"


@pytest.mark.parametrize("place", [0, 1])
def test_esc_goes_back_at_once(handing_over, place):
    bench = handing_over
    bench.panel.form.rows[place].editor.setFocus()
    bench.key("Esc")
    assert bench.station.acted == [("stay", {"person": "", "pin": ""})]
    bench.show(pour())
    assert not bench.panel.isVisible()
    assert bench.window.focusWidget() is bench.window
    bench.key("T")
    assert bench.station.acted[-1][0] == "tare"


def test_the_panels_keys_are_its_own_only_while_it_is_there(handing_over):
    bench = handing_over
    bench.window.setFocus()
    bench.key("Space")
    assert bench.station.acted == [("capture", {})], "the first person still can"
    bench.show(pour())
    bench.key("Esc")
    assert [name for name, _ in bench.station.acted] == ["capture"]
