"""The number with its words: sized by weight, marked by meaning, and gone without a number."""

import pytest
from PySide6.QtWidgets import QApplication

from benchstation.screens.model.elements import BigNumber, Tone
from benchstation.ui.shell import text_scale
from benchstation.ui.shell.theme import DIGIT_HEIGHT_PX
from benchstation.ui.widgets.readout.grid import BESIDE_PX, grid_of
from benchstation.ui.widgets.readout.primary_readout import (
    FIRST,
    OTHER,
    MarkedLines,
    PrimaryReadout,
    weighted,
)

TO_GO = BigNumber("to go", "34.5", "g", Tone.PLAIN)
WORDS = (("slow down", Tone.CAUTION), ("187.4 g of 221.9 g", Tone.PLAIN), ("6.1 g/s", Tone.QUIET))


def primary_readout(shown, percent=100) -> PrimaryReadout:
    text_scale.choose(percent)
    grid = grid_of(1280, 800)
    made = shown(PrimaryReadout(), size=(grid.inner, grid.readout))
    made.set_grid(grid)
    made.show_hero(TO_GO, WORDS)
    return made


def test_the_first_words_weigh_the_most():
    assert [role for _, _, role in weighted(WORDS)] == [FIRST, OTHER, OTHER]
    assert weighted(()) == ()


def test_words_leave_the_number_its_height_on_a_small_screen(shown):
    made = primary_readout(shown)
    QApplication.processEvents()
    assert made.big.digit_height_px >= DIGIT_HEIGHT_PX - 1
    assert made.lines.width() >= BESIDE_PX
    assert made.big.geometry().right() < made.lines.geometry().left()


@pytest.mark.parametrize("percent", [115, 130, 150])
def test_larger_words_stand_beside_or_below_and_never_take_the_number_its_height(shown, percent):
    made = primary_readout(shown, percent)
    QApplication.processEvents()
    assert made.big.digit_height_px >= DIGIT_HEIGHT_PX - 1
    assert not made.big.geometry().intersects(made.lines.geometry())
    assert made.rect().contains(made.lines.geometry())


def test_words_that_mean_something_have_a_mark(shown):
    lines = primary_readout(shown).lines.lines
    assert lines[0].mark.isVisible()
    assert lines[0].mark.accessibleName() == "caution"
    assert [line.mark.isVisible() for line in lines[1:]] == [False, False]
    assert lines[0].large.text() == "slow down"
    assert lines[1].other.text() == "187.4 g of 221.9 g"


def test_without_a_number_it_is_gone(shown):
    made = primary_readout(shown)
    made.show_hero(None, WORDS)
    assert not made.isVisible()


def test_lines_come_and_go_and_the_same_are_left_alone(shown, monkeypatch):
    lines = shown(MarkedLines())
    shown_lines = weighted(WORDS)
    lines.show_lines(shown_lines)
    assert [line.isVisible() for line in lines.lines] == [True, True, True]
    monkeypatch.setattr(lines.lines[0], "show_line", lambda *a: 1 / 0)
    lines.show_lines(weighted(WORDS))
    monkeypatch.undo()
    lines.show_lines(shown_lines[:1])
    assert [line.isVisible() for line in lines.lines] == [True, False, False]
