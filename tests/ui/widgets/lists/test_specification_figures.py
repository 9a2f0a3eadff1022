"""Drawing, controls and curves of one specification; a text that cannot be read leaves the last."""

from dataclasses import replace

import pytest
from PySide6.QtTest import QSignalSpy
from PySide6.QtWidgets import QApplication, QBoxLayout

from benchstation.quantities.units import UnitSystem
from benchstation.screens.model.elements import DiscView, StackView, Tone
from benchstation.ui.widgets.lists.specification_figures import LOCKED, OLD, Figures
from tests.ui.fake_specifications import DRAFT, IN_FORCE, checked, opened, source

METRIC = UnitSystem.METRIC
UNREADABLE = checked("", 0.0, "reference")


@pytest.fixture
def figures(shown):
    made = shown(Figures(), size=(640, 600))
    made.show_detail(opened(IN_FORCE, 0.0, "reference"), METRIC, writing=False)
    QApplication.processEvents()
    return made


def test_it_names_what_is_open(figures):
    assert figures.title.text() == IN_FORCE.family
    assert figures.state.text() == "revision 2, in force"
    assert figures.mark.accessibleName() == "normal"
    assert figures.caption.text().startswith("0.0 mm of travel")
    assert figures.damper.isVisible()
    assert [curve.isVisible() for curve in figures.curves] == [True, True]


def test_the_drawing_has_the_height_that_its_scale_needs(figures):
    for width in (900, 480, 640):
        figures.resize(width, 600)
        QApplication.processEvents()
        damper = figures.damper
        assert damper.height() == damper.heightForWidth(damper.width())


def test_knobs_ask_for_another_drawing_by_key_and_by_hand(figures):
    moved = QSignalSpy(figures.moved)
    assert figures.press_key("Alt+Right")
    assert figures.share == 0.1
    assert figures.press_key("Ctrl+3")
    assert figures.at == "hot"
    figures.buttons["cold"].click()
    assert figures.at == "cold"
    assert moved.count() == 3
    assert [b.isChecked() for b in figures.buttons.values()] == [True, False, False]
    figures.buttons["cold"].click()
    assert figures.buttons["cold"].isChecked(), "pressed twice it stays chosen"
    assert moved.count() == 3
    assert not figures.press_key("Ctrl+4")
    for _ in range(3):
        figures.press_key("Alt+Left")
    assert figures.share == 0.0


def test_what_cannot_be_read_leaves_the_last_and_says_so(figures):
    before = figures.caption.text()
    figures.show_detail(UNREADABLE, METRIC, writing=True)
    assert figures.caption.text() == before
    assert figures.damper.isVisible()
    assert figures.subtitle.text() == OLD
    assert figures.mark.accessibleName() == "caution"
    figures.show_detail(checked(source(3), 0.0, "hot"), METRIC, writing=True)
    assert not figures.subtitle.isVisible()
    assert figures.state.text() == "being written"


def test_what_cannot_be_read_with_nothing_before_shows_no_figures(figures):
    figures.show_nothing("Choose one.")
    assert figures.empty.text() == "Choose one."
    assert not figures.controls.isVisible()
    figures.show_detail(UNREADABLE, METRIC, writing=False)
    assert not figures.damper.isVisible()
    assert not figures.controls.isVisible()
    assert not any(curve.isVisible() for curve in figures.curves)
    assert figures.notice.words.text() == UNREADABLE.problems[0]
    assert not figures.empty.isVisible()


def test_a_unit_that_locks_solid_is_not_drawn_but_told(figures):
    locked = replace(opened(DRAFT, 0.0, "hot"), drawing=None)
    figures.show_detail(locked, METRIC, writing=False)
    assert not figures.damper.isVisible()
    assert figures.notice.words.text() == LOCKED
    assert figures.controls.isVisible(), "the way back to another temperature"


def test_curves_stand_side_by_side_where_they_find_room(figures):
    assert figures.plots.direction() is QBoxLayout.Direction.LeftToRight
    figures.resize(430, 600)
    QApplication.processEvents()
    assert figures.plots.direction() is QBoxLayout.Direction.TopToBottom
    one, other = figures.curves
    assert one.geometry().bottom() < other.geometry().top()


def test_curves_give_way_before_anything_must_be_scrolled(figures, qtbot):
    bar = figures.scroller.verticalScrollBar()
    for height in (1000, 500, 480):
        figures.resize(640, height)
        qtbot.waitUntil(lambda: bar.maximum() == 0, timeout=500)
        assert all(curve.height() >= 150 for curve in figures.curves)
    figures.resize(640, 380)
    qtbot.waitUntil(lambda: bar.maximum() > 0, timeout=500)


def test_a_specification_with_fewer_curves_hides_the_others(figures):
    detail = opened(IN_FORCE, 0.0, "reference")
    figures.show_detail(replace(detail, curves=detail.curves[:1]), METRIC, writing=False)
    assert [curve.isVisible() for curve in figures.curves] == [True, False]


def test_the_stacks_are_drawn_where_there_are_some_and_go_with_them(figures):
    assert figures.stacks == []
    view = StackView((DiscView(0.04, 0.0002, 3),), 0.046, 0.012, (("3 discs", Tone.PLAIN),))
    named = (("Compression stack, 3 discs", view), ("Rebound stack, 3 discs", view))
    shown = replace(opened(IN_FORCE, 0.0, "reference"), stacks=named)
    figures.show_detail(shown, METRIC, writing=True)
    assert [stack.isVisibleTo(figures) for stack in figures.stacks] == [True, True]
    assert figures.stacks[0].name.text() == "Compression stack, 3 discs"
    assert len(figures.stacks[0].drawing.places()) == 1
    figures.show_detail(opened(IN_FORCE, 0.0, "reference"), METRIC, writing=True)
    assert [stack.isVisibleTo(figures) for stack in figures.stacks] == [False, False]
