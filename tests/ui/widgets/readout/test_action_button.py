"""Buttons: large, with the key on them, and saying why they cannot be pressed."""

from dataclasses import replace

import pytest
from PySide6.QtCore import Qt
from PySide6.QtTest import QTest

from benchstation.screens.model.elements import ActionView
from benchstation.ui.shell.theme import DARK, TARGET_PX
from benchstation.ui.widgets.readout.action_button import ActionButton, same_key, shown_key

TARE = ActionView("tare", "Tare", "T")
LOCKED = ActionView("capture", "Capture", "Space", False, "the scale is moving", primary=True)


def button(shown, action, *, quiet=False, width=300) -> ActionButton:
    made = shown(ActionButton(quiet=quiet), size=(width, 120))
    made.show_action(action)
    made.resize(width, made.minimumHeight())
    return made


@pytest.mark.parametrize("quiet", [True, False])
def test_a_button_is_at_least_fifteen_millimetres_high(shown, quiet):
    assert button(shown, TARE, quiet=quiet).height() >= TARGET_PX


def test_the_key_is_part_of_its_name(shown):
    assert button(shown, TARE).accessibleName() == "Tare, key T"
    assert button(shown, replace(TARE, key="Return")).accessibleName() == "Tare, key Enter"


def test_a_disabled_button_says_why_and_does_nothing(shown):
    made = button(shown, LOCKED)
    pressed = []
    made.clicked.connect(lambda: pressed.append(1))
    QTest.mouseClick(made, Qt.MouseButton.LeftButton)
    assert pressed == []
    assert made.accessibleDescription() == "the scale is moving"


def test_why_not_is_drawn_in_the_colour_of_text(shown):
    made = button(shown, LOCKED)
    places = made.faces(made.width())[3]
    assert places.height() > 0
    image = made.grab().toImage()
    seen = {
        image.pixelColor(x, y).name() for x in range(image.width()) for y in range(image.height())
    }
    assert DARK.text in seen
    assert button(shown, replace(LOCKED, enabled=True)).faces(300)[3].height() == 0


def test_long_words_make_it_higher_and_leave_it_whole(shown):
    why = "nur die Prüfstandsleitung oder die Qualitätssicherung darf das unterschreiben"
    made = button(shown, replace(LOCKED, why_not=why), width=180)
    assert made.minimumHeight() > 100
    _, label, chip, reason = made.faces(180)
    assert label.bottom() < reason.top()
    assert not label.intersects(chip)
    assert reason.bottom() < made.minimumHeight()


def test_a_long_word_moves_the_key_below_it(shown):
    made = button(shown, ActionView("x", "Trockenlegungstarierung", "Ctrl+Shift+T"), width=240)
    _, label, chip, _ = made.faces(240)
    assert chip.top() > label.bottom()
    assert made.least_width() <= 260


def test_the_primary_one_stands_out(shown):
    def face(action):
        image = button(shown, action).grab().toImage()
        return image.pixelColor(image.width() // 2, 6).name()

    assert face(replace(TARE, primary=True)) != face(TARE)


def test_by_tab_only(shown):
    assert button(shown, TARE).focusPolicy() is Qt.FocusPolicy.TabFocus


@pytest.mark.parametrize(
    ("pressed", "key", "same"),
    [
        ("T", "t", True),
        ("Ctrl+B", "ctrl+b", True),
        ("Return", "Enter", False),
        ("Ctrl+Del", "Ctrl+Delete", True),
        ("T", "Shift+T", False),
        ("", "", False),
        ("T", "", False),
    ],
)
def test_keys_are_compared_however_they_are_spelt(pressed, key, same):
    assert same_key(pressed, key) is same


def test_keys_are_shown_in_the_systems_words():
    assert shown_key("Return") == "Enter"
    assert shown_key("Space") == "Space"
