"""A window that no fill fits into says so; it never shows a least above its most."""

import pytest

from benchstation.physics.damper import FillWindow, Limit
from benchstation.quantities.formatter import METRIC
from benchstation.screens.fill_words import fill_terms

ENDS = (Limit.CLEARANCE, Limit.HOT_PRESSURE)


def test_both_ends_say_what_limits_them():
    least, most = fill_terms(FillWindow(247.8e-6, 290.5e-6, *ENDS), METRIC)
    assert (least.value, most.value) == ("247.8 mL", "290.5 mL")
    assert Limit.CLEARANCE.value in least.source
    assert Limit.HOT_PRESSURE.value in most.source


def test_an_empty_one_says_that_no_fill_fits():
    (only,) = fill_terms(FillWindow(375.9e-6, 367.9e-6, *ENDS), METRIC)
    assert only.value == "no fill fits"
    assert not any(figure in f"{only}" for figure in ("375.9", "367.9"))
    assert all(limit.value in only.source for limit in ENDS)


@pytest.mark.parametrize("ends", [(None, Limit.HOT_PRESSURE), (Limit.CLEARANCE, None)])
def test_an_open_end_is_limited_by_nothing(ends):
    said = " ".join(term.source for term in fill_terms(FillWindow(1e-6, 2e-6, *ends), METRIC))
    assert "limited by: nothing" in said
