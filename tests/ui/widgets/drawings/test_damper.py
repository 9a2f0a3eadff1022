"""The drawing is to scale: measured in the pixels that are drawn, along and across."""

import itertools
from dataclasses import replace

import pytest
from PySide6.QtGui import QColor

from benchstation.quantities.units import UnitSystem
from benchstation.ui.shell.theme import DARK, LIGHT
from benchstation.ui.widgets.drawings.damper import (
    BEHIND,
    BODY,
    FLOATING,
    NITROGEN,
    OIL,
    PISTON,
    ROD,
    Damper,
)
from tests.ui.fake_specifications import BORE, LENGTH, STROKE, drawing

WIDTH = 700
PARTS = (BODY, NITROGEN, FLOATING, OIL, PISTON, BEHIND, ROD)


def a_damper(shown, travel=0.0, at="reference", *, theme=DARK, width=WIDTH) -> Damper:
    made = Damper()
    made.show_drawing(drawing(262, travel, at), UnitSystem.METRIC)
    return shown(made, size=(width, made.heightForWidth(width)), theme=theme)


def near(colour: QColor, wanted: str, within: int = 60) -> bool:
    other = QColor(wanted)
    pairs = zip(colour.getRgb()[:3], other.getRgb()[:3], strict=True)
    return all(abs(a - b) < within for a, b in pairs)


def middles(hits: list[int]) -> list[float]:
    """Return the middle of each run of neighbours."""
    runs: list[list[int]] = []
    for hit in hits:
        if runs and hit == runs[-1][-1] + 1:
            runs[-1].append(hit)
        else:
            runs.append([hit])
    return [(run[0] + run[-1]) / 2 + 0.5 for run in runs]


def edges_along(made: Damper, theme=DARK) -> list[float]:
    """Measure the outlines of both pistons, in pixels from the left: beside the rod, off lines."""
    image = made.grab().toImage()
    tube = made.parts()[BODY]
    y = round(tube.center().y() + 0.175 * tube.height())
    inside = range(round(tube.left()) + 1, round(tube.right()) - 1)
    return middles([x for x in inside if near(image.pixelColor(x, y), theme.text)])


@pytest.mark.parametrize(("travel", "at"), [(0.0, "reference"), (0.5, "hot"), (1.0, "cold")])
def test_lengths_along_are_to_scale(shown, travel, at):
    made, view = a_damper(shown, travel, at), drawing(262, travel, at)
    scale = made.scale(WIDTH)
    start = made.parts()[BODY].left()
    wanted = (view.floating_from, view.floating_to, view.piston_from, view.piston_to)
    measured = [(edge - start) / scale for edge in edges_along(made)]
    assert measured == pytest.approx(wanted, abs=1.2 / scale)


def test_across_has_the_same_scale_as_along(shown):
    made = a_damper(shown)
    image, scale, tube = made.grab().toImage(), made.scale(WIDTH), made.parts()[BODY]
    x = round(tube.left() + 0.4 * tube.width())
    column = [image.pixelColor(x, y).name() for y in range(image.height())]
    wall = [y for y, colour in enumerate(column) if colour == DARK.quiet]
    gaps = [b - a for a, b in itertools.pairwise(wall)]
    # The walls' edges lie between pixels.
    assert max(gaps) - 1 == pytest.approx(BORE * scale, abs=2)
    rod = made.parts()[ROD]
    x, around = round(rod.right() - 12), rod.toRect().adjusted(0, -2, 0, 2)
    rows = range(around.top(), around.bottom() + 1)
    top, bottom = middles([y for y in rows if near(image.pixelColor(x, y), DARK.text)])
    assert bottom - top == pytest.approx(0.014 * scale, abs=1.2)


def test_the_parts_fill_the_tube_and_the_rod_stands_out(shown):
    made = a_damper(shown, 0.4)
    parts, scale = made.parts(), made.scale(WIDTH)
    assert set(parts) == set(PARTS)
    for one, other in ((NITROGEN, FLOATING), (FLOATING, OIL), (OIL, PISTON), (PISTON, BEHIND)):
        assert parts[one].right() == pytest.approx(parts[other].left())
    assert parts[BEHIND].right() == pytest.approx(parts[BODY].right())
    out = parts[ROD].right() - parts[BODY].right()
    assert out == pytest.approx(0.6 * STROKE * scale)


