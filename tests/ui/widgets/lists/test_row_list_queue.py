"""The queue's rows: whatever tells two units apart is drawn, at every size of text."""

from dataclasses import replace

import pytest

from benchstation.ui.shell import text_scale
from benchstation.ui.widgets.lists.row_list import RowList
from tests.ui.fake_queue import FRONT, QUEUE, REAR

BY_PERCENT = {100: 519, 115: 519, 130: 415, 150: 415}
"""How wide the list is in the smallest window, 1280 pixels."""
ROW = replace(QUEUE.rows[3], serial="MR-32017", family=FRONT, due="2026-11-27")


@pytest.fixture(params=BY_PERCENT)
def drawn(shown, request):
    """Draw a row at a text size into the smallest window's list."""
    text_scale.choose(request.param)

    def draw(row, line=None):
        made = shown(RowList("queue"), size=(BY_PERCENT[request.param], 600))
        made.rows.replace([replace(ROW, serial="other"), row])
        box = made.visualRect(made.rows.index(1, 0))
        count = 3 if text_scale.is_large() else 2
        if line is not None:
            high = box.height() // count
            box = box.adjusted(0, line * high, 0, 0)
            box.setHeight(high)
        return made.viewport().grab(box).toImage()

    return draw


@pytest.mark.parametrize(
    "other",
    [
        {"family": REAR},
        {"serial": "MR-32018"},
        {"position": "front right"},
        {"order": "A-1206"},
        {"due": "2026-11-28"},
        {"state": "set aside"},
        {"late": True},
    ],
    ids=lambda other: next(iter(other)),
)
def test_units_that_differ_look_different(drawn, other):
    assert drawn(replace(ROW, **other)) != drawn(ROW)


def test_a_long_family_is_cut_in_its_middle(drawn):
    """What stands at the front is the vehicle, at the back the size: both stay."""
    family = "Bergrettungsfahrzeug, Hinterachse mit Niveauausgleich, 46 mm"
    row = replace(ROW, family=family)
    assert drawn(replace(ROW, family=family.replace("46", "50"))) != drawn(row)
    assert drawn(replace(ROW, family=family.replace("Berg", "Wald"))) != drawn(row)


def test_a_unit_that_is_not_scanned_yet_says_so_beside_its_position(drawn):
    row = replace(ROW, serial="")
    assert drawn(replace(row, position="rear left"), 0) != drawn(row, 0)
    assert drawn(row, 0) != drawn(ROW, 0)


def test_large_text_takes_a_line_more(shown):
    made = shown(RowList("queue"), size=(500, 400))
    made.rows.replace([ROW])
    two = made.visualRect(made.rows.index(0, 0)).height()
    text_scale.choose(150)
    made.rescale()
    made.doItemsLayout()
    assert made.visualRect(made.rows.index(0, 0)).height() > 1.6 * two
