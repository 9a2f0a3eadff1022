"""Rows of a disc stack are typed in one line."""

import pytest

from benchstation.ui.widgets.forms.stack_line import rows_in


@pytest.mark.parametrize(
    ("text", "rows"),
    [
        ("40 x 0.2 x 2", [["40", "0.2", "2"]]),
        ("40X0,2×2", [["40", "0,2", "2"]]),
        ("1.5 in * 0.008 in * 1", [["1.5 in", "0.008 in", "1"]]),
        ("2 of 40 × 0.20", [["40", "0.20", "2"]]),
        ("40x.2x2; 38 x 0.15 x 1;", [["40", ".2", "2"], ["38", "0.15", "1"]]),
        ("40 x 0.2", [["40", "0.2", ""]]),
        ("40 x 0.2 x 2 x 7", [["40", "0.2", "2 x 7"]]),
        ("40 mm", []),
        ("40", []),
        ("", []),
    ],
)
def test_a_line_is_split_into_rows_of_three(text, rows):
    assert rows_in(text) == rows
