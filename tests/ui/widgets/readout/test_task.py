"""The task: what fits is chosen by room, and the reading is never given up."""

import itertools
from dataclasses import replace

import numpy as np
import pytest
from hypothesis import given
from hypothesis import strategies as st
from PySide6.QtCore import Qt
from PySide6.QtTest import QTest
from PySide6.QtWidgets import QApplication

from benchstation.ui.shell.theme import DIGIT_HEIGHT_PX, style_sheet
from benchstation.ui.widgets.plots.trace import MOST_POINTS
from benchstation.ui.widgets.readout.lanes import lane_px
from benchstation.ui.widgets.readout.task import GAP_PX, TRACE_LEAST_PX, Heading, Task, room_for
from tests.ui.fake_moments import MOMENTS, charge, filing, intake, pour, pour_trace, release


@pytest.fixture
def task(shown):
    return shown(Task(), size=(762, 633))


@given(st.integers(-200, 900), st.integers(0, 2), st.booleans())
def test_what_is_shown_fits_and_more_room_never_shows_less(room, lanes, trace):
    some, drawn = room_for(room, lanes, trace=trace)
    assert 0 <= some <= lanes
    assert drawn <= trace
    used = some * lane_px() + (TRACE_LEAST_PX + GAP_PX if drawn else 0)
    assert used <= max(room, 0)
    more = room_for(room + 100, lanes, trace=trace)
    assert more[1] >= drawn
    assert some + drawn <= more[0] + more[1]


def test_with_all_the_room_all_is_shown():
    assert room_for(1000, 2, trace=True) == (2, True)
    assert room_for(1000, 2, trace=False) == (2, False)
    assert room_for(2 * lane_px(), 2, trace=True) == (2, False)
    assert room_for(0, 2, trace=True) == (0, False)


@pytest.mark.parametrize("name", MOMENTS)
@pytest.mark.parametrize("size", [(762, 633), (762, 440), (1000, 733)])
def test_nothing_overlaps_in_any_moment(shown, name, size):
    task = shown(Task(), size=size)
    task.show_task(MOMENTS[name]().task)
    QApplication.processEvents()
    parts = (task.heading, task.cautions, task.primary_readout, task.lanes, task.scroller)
    seen = [part for part in parts if part.isVisible()]
    for above, below in itertools.pairwise(seen):
        assert above.geometry().bottom() <= below.geometry().top()
    assert seen[-1].geometry().bottom() <= task.panel.height()
    assert task.panel.geometry().bottom() < task.action_bar.geometry().top()
    assert task.action_bar.geometry().bottom() <= task.height()


def test_the_cautions_of_a_step_stay_where_the_number_can_give_way(shown):
    task = shown(Task(), size=(762, 480))
    task.show_task(MOMENTS["release"]().task)
    QApplication.processEvents()
    assert task.cautions.isVisible()
    assert 60 < task.primary_readout.big.digit_height_px < DIGIT_HEIGHT_PX


@pytest.mark.parametrize("name", ["pour", "charge", "high-limit", "stale-scale"])
def test_the_number_keeps_its_height_even_under_an_alarm(shown, name):
    task = shown(Task(), size=(762, 480))
    task.show_task(MOMENTS[name]().task)
    QApplication.processEvents()
    assert task.primary_readout.big.digit_height_px >= DIGIT_HEIGHT_PX - 1
    assert task.primary_readout.height() >= task.primary_readout.big.height()


def test_a_form_and_a_number_stand_together(task):
    task.show_task(release().task)
    assert task.primary_readout.isVisible()
    assert task.scroller.isVisible()
    assert [c.words.text() for c in task.cautions.lines] == list(release().task.cautions)


def test_lines_without_a_number_are_a_list(task):
    task.show_task(filing().task)
    assert not task.primary_readout.isVisible()
    texts = [line.words.text() for line in task.plain_lines.lines]
    assert texts == [text for text, _ in filing().task.lines]


def test_many_points_are_drawn_as_few(task):
    task.show_task(replace(pour().task, trace=pour_trace(300_000)))
    assert task.trace.drawn_points <= MOST_POINTS + 2


def test_a_new_step_puts_the_keyboard_into_its_form(task):
    task.show_task(pour().task)
    assert task.window().focusWidget() not in [r.editor for r in task.form.rows]
    task.show_task(intake().task)
    assert task.window().focusWidget() is task.form.rows[0].editor


def test_a_step_without_a_form_takes_the_keyboard_out_of_the_last_one(task):
    task.show_task(intake().task)
    task.show_task(charge().task)
    focused = task.window().focusWidget()
    assert focused is None or not task.isAncestorOf(focused)


def test_a_trace_that_is_gone_leaves_no_panel(task):
    task.show_task(pour().task)
    assert task.trace_panel.isVisible()
    task.show_task(intake().task)
    assert not task.trace_panel.isVisible()


def test_a_trace_of_the_same_arrays_may_be_compared_without_error(task):
    view = pour().task
    for _ in range(3):
        task.show_task(
            replace(
                view,
                trace=replace(
                    view.trace, values=np.array([1.0, 2.0]), seconds=np.array([-1.0, 0.0])
                ),
            )
        )
    assert task.trace.drawn_points == 2


def test_title_and_instruction_share_a_line_where_they_fit(shown):
    heading = shown(Heading(), size=(900, 100))
    heading.setStyleSheet(style_sheet_of(heading))
    heading.show_heading("Oil weigh-in", "Pour into the body.")
    QApplication.processEvents()
    assert heading.title.y() == heading.instruction.y() or heading.instruction.x() > 0
    assert heading.instruction.x() > heading.title.geometry().right()
    heading.resize(200, 100)
    QApplication.processEvents()
    assert heading.instruction.y() > heading.title.y()


def style_sheet_of(widget) -> str:
    return style_sheet(widget.window().theme)


def test_where_alarms_leave_little_room_cautions_go_first_and_then_the_numbers_size(shown):
    moment = charge().task
    task = shown(Task(), size=(760, 620))
    task.show_task(moment)
    whole = task.primary_readout.big.digit_height_px
    assert task.cautions.isVisible()
    task.resize(760, 300)
    task.show_task(moment)
    assert not task.cautions.isVisible()
    assert task.primary_readout.big.digit_height_px < whole
    assert task.primary_readout.big.height() <= task.panel.height()
    task.resize(760, 620)
    task.show_task(moment)
    assert task.cautions.isVisible()
    assert task.primary_readout.big.digit_height_px == whole


def test_tab_goes_from_the_last_field_to_the_actions(task):
    for name in ("sign-in", "next-unit", "intake"):
        task.show_task(MOMENTS[name]().task)
        QApplication.processEvents()
    task.form.rows[-1].editor.setFocus()
    QTest.keyClick(task.form.rows[-1].editor, Qt.Key.Key_Tab)
    assert task.window().focusWidget() is task.action_bar.buttons[0]
