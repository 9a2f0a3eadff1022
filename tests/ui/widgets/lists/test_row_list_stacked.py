"""Revisions and drafts: in words with their mark; the row that is meant is found again."""

from dataclasses import replace

import pytest
from PySide6.QtGui import QFontMetrics

from benchstation.ui.shell.labels import sized
from benchstation.ui.widgets.lists import row_list
from benchstation.ui.widgets.lists.row_list import RowList
from tests.ui.fake_specifications import DRAFT, IN_FORCE, OLDER, ROWS


@pytest.fixture
def made(shown):
    rows = shown(RowList("revisions", stacked=True), size=(300, 400))
    rows.rows.replace(list(ROWS))
    return rows


def test_a_row_says_everything_in_words(made):
    said = made.rows.index(0, 0).data()
    for part in ("Rescue sledge, 46 mm", "revision 3, draft", "Robin Sample"):
        assert part in said


def test_every_state_has_its_own_mark(made):
    image = made.viewport().grab().toImage()
    marks = [
        image.copy(box.left() + 16, box.top() + 30, 24, 30)
        for box in (made.visualRect(made.rows.index(place, 0)) for place in range(3))
    ]
    assert marks[0] != marks[1] != marks[2] != marks[0]


@pytest.mark.parametrize(
    ("wanted", "place"),
    [
        (None, 0),
        (OLDER, 2),
        (replace(DRAFT, key="", by=""), 0),
        (replace(IN_FORCE, key="gone"), 1),
        (replace(IN_FORCE, key="gone", revision=9), 0),
    ],
    ids=["none", "by key", "a text that was kept", "a draft that was approved", "nowhere"],
)
def test_the_row_that_is_meant_is_chosen(made, wanted, place):
    made.choose(
        lambda row: wanted is not None and row.key == wanted.key,
        lambda row: wanted is not None and row.is_same(wanted),
    )
    assert made.currentIndex().row() == place


@pytest.mark.parametrize("family", ["Rescue vehicle front, 46 mm", "Bergrettungsfahrzeug " * 3])
def test_the_family_has_a_line_of_its_own(shown, monkeypatch, family):
    """Whatever revision and state say: the family is drawn over the whole width of its row."""
    drawn = []
    real = row_list.draw_line

    def draw(painter, box, words, size, *ink, **how):
        drawn.append((words, box.width(), size))
        return real(painter, box, words, size, *ink, **how)

    monkeypatch.setattr(row_list, "draw_line", draw)
    rows = shown(RowList("revisions", stacked=True), size=(288, 400))
    rows.rows.replace([replace(IN_FORCE, family=family)])
    rows.grab()
    (_, width, size), (said, *_) = drawn[0], drawn[1]
    assert drawn[0][0] == family
    assert said == "revision 2, in force"
    assert width > 240
    font = sized(rows.font(), size, bold=True)
    whole = QFontMetrics(font).horizontalAdvance(family) <= width
    assert whole == (family[0] == "R")
    assert whole or size == row_list.SIZES[-1], "as much of it as there is room for"
