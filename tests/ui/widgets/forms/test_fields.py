"""Fields: Enter goes on, Esc leaves, the wheel changes nothing, the whole line can be pressed."""

import pytest
from PySide6.QtCore import QPoint, QPointF, Qt
from PySide6.QtGui import QWheelEvent
from PySide6.QtTest import QTest
from PySide6.QtWidgets import QLineEdit, QWidget

from benchstation.ui.shell.theme import TARGET_PX
from benchstation.ui.widgets.forms.fields import CheckField, ChoiceField, TextField

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


@pytest.fixture
def heard(monkeypatch):
    """Return what the widget behind the fields hears."""
    keys = []

    def hear(_, event) -> None:
        if event.key() != Qt.Key.Key_Control:
            keys.append(event.key())

    monkeypatch.setattr(QWidget, "keyPressEvent", hear)
    return keys


@pytest.mark.parametrize("key", [Qt.Key.Key_E, Qt.Key.Key_U, Qt.Key.Key_K, Qt.Key.Key_1])
def test_keys_of_the_page_pass_a_text_and_change_nothing(shown, heard, key):
    made = shown(TextField())
    made.setText("words")
    QTest.keyClick(made, key, Qt.KeyboardModifier.ControlModifier)
    assert heard == [key]
    assert (made.text(), made.cursorPosition()) == ("words", 5)


def test_keys_of_the_clipboard_stay_with_the_text(shown, heard):
    made = shown(TextField())
    made.setText("words")
    for key in (Qt.Key.Key_A, Qt.Key.Key_X, Qt.Key.Key_V, Qt.Key.Key_V):
        QTest.keyClick(made, key, Qt.KeyboardModifier.ControlModifier)
    assert made.text() == "wordswords"
    QTest.keyClick(made, Qt.Key.Key_Z, Qt.KeyboardModifier.ControlModifier)
    assert made.text() == "words"
    assert heard == []


def test_the_key_of_a_page_opens_no_list(shown, heard):
    made = shown(ChoiceField(CHOICES))
    QTest.keyClick(made, Qt.Key.Key_F4)
    assert heard == [Qt.Key.Key_F4]
    assert not made.view().isVisible()


@pytest.mark.qt_log_ignore("This plugin does not support")
def test_what_is_chosen_from_is_a_finger_high(shown):
    made = shown(ChoiceField(CHOICES))
    made.showPopup()
    view = made.view()
    assert view.isVisible()
    assert all(view.visualRect(view.model().index(n, 0)).height() >= TARGET_PX for n in range(2))
    made.hidePopup()


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


def test_keys_of_the_page_choose_nothing(shown):
    made = shown(ChoiceField(CHOICES))
    made.setFocus()
    made.setCurrentIndex(1)
    for key, modifier in (
        (Qt.Key.Key_Up, Qt.KeyboardModifier.AltModifier),
        (Qt.Key.Key_PageDown, Qt.KeyboardModifier.ControlModifier),
        (Qt.Key.Key_PageUp, Qt.KeyboardModifier.ControlModifier),
    ):
        QTest.keyClick(made, key, modifier)
        assert made.currentIndex() == 1


@pytest.mark.parametrize(("platform", "typed"), [("linux", ""), ("win32", ""), ("darwin", "4")])
def test_a_digit_with_alt_is_the_pages_and_is_not_typed(shown, monkeypatch, platform, typed):
    monkeypatch.setattr("sys.platform", platform)
    made = shown(TextField())
    QTest.keyClick(made, "4", Qt.KeyboardModifier.AltModifier)
    assert made.text() == typed
