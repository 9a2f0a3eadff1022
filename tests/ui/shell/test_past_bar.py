"""The bar of the demonstration's past: there while it is made, a button when it is ready."""

import pytest

from benchstation.screens.model.service import PastView
from benchstation.ui.shell.past_bar import PastBar
from tests.ui.fake_station import FakeHand

MAKING = PastView("Making the shop's past: 120 of 300 units", 0.4)
READY = PastView("The shop's past is ready: 300 units.", 1.0, ready=True)


@pytest.fixture
def bar(shown):
    hand = FakeHand()
    hand.making = MAKING
    made = shown(PastBar(hand), size=(300, 120))
    made.hand, made.heard = hand, []
    made.opened.connect(lambda: made.heard.append("opened"))
    return made


def test_it_says_how_far_the_past_is_made(bar):
    assert bar.words.text() == MAKING.words
    assert bar.bar.value() == 40
    assert not bar.button.isVisible()


def test_the_finished_past_is_opened_by_a_button(bar):
    bar.hand.making = READY
    bar.look()
    assert bar.button.isVisible()
    assert not bar.bar.isVisible()
    bar.button.click()
    assert bar.heard == ["opened"]


def test_it_says_what_is_against_opening_it(bar):
    bar.hand.making, bar.hand.against = READY, "A unit is on the bench."
    bar.look()
    bar.button.click()
    assert bar.words.text() == "A unit is on the bench."
    assert bar.heard == []


def test_nothing_stands_there_where_the_past_is_on_record(bar):
    bar.hand.making = None
    bar.look()
    assert not bar.isVisible()
