"""Fields: Enter goes on, Esc leaves, the wheel changes nothing, the whole line can be pressed."""

import pytest
from PySide6.QtCore import QPoint, QPointF, Qt
from PySide6.QtGui import QWheelEvent
from PySide6.QtTest import QTest
from PySide6.QtWidgets import QLineEdit

from benchstation.ui.theme import TARGET_PX
from benchstation.ui.widgets.fields import CheckField, ChoiceField, TextField

CHOICES = (("a", "first"), ("b", "second"))


def make(kind):
    if kind is ChoiceField:
        return ChoiceField(CHOICES)
    return kind("words") if kind is CheckField else kind()


@pytest.fixture(params=[TextField, ChoiceField, CheckField])
def field(request, shown):
    made = shown(make(request.param), size=(400, 60))
    made.ends = []
    made.finished.connect(lambda: made.ends.append(1))
    return made


@pytest.mark.parametrize("key", [Qt.Key.Key_Return, Qt.Key.Key_Enter])
def test_enter_goes_on_and_reaches_nobody_else(field, key, monkeypatch):
    heard = []
    monkeypatch.setattr(field.parentWidget(), "keyPressEvent", heard.append, raising=False)
    QTest.keyClick(field, key)
    assert field.ends == [1]
    assert heard == []


def test_esc_leaves(field):
    field.setFocus()
    assert field.window().focusWidget() is field
    QTest.keyClick(field, Qt.Key.Key_Escape)
    assert field.window().focusWidget() is not field


def test_a_secret_is_not_shown(shown):
    assert TextField(secret=True).echoMode() is QLineEdit.EchoMode.Password


def test_the_wheel_passes_over_a_choice(shown):
    made = shown(ChoiceField(CHOICES))
    made.setCurrentIndex(0)
    event = QWheelEvent(
        QPointF(5, 5),
        QPointF(5, 5),
        QPoint(0, -120),
        QPoint(0, -120),
        Qt.MouseButton.NoButton,
        Qt.KeyboardModifier.NoModifier,
        Qt.ScrollPhase.NoScrollPhase,
        False,
    )
    made.wheelEvent(event)
    assert made.currentIndex() == 0
    assert not event.isAccepted()


def test_nothing_is_chosen_before_someone_chooses(shown):
    made = shown(ChoiceField(CHOICES))
    assert made.currentData() is None
    assert made.placeholderText() == "choose"


def test_a_check_can_be_pressed_anywhere_on_its_line(shown):
    made = shown(CheckField("The rod stays in"), size=(500, 60))
    QTest.mouseClick(made, Qt.MouseButton.LeftButton, pos=QPoint(480, 30))
    assert made.isChecked()
    QTest.keyClick(made, Qt.Key.Key_Space)
    assert not made.isChecked()
    assert made.accessibleName() == "The rod stays in"


def test_long_statements_wrap_and_short_ones_are_a_finger_high(qapp):
    assert CheckField("short").heightForWidth(400) == TARGET_PX
    assert CheckField("many words " * 30).heightForWidth(400) > 2 * TARGET_PX


def test_a_tick_can_be_seen(shown):
    made = shown(CheckField("x"))
    before = made.grab().toImage()
    made.setChecked(True)
    assert made.grab().toImage() != before
