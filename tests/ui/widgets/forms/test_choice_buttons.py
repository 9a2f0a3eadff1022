"""Up to five answers stand as large buttons; keys and values are those of a list."""

import pytest
from PySide6.QtCore import Qt
from PySide6.QtTest import QTest
from PySide6.QtWidgets import QApplication

from benchstation.screens.model.elements import FieldKind, FieldView
from benchstation.ui.shell.theme import TARGET_PX
from benchstation.ui.widgets.forms.choice_buttons import MOST, ChoiceButtons
from benchstation.ui.widgets.forms.fields import ChoiceField
from benchstation.ui.widgets.forms.form import Form

CHOICES = (("bright", "bright, no marks"), ("polished", "polished out"), ("scored", "not reusable"))


@pytest.fixture
def buttons(shown):
    made = shown(ChoiceButtons(CHOICES), size=(420, 300))
    made.setFocus()
    QApplication.processEvents()
    return made


def press(key):
    QTest.keyClick(QApplication.focusWidget(), key)


def test_none_is_chosen_at_first_and_all_are_as_large_as_a_finger(buttons):
    assert (buttons.currentIndex(), buttons.currentData()) == (-1, "")
    assert all(answer.height() >= TARGET_PX for answer in buttons.answers)
    assert all(answer.isVisible() for answer in buttons.answers)


def test_a_click_anywhere_on_one_chooses_it(buttons):
    told = []
    buttons.activated.connect(told.append)
    answer = buttons.answers[1]
    QTest.mouseClick(answer, Qt.MouseButton.LeftButton, pos=answer.rect().topRight() / 2)
    assert buttons.currentData() == "polished"
    assert told == [1]


def test_arrows_choose_and_enter_goes_on(buttons):
    done, left = [], []
    buttons.finished.connect(lambda: done.append(True))
    buttons.left.connect(lambda: left.append(True))
    press(Qt.Key.Key_Down)
    assert buttons.currentData() == "bright"
    press(Qt.Key.Key_Down)
    press(Qt.Key.Key_Down)
    press(Qt.Key.Key_Down)
    assert buttons.currentData() == "scored", "it stays at the last one"
    press(Qt.Key.Key_Home)
    assert buttons.currentData() == "bright"
    press(Qt.Key.Key_Return)
    assert done == [True]
    press(Qt.Key.Key_Escape)
    assert left == [True]


def test_space_chooses_the_one_that_the_keyboard_is_on(buttons):
    press(Qt.Key.Key_Space)
    assert buttons.currentData() == "bright"


def test_a_value_is_set_and_taken_back(buttons):
    buttons.setCurrentIndex(buttons.findData("scored"))
    assert buttons.currentData() == "scored"
    assert buttons.findData("other") == -1
    buttons.setCurrentIndex(-1)
    assert buttons.currentData() == ""
    assert not any(answer.isChecked() for answer in buttons.answers)


def test_every_answer_has_a_name_with_what_it_answers(buttons):
    buttons.setAccessibleName("Condition of the rod")
    assert buttons.answers[0].accessibleName() == "Condition of the rod: bright, no marks"


@pytest.mark.parametrize(
    ("count", "kind"), [(1, ChoiceButtons), (5, ChoiceButtons), (6, ChoiceField)]
)
def test_a_step_has_buttons_for_up_to_five(shown, count, kind):
    choices = tuple((str(n), f"answer {n}") for n in range(count))
    form = shown(Form(buttons_up_to=MOST), size=(500, 500))
    form.show_fields("s", (FieldView("choice1", "Which", FieldKind.CHOICE, choices=choices),))
    (row,) = form.rows
    assert isinstance(row.editor, kind)
    row.editor.setCurrentIndex(0)
    assert row.value() == "0"


def test_a_long_answer_wraps(shown):
    made = shown(ChoiceButtons((("a", "word " * 30), ("b", "b"))), size=(300, 400))
    QApplication.processEvents()
    assert made.answers[0].height() > made.answers[1].height()