def test_the_scale_does_not_change_while_the_rod_moves(shown):
    made = a_damper(shown, 0.0)
    before = made.scale(WIDTH)
    for travel in (0.3, 1.0, 0.0):
        made.show_drawing(drawing(262, travel, "hot"), UnitSystem.METRIC)
        assert made.scale(WIDTH) == before


def test_a_long_rod_finds_room_too(shown):
    view = replace(drawing(262, 0.0, "reference"), rod_out=0.25)
    made = a_damper(shown)
    made.show_drawing(view, UnitSystem.METRIC)
    assert made.parts()[ROD].right() <= WIDTH
    made.show_drawing(replace(view, rod_out=0.0), UnitSystem.METRIC)
    assert made.parts()[BODY].right() < 0.55 * WIDTH, "room is kept for when it comes out again"
    made.show_drawing(replace(view, length=0.2, rod_out=0.0), UnitSystem.METRIC)
    assert made.parts()[BODY].right() > 0.55 * WIDTH, "another unit has its own scale"


@pytest.mark.parametrize("theme", [DARK, LIGHT])
def test_gas_oil_and_metal_differ_by_pattern_and_not_only_by_colour(shown, theme):
    image = (made := a_damper(shown, 0.5, theme=theme)).grab().toImage()
    patterns = {}
    for name in (NITROGEN, OIL, FLOATING, PISTON):
        box = made.parts()[name].toRect().adjusted(4, 4, -4, -4)
        # The right third has no line to a word.
        box.setLeft(box.left() + 2 * box.width() // 3)
        base = image.pixelColor(box.right(), box.center().y()).lightnessF()
        patterns[name] = tuple(
            abs(image.pixelColor(box.left() + dx, box.center().y() + dy).lightnessF() - base) > 0.05
            for dy in range(8)
            for dx in range(min(8, box.width()))
        )
    assert len(set(patterns.values())) == 4
    assert all(any(p) and not all(p) for p in patterns.values())


@pytest.mark.parametrize("width", [380, 700, 900])
@pytest.mark.parametrize("travel", [0.0, 0.5, 1.0])
def test_no_word_covers_another(shown, width, travel):
    made = a_damper(shown, travel, "hot", width=width)
    labels = made.labels()
    assert [label.text for label in labels[-1:]] == ["100 mm"]
    assert {label.text for label in labels[:-1]} == {NITROGEN, FLOATING, OIL, PISTON, ROD, BODY}
    for one, other in itertools.combinations(labels, 2):
        assert not one.box.intersects(other.box), (one.text, other.text)
    tube = made.parts()[BODY]
    for label in labels:
        assert made.rect().contains(label.box.toAlignedRect()), label.text
        assert not label.box.intersects(tube)
    for label in labels[:-1]:
        part = made.parts()[label.text].adjusted(-5, -5, 5, 5)
        assert part.contains(label.point), label.text


@pytest.mark.parametrize(
    ("system", "long_m", "words"),
    [(UnitSystem.METRIC, 0.100, "100 mm"), (UnitSystem.INCH_POUND, 0.127, "5 in")],
)
def test_the_ruler_is_a_round_length_to_scale(shown, system, long_m, words):
    made = a_damper(shown)
    made.show_drawing(drawing(262, 0.0, "reference"), system)
    image, scale, ruler = made.grab().toImage(), made.scale(WIDTH), made.labels()[-1]
    y = round(ruler.point.y())
    line = [x for x in range(WIDTH) if near(image.pixelColor(x, y), DARK.quiet, 30)]
    drawn = [x for x in line if x > ruler.box.right() + 2]
    assert drawn[-1] - drawn[0] == pytest.approx(long_m * scale, abs=2.5)
    assert ruler.text == words


def test_a_screen_reader_hears_the_caption(shown):
    made = a_damper(shown, 0.5)
    assert made.accessibleName() == "the unit, drawn to scale"
    assert made.accessibleDescription().startswith("75.0 mm of travel")


def test_nothing_is_drawn_before_there_is_something(shown):
    made = shown(Damper(), size=(300, 100))
    assert made.parts() == {}
    assert made.scale(300) == 0.0
    made.grab()


def test_the_height_follows_the_width(shown):
    made = a_damper(shown)
    assert made.heightForWidth(900) > made.heightForWidth(400) >= 96
    assert made.parts()[BODY].width() == pytest.approx(LENGTH * made.scale(WIDTH))
