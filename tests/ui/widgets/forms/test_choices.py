"""Rows and cards to choose from: what is chosen stays so, and every card is on a key."""

import pytest
from PySide6.QtCore import Qt
from PySide6.QtTest import QTest

from benchstation.screens.model.elements import ActionView, Tone
from benchstation.screens.model.onboarding import CardView, ChoiceRow
from benchstation.ui.widgets.forms.choices import Cards, ChoiceList

ROWS = (
    ChoiceRow("a", "First", "words", "free", Tone.GOOD),
    ChoiceRow("b", "<b>Second</b>", "words"),
)


@pytest.fixture
def rows(shown):
    made = shown(ChoiceList())
    made.show_rows("ports", ROWS, "b")
    return made


def test_one_is_chosen_at_first_and_stays_when_rows_come(rows):
    assert rows.chosen() == "b"
    QTest.keyClick(rows, Qt.Key.Key_Up)
    assert rows.chosen() == "a"
    rows.show_rows("ports", (*ROWS, ChoiceRow("c", "Third", "")), "b")
    assert rows.chosen() == "a"


def test_one_that_is_gone_gives_way_to_the_first_choice(rows):
    rows.show_rows("ports", (ChoiceRow("c", "Third", ""),), "c")
    assert rows.chosen() == "c"
    rows.show_rows("ports", (), "")
    assert rows.chosen() == ""


def test_it_is_said_in_words(rows):
    assert rows.accessibleName() == "ports"
    assert rows.rows.data(rows.rows.index(0, 0)) == "First, words, free"


@pytest.fixture
def cards(shown):
    made = shown(Cards(), size=(800, 300))
    made.show_cards(
        (
            CardView("One", "why", ActionView("one", "Do one", "1")),
            CardView("Two", "why", ActionView("two", "Do two", "2", False, "not now")),
        )
    )
    return made


def test_a_card_is_chosen_by_key_and_click(cards, qtbot):
    chosen = []
    cards.chosen.connect(chosen.append)
    assert cards.press_key("1")
    qtbot.mouseClick(cards.cards[0].button, Qt.MouseButton.LeftButton)
    assert chosen == ["one", "one"]
    assert cards.press_key("2"), "known, but not possible now"
    assert not cards.press_key("3")
    assert chosen == ["one", "one"]


def test_other_cards_take_their_place(cards):
    cards.show_cards(())
    assert cards.cards == []
    assert not cards.press_key("1")
