"""Revisions and drafts: in words with their mark; the row that is meant is found again."""

from dataclasses import replace

import pytest

from benchstation.ui.widgets.specification_list import SpecificationList
from tests.ui.fake_specifications import DRAFT, IN_FORCE, OLDER, ROWS


@pytest.fixture
def made(shown):
    rows = shown(SpecificationList(), size=(300, 400))
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
    made.choose(wanted)
    assert made.currentIndex().row() == place
