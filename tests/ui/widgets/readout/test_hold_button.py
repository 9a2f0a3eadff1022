"""Held long enough it acts, let go too early it does nothing."""

import pytest
from PySide6.QtCore import QEvent, QPoint, Qt
from PySide6.QtGui import QFocusEvent, QKeyEvent
from PySide6.QtTest import QTest

from benchstation.screens.model.elements import Tone
from benchstation.ui.shell.theme import TARGET_PX
from benchstation.ui.widgets.readout.hold_button import HOLD_MS, HoldButton
from tests.ui.waiting import comes_and_stays

LEFT = Qt.MouseButton.LeftButton
HOLD = 70


@pytest.fixture
def button(shown):
    made = shown(HoldButton(HOLD), size=(360, 60))
    made.show_text("Hold to acknowledge", Tone.DANGER)
    made.times, made.early = [], []
    made.held.connect(lambda: made.times.append(1))
    made.let_go.connect(lambda: made.early.append(1))
    return made


def wait_full(qtbot, button) -> None:
    qtbot.waitUntil(lambda: bool(button.times), timeout=1500)


def test_it_takes_a_second_and_a_half():
    assert HOLD_MS == 1500


def test_it_is_large_enough_and_says_what_it_does(button):
    assert button.height() >= TARGET_PX
    assert button.accessibleName() == "Hold to acknowledge"


def test_held_by_mouse_it_acts_once(button, qtbot):
    QTest.mousePress(button, LEFT)
    assert button.times == []
    wait_full(qtbot, button)
    qtbot.wait(60)
    QTest.mouseRelease(button, LEFT)
    assert button.times == [1]
    assert button.early == []
    assert button.progress == 0.0


def test_let_go_too_early_it_does_nothing_and_says_so(button, qtbot):
    QTest.mousePress(button, LEFT)
    qtbot.wait(20)
    QTest.mouseRelease(button, LEFT)
    comes_and_stays(lambda: button.times == [], HOLD + 40)
    assert button.early == [1]
    assert "keep holding" in button.words
    QTest.mousePress(button, LEFT)
    assert button.words == "Hold to acknowledge"
    QTest.mouseRelease(button, LEFT)


def test_progress_is_seen(button, qtbot):
    button.hold_ms = 5000
    before = button.grab().toImage()
    button.press()
    qtbot.waitUntil(lambda: button.progress > 0.01, timeout=1000)
    assert button.grab().toImage() != before
    assert 0.0 < button.progress < 1.0
    button.release()


def test_sliding_off_is_letting_go(button, qtbot):
    QTest.mousePress(button, LEFT)
    QTest.mouseMove(button, QPoint(-40, 5))
    QTest.mouseRelease(button, LEFT, pos=QPoint(-40, 5))
    comes_and_stays(lambda: button.times == [], HOLD + 40)


@pytest.mark.parametrize("other", [Qt.MouseButton.RightButton, Qt.MouseButton.MiddleButton])
def test_other_buttons_do_nothing(button, other):
    QTest.mousePress(button, other)
    assert button.progress == 0.0
    QTest.mouseRelease(button, other)


@pytest.mark.parametrize("key", [Qt.Key.Key_Space, Qt.Key.Key_Return, Qt.Key.Key_Enter])
def test_held_by_key_it_acts(button, qtbot, key):
    QTest.keyPress(button, key)
    wait_full(qtbot, button)
    QTest.keyRelease(button, key)
    assert button.times == [1]


def test_a_key_that_repeats_is_one_hold(button, qtbot):
    QTest.keyPress(button, Qt.Key.Key_Space)
    for kind in (QEvent.Type.KeyRelease, QEvent.Type.KeyPress):
        none = Qt.KeyboardModifier.NoModifier
        event = QKeyEvent(kind, Qt.Key.Key_Space, none, " ", True)
        button.event(event)
    wait_full(qtbot, button)
    QTest.keyRelease(button, Qt.Key.Key_Space)
    assert button.early == []


def test_losing_the_keyboard_is_letting_go(button, qtbot):
    button.press()
    button.focusOutEvent(QFocusEvent(QEvent.Type.FocusOut))
    comes_and_stays(lambda: button.times == [], HOLD + 40)


def test_hidden_it_forgets(button, qtbot):
    button.press()
    button.hide()
    comes_and_stays(lambda: button.times == [], HOLD + 40)
    assert button.early == []


def test_a_click_does_not_take_the_keyboard(button):
    assert button.focusPolicy() is Qt.FocusPolicy.TabFocus
