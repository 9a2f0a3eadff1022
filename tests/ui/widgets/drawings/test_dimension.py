"""From where to where a figure is measured, drawn over the unit."""

from dataclasses import replace

import pytest

from benchstation.quantities.units import UnitSystem
from benchstation.screens.specifications.figures import GAS, GEOMETRY, LIMITS, OIL
from benchstation.ui.widgets.drawings.damper import Damper
from benchstation.ui.widgets.drawings.dimension import Dimension, height_of, span_of
from tests.ui.fake_specifications import drawing

VIEW = replace(drawing(262, 0.0, "reference"), guide=0.024)
MARKS = {figure.mark for figure in (*GEOMETRY, *OIL, *GAS, *LIMITS) if figure.mark}


@pytest.mark.parametrize("mark", sorted(MARKS))
def test_every_mark_of_the_catalogue_is_one_of_the_drawing(mark):
    assert (span_of(VIEW, mark) is None) != (height_of(VIEW, mark) is None)


def test_spans_go_from_where_to_where_their_figures_say():
    assert span_of(VIEW, "length") == (0.0, VIEW.length)
    assert span_of(VIEW, "floating") == (VIEW.floating_from, VIEW.floating_to)
    assert span_of(VIEW, "guide") == pytest.approx((VIEW.length, VIEW.length + 0.024))
    assert span_of(VIEW, "piston") == (VIEW.piston_from, VIEW.length)
    assert height_of(VIEW, "bore") == VIEW.bore
    assert span_of(VIEW, "") is None


@pytest.mark.parametrize("mark", ["length", "bore", "rod", "floating", "guide"])
def test_a_dimension_is_drawn_and_goes_again(shown, mark):
    damper = shown(Damper(), size=(460, 200))
    damper.show_drawing(VIEW, UnitSystem.METRIC)
    plain = damper.grab().toImage()
    damper.show_dimension(Dimension(mark, "So long 12 mm"))
    assert damper.grab().toImage() != plain
    damper.show_dimension(None)
    assert damper.grab().toImage() == plain
