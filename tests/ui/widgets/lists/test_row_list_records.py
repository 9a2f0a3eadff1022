"""The list of records: large rows, in words, without double clicks."""

from dataclasses import replace

import pytest
from PySide6.QtCore import Qt
from PySide6.QtTest import QTest

from benchstation.ui.shell import text_scale
from benchstation.ui.shell.theme import DARK, TARGET_PX
from benchstation.ui.widgets.lists.row_list import RowList
from tests.ui.fake_station import record_row

ROWS = [record_row(k) for k in range(50)]


def a_list(shown, size=(560, 400)) -> RowList:
    made = shown(RowList("records"), size=size)
    made.rows.replace(ROWS)
    return made


def test_rows_are_a_finger_high(shown):
    made = a_list(shown)
    assert made.visualRect(made.rows.index(0, 0)).height() >= TARGET_PX


def test_a_row_says_everything_in_words(shown):
    made = a_list(shown)
    said = made.rows.index(3, 0).data()
    for part in ("MR-2227", "Rescue sledge, 46 mm", "rear right", "pass", "QA hold"):
        assert part in said


def test_one_click_is_enough(shown):
    made = a_list(shown)
    place = made.visualRect(made.rows.index(2, 0)).center()
    QTest.mouseClick(made.viewport(), Qt.MouseButton.LeftButton, pos=place)
    assert made.currentIndex().row() == 2


def test_arrows_move(shown):
    made = a_list(shown)
    made.setCurrentIndex(made.rows.index(0, 0))
    QTest.keyClick(made, Qt.Key.Key_Down)
    assert made.currentIndex().row() == 1


def test_more_rows_keep_what_is_chosen(shown):
    made = a_list(shown)
    made.setCurrentIndex(made.rows.index(7, 0))
    made.rows.append([record_row(k) for k in range(50, 60)])
    made.rows.append([])
    assert made.rows.rowCount() == 60
    assert made.currentIndex().row() == 7


def test_nothing_outside_the_rows_is_read(shown):
    made = a_list(shown)
    assert made.rows.data(made.rows.index(0, 0), Qt.ItemDataRole.DecorationRole) is None
    assert made.rows.rowCount(made.rows.index(0, 0)) == 0


def test_the_chosen_row_is_seen_by_more_than_colour(shown):
    made = a_list(shown)
    made.setCurrentIndex(made.rows.index(1, 0))
    image = made.viewport().grab().toImage()
    box = made.visualRect(made.rows.index(1, 0))
    blue = DARK.tones["mandatory"].fill
    assert image.pixelColor(box.left() + 2, box.center().y()).name() == blue
    other = made.visualRect(made.rows.index(2, 0))
    assert image.pixelColor(other.left() + 2, other.center().y()).name() == DARK.panel


def test_narrow_rows_leave_out_rather_than_overlap(shown):
    a_list(shown, size=(220, 300)).grab()


@pytest.mark.parametrize("percent", [100, 130, 150])
@pytest.mark.parametrize(
    "other",
    [
        {"family": "Rescue vehicle rear, 46 mm"},
        {"serial": "MR-9999"},
        {"state": "QA hold"},
        {"technician": "Technician 13"},
    ],
    ids=lambda other: next(iter(other)),
)
def test_units_that_differ_look_different_at_every_text_size(shown, percent, other):
    """At the width of the smallest window."""
    text_scale.choose(percent)
    row = replace(ROWS[0], family="Rescue vehicle front, 46 mm", title="rear left", state="filed")
    made = shown(RowList("records"), size=(566, 400))
    made.rows.replace([row, replace(row, **other)])
    drawn = [
        made.viewport().grab(made.visualRect(made.rows.index(n, 0)).adjusted(8, 0, 0, 0)).toImage()
        for n in range(2)
    ]
    assert drawn[0] != drawn[1]
    made.rows.replace([row, row])
    same = made.viewport().grab(made.visualRect(made.rows.index(1, 0)).adjusted(8, 0, 0, 0))
    assert same.toImage() == drawn[0]
