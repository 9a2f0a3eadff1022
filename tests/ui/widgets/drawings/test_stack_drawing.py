import itertools

import pytest

from benchstation.screens.model.elements import DiscView, StackView, Tone
from benchstation.ui.widgets.drawings.stack_drawing import (
    FOOT_PX,
    MOST_TIMES,
    PISTON_PX,
    StackDrawing,
)

DISCS = (
    DiscView(0.040, 0.0002, 3),
    DiscView(0.036, 0.00015, 1, "changed"),
    DiscView(0.030, 0.0003, 1, "added"),
)


def view(discs=DISCS, hub=0.012):
    return StackView(discs, 0.046, hub, (("5 discs", Tone.PLAIN),))


@pytest.fixture
def drawing(shown):
    made = shown(StackDrawing(), size=(400, 260))
    made.show_stack(view())
    return made


def test_diameters_have_one_scale_and_thicknesses_another(drawing):
    across, along = drawing.scales()
    for disc, place in drawing.places():
        assert place.width() == pytest.approx(disc.outer * across)
        assert place.height() == pytest.approx(disc.thickness * disc.count * along)
    assert along > across


def test_discs_lie_on_each_other_below_the_piston_and_above_the_foot(drawing):
    places = [place for _, place in drawing.places()]
    assert places[0].top() == PISTON_PX
    for upper, lower in itertools.pairwise(places):
        assert lower.top() == pytest.approx(upper.bottom())
        assert lower.center().x() == pytest.approx(upper.center().x())
    assert places[-1].bottom() <= drawing.height() - FOOT_PX + 0.01


def test_a_single_thin_disc_is_not_drawn_as_a_block(drawing):
    drawing.show_stack(view(DISCS[:1]))
    across, along = drawing.scales()
    assert along <= MOST_TIMES * across


@pytest.mark.parametrize("discs", [(), DISCS, DISCS * 20])
def test_any_stack_can_be_drawn(drawing, discs):
    drawing.show_stack(view(discs, hub=0.0))
    drawing.grab()
    assert len(drawing.places()) == len(discs)


def test_a_mark_changes_more_than_the_colour(drawing):
    """Each kind of disc has other pixels in one hue too: a pattern goes with the colour."""
    image = drawing.grab().toImage()
    by_mark = {disc.mark: place for disc, place in drawing.places()}

    def tones(mark):
        place = by_mark[mark]
        y = round(place.center().y())
        return {image.pixelColor(x, y).lightness() for x in range(30, 80)}

    assert len(tones("changed")) > len(tones("same"))


def test_beside_a_specified_stack_it_is_a_half_section(drawing):
    """Left of the axis what is specified, right what was entered, to one scale."""
    drawing.show_stack(StackView(DISCS[:2], 0.046, 0.012, (("4 discs", Tone.PLAIN),), DISCS))
    across, along = drawing.scales()
    middle = across * 0.046 / 2
    for disc, place in drawing.specified_places():
        assert place.right() == pytest.approx(middle)
        assert place.width() == pytest.approx(disc.outer / 2 * across)
        assert place.height() == pytest.approx(disc.thickness * disc.count * along)
    for _, place in drawing.places():
        assert place.left() == pytest.approx(middle)
    assert len(drawing.specified_places()) == 3
    drawing.grab()
