"""The virtual hand: held to pour, fill and vent; pressed for the rest; by mouse and by key."""

import pytest
from PySide6.QtCore import Qt
from PySide6.QtTest import QTest
from PySide6.QtWidgets import QWidget

from benchstation.quantities.units import UnitSystem
from benchstation.ui.shell.demo_panel import (
    CLEAR_SMALL_PX,
    FULL_REGULATOR_PA,
    SMALL_BUTTON_PX,
    DemoPanel,
)
from tests.ui.fake_moments import pour
from tests.ui.fake_station import FakeHand, FakeStation

RIGHT_COLUMN_PX = 300
LEFT = Qt.MouseButton.LeftButton


@pytest.fixture
def panel(shown):
    hand = FakeHand()
    made = shown(DemoPanel(hand, FakeStation(pour())), size=(1250, 110))
    made.hand = hand
    return made


def test_pouring_lasts_as_long_as_it_is_held(panel):
    QTest.mousePress(panel.held["pour"], LEFT)
    assert panel.hand.done == [("pour", 0.5)]
    QTest.mouseRelease(panel.held["pour"], LEFT)
    assert panel.hand.done[-1] == ("pour", 0.0)


@pytest.mark.parametrize(
    ("key", "knob"), [("Alt+P", "pour"), ("Alt+G", "valve"), ("Alt+V", "vent")]
)
def test_keys_are_held_too(panel, key, knob):
    assert panel.press_key(key)
    assert panel.hand.done == [(knob, 0.5)]
    panel.release_key(key)
    assert panel.hand.done[-1] == (knob, 0.0)


@pytest.mark.parametrize("first_up", ["P", "Alt"])
def test_whichever_of_the_two_keys_comes_up_first(panel, first_up):
    panel.press_key("Alt+P")
    panel.release_key(first_up)
    assert panel.hand.done[-1] == ("pour", 0.0)
    count = len(panel.hand.done)
    panel.release_key("P")
    assert len(panel.hand.done) == count


def test_losing_the_keyboard_lets_go(panel):
    panel.press_key("Alt+P")
    panel.press_key("Alt+V")
    panel.let_go()
    assert panel.hand.done[-2:] in (
        [("pour", 0.0), ("vent", 0.0)],
        [("vent", 0.0), ("pour", 0.0)],
    )


def test_the_opening_follows_while_it_is_held(panel):
    panel.press_key("Alt+P")
    panel.opening.setValue(80)
    assert panel.hand.done[-1] == ("pour", 0.8)
    panel.release_key("P")
    count = len(panel.hand.done)
    panel.opening.setValue(20)
    assert len(panel.hand.done) == count
    assert panel.opening_words.text() == "opens 20 %"


@pytest.mark.parametrize(
    ("name", "key", "done"),
    [
        ("take_out", "Alt+O", ("take_out", None)),
        ("bleed", "Alt+R", ("bleed", None)),
        ("body", "Alt+1", ("pan", "body")),
        ("tray", "Alt+2", ("pan", "tray")),
        ("jug", "Alt+5", ("pan", "jug")),
        ("unit", "Alt+6", ("pan", "unit")),
        ("drip tray", "Alt+7", ("pan", "drip tray")),
        ("check weight", "Alt+3", ("pan", "check weight")),
        ("nothing", "Alt+4", ("pan", "nothing")),
    ],
)
def test_everything_else_by_click_and_by_key(panel, name, key, done):
    QTest.mouseClick(panel.presses[name], LEFT)
    assert panel.press_key(key)
    assert panel.hand.done == [done, done]


def test_other_keys_are_not_ours(panel):
    assert not panel.press_key("T")


def test_the_regulator_starts_where_it_stands_and_is_told_in_si(panel):
    assert panel.regulator.value() == round(100 * 2e6 / FULL_REGULATOR_PA)
    assert panel.regulator_words.text() == "regulator 20 bar"
    panel.regulator.setValue(50)
    assert panel.hand.done == [("regulator", 3e6)]
    assert panel.regulator_words.text() == "regulator 30 bar"


def test_the_regulator_is_shown_in_the_persons_units(shown):
    station = FakeStation(pour())
    station.display = UnitSystem.INCH_POUND
    made = shown(DemoPanel(FakeHand(), station), size=(1250, 110))
    assert made.regulator_words.text().startswith("regulator ")
    assert made.regulator_words.text().endswith(" psi")


@pytest.mark.parametrize("room", [0, 600])
def test_it_stands_beside_the_window_or_small_where_it_covers_no_step(shown, qtbot, room):
    window = shown(QWidget(), size=(1280, 800))
    screen = window.screen().availableGeometry()
    window.move(screen.right() - 1280 - room, 0)
    hand = DemoPanel(FakeHand(), FakeStation(pour()))
    qtbot.addWidget(hand)
    hand.stand_beside(window)
    if room:
        assert hand.x() > window.frameGeometry().right()
        assert all(words.isVisible() for words in hand._small_words)
    else:
        column = window.frameGeometry().right() - RIGHT_COLUMN_PX
        assert hand.x() >= column
        assert hand.y() + hand.height() <= window.frameGeometry().bottom() - CLEAR_SMALL_PX + 1
        lower = hand.geometry().bottom()
        hand.past_bar.show()
        QTest.qWait(20)
        high = hand.height()
        hand.past_bar.hide()
        QTest.qWait(20)
        assert hand.height() < high
        assert hand.geometry().bottom() == lower
        buttons = (*hand.held.values(), *hand.presses.values())
        assert all(button.height() >= SMALL_BUTTON_PX for button in buttons)
