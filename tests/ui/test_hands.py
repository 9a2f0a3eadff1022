"""Foot and scanner at the window: one press one action, a scan where it belongs, nothing lost."""

from dataclasses import replace

import pytest
from PySide6.QtCore import Qt
from PySide6.QtTest import QTest
from PySide6.QtWidgets import QApplication

from benchstation.ui.shell.pedal import REST_S, Pedal
from benchstation.ui.widgets.forms.fields import TextField
from tests.ui.fake_moments import MOMENTS, SIDE, high_limit, next_unit, pour, sign_in
from tests.ui.scanner import scan


@pytest.fixture
def clock(monkeypatch):
    """Time of the window's pedal, moved by hand."""
    now = [100.0]
    monkeypatch.setattr("benchstation.ui.shell.window.time.monotonic", lambda: now[0])
    return now


def did(bench) -> list[str]:
    return [action for action, _ in bench.station.acted]


def primary(view):
    return next(action for action in view.task.actions if action.primary)


STEPS = [name for name, make in MOMENTS.items() if any(a.primary for a in make().task.actions)]


@pytest.mark.parametrize("name", STEPS)
def test_the_pedal_is_the_primary_action_of_every_step(open_bench, clock, name):
    bench = open_bench(MOMENTS[name]())
    action = primary(MOMENTS[name]())
    bench.key("F13")
    assert did(bench) == ([action.id] if action.enabled and not action.needs_reason else [])
    if not action.enabled:
        assert action.why_not in bench.refused


def test_a_bounce_and_a_repeat_are_no_second_action(open_bench, clock):
    bench = open_bench(pour())
    bench.key("F13")
    clock[0] += REST_S / 2
    bench.key("F13")
    assert len(did(bench)) == 1
    # A key that repeats goes down again without having come up.
    for _ in range(5):
        clock[0] += 1.0
        QTest.keyPress(bench.window, Qt.Key.Key_F13)
        QApplication.processEvents()
    assert len(did(bench)) == 2


def test_a_press_while_the_first_is_under_way_does_nothing(open_bench, clock):
    bench = open_bench(pour())
    bench.station.later = True
    bench.key("F13")
    clock[0] += 5.0
    bench.key("F13")
    assert len(did(bench)) == 1


def test_a_reason_that_is_being_typed_is_not_lost(open_bench, clock):
    bench = open_bench(pour())
    bench.window.bench.side.choose(SIDE[1])
    bench.type("scale knocked")
    bench.key("F13")
    assert did(bench) == []
    assert bench.task.action_bar.question.reason.text() == "scale knocked"
    assert "being typed" in bench.said


@pytest.mark.parametrize("typed", ["", "12"])
def test_a_pin_that_is_being_typed_signs_nothing_else(open_bench, clock, typed):
    """The actions gave way to the question: the pedal did the hidden one behind it."""
    bench = open_bench(pour())
    action = replace(primary(pour()), id="file", needs_pin=True)
    bench.task.action_bar.ask(action)
    bench.type(typed)
    bench.key("F13")
    assert did(bench) == []
    assert bench.task.action_bar.question.pin.text() == typed
    assert "being typed" in bench.said


def test_half_a_pin_in_a_form_is_no_wrong_try(open_bench, clock):
    bench = open_bench(sign_in())
    pin = next(
        f
        for f in bench.task.form.findChildren(TextField)
        if f.echoMode() != TextField.EchoMode.Normal
    )
    pin.setFocus()
    bench.type("246")
    bench.key("F13")
    assert did(bench) == []
    assert pin.text() == "246"


def test_a_reason_for_an_alarm_is_not_lost(open_bench, clock):
    bench = open_bench(replace(pour(), alarms=high_limit().alarms))
    banner = bench.window.banners.banners[0]
    banner.reason.setFocus()
    bench.type("hose")
    bench.key("F13")
    assert did(bench) == []
    assert banner.reason.text() == "hose"


def test_the_pedal_does_nothing_unseen(open_bench, clock):
    bench = open_bench(pour())
    bench.key("F4")
    bench.key("F13")
    assert did(bench) == []
    assert "Bench" in bench.said


def test_another_key_or_none_may_be_the_pedals(open_bench, clock):
    bench = open_bench(pour(), pedal_key="Ctrl+F11")
    bench.key("F13")
    assert did(bench) == []
    bench.key("Ctrl+F11")
    assert len(did(bench)) == 1
    without = open_bench(pour(), pedal_key="")
    without.key("F13")
    assert did(without) == []


def test_a_lost_release_does_not_hold_the_pedal_down():
    pedal = Pedal()
    assert pedal.press(1.0)
    pedal.release()
    assert pedal.press(2.0)


def scanned(bench, text: str) -> None:
    bench.window.setFocus()
    scan(bench.window, text)
    assert bench.station.acted == [("badge", {"badge": text, "or": "the page's"})]


def test_a_scan_with_no_field_in_use_goes_into_the_serial(open_bench):
    bench = open_bench(next_unit())
    scanned(bench, "MR-2240")
    assert bench.editor("serial").text() == "MR-2240"
    assert bench.said == "Scanned MR-2240."


def test_a_scan_does_not_press_the_keys_it_holds(open_bench):
    view = replace(next_unit(), task=replace(next_unit().task, actions=pour().task.actions))
    bench = open_bench(view)
    scanned(bench, "T-TT-4")
    QTest.qWait(120)
    assert bench.editor("serial").text() == "T-TT-4"
    assert did(bench) == ["badge"]


def test_a_single_key_still_does_its_action(open_bench, qtbot):
    view = replace(next_unit(), task=replace(next_unit().task, actions=pour().task.actions))
    bench = open_bench(view)
    bench.window.setFocus()
    bench.key("T")
    qtbot.waitUntil(lambda: did(bench) == ["tare"], timeout=1000)


def test_a_scan_elsewhere_is_what_it_always_was(open_bench):
    bench = open_bench(pour())
    bench.window.setFocus()
    QTest.keyClick(bench.window, "T")
    assert did(bench) == ["tare"]
