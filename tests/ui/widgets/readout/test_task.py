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

from benchstation.ui.shell.theme import DIGIT_HEIGHT_PX
from benchstation.ui.widgets.plots.trace import MOST_POINTS
from benchstation.ui.widgets.readout.heading import MORE_KEY, CautionLine, Heading
from benchstation.ui.widgets.readout.lanes import lane_px
from benchstation.ui.widgets.readout.task import TRACE_LEAST_PX, Task, room_for
from tests.ui.fake_moments import MOMENTS, charge, filing, intake, pour, pour_trace, release


@pytest.fixture
def task(shown):
    return shown(Task(), size=(762, 760))


@given(st.integers(-200, 900), st.integers(0, 2), st.booleans())
def test_what_is_shown_fits_and_more_room_never_shows_less(room, lanes, trace):
    some, drawn = room_for(room, lanes, trace=trace)
    assert 0 <= some <= lanes
    assert drawn <= trace
    used = some * lane_px() + (TRACE_LEAST_PX if drawn else 0)
    assert used <= max(room, 0)
    more = room_for(room + 100, lanes, trace=trace)
    assert more[0] >= some
    assert more[1] >= drawn


def test_with_all_the_room_all_is_shown_and_the_trace_goes_first():
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
    assert seen[-1].geometry().bottom() < task.reason.geometry().top()
    assert task.reason.geometry().bottom() < task.action_bar.geometry().top()
    assert task.action_bar.geometry().bottom() <= task.height()


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
    assert task.cautions.cautions == release().task.cautions


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


def test_what_is_asked_only_later_takes_the_keyboard(task):
    later = release().task
    task.show_task(replace(later, fields=()))
    task.show_task(replace(later, fields=later.fields[:1]))
    ticks = [row.editor for row in task.form.rows]
    assert task.window().focusWidget() is ticks[0]
    QTest.keyClick(ticks[0], Qt.Key.Key_Space)
    second = replace(later.fields[0], id="confirm2")
    task.show_task(replace(later, fields=(later.fields[0], second)))
    focused = task.window().focusWidget()
    assert focused is task.form.rows[1].editor, "the space bar takes back no tick"
    assert task.form.rows[0].editor.isChecked()


def test_what_is_asked_later_leaves_what_is_typed_and_the_space_bar_alone(task):
    form = intake().task
    task.show_task(replace(form, fields=form.fields[:2]))
    typing = task.window().focusWidget()
    QTest.keyClicks(typing, "wee")
    task.show_task(form)
    assert task.window().focusWidget() is task.form.rows[0].editor
    capture = replace(pour().task, fields=())
    task.show_task(capture)
    assert any(action.key == "Space" for action in capture.actions)
    task.show_task(replace(capture, fields=release().task.fields))
    assert task.window().focusWidget() not in [row.editor for row in task.form.rows]


def test_a_new_step_begins_at_the_top_of_its_form(task):
    checks = tuple(replace(release().task.fields[0], id=f"confirm{n}") for n in range(20))
    long = replace(intake().task, fields=checks)
    task.show_task(long)
    QApplication.processEvents()
    bar = task.scroller.verticalScrollBar()
    bar.setValue(bar.maximum())
    assert bar.value() > 0
    task.show_task(replace(long, step_id="next"))
    QApplication.processEvents()
    assert bar.value() == 0


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


def test_an_instruction_stands_beside_the_title_and_below_where_it_is_long(shown):
    heading = shown(Heading(), size=(900, 42))
    heading.show_heading("Oil weigh-in", "Pour into the body.")
    assert heading.instruction.x() > heading.title.geometry().right()
    long = "Pour into the body until the mark is reached. " * 12
    heading.show_heading("Oil weigh-in", long)
    assert heading.below(900)
    heading.resize(900, heading.full_height(900))
    assert heading.instruction.y() > heading.title.y()
    assert heading.instruction.heightForWidth(900) <= heading.instruction.height() + 1


def test_cautions_are_one_line_that_tells_how_to_read_the_rest(shown, qtbot):
    line = shown(CautionLine(), size=(700, 24))
    line.show_cautions(("Nitrogen only.",))
    assert line.words() == ("Nitrogen only.", "")
    many = ("Nitrogen only, through a regulator with a relief device.", *["Stand aside. " * 4] * 3)
    line.show_cautions(many)
    shown_words, more = line.words()
    assert shown_words == many[0]
    assert MORE_KEY in more
    assert "4" in more
    assert all(caution in line.accessibleName() for caution in many)
    with qtbot.waitSignal(line.opened):
        QTest.mouseClick(line, Qt.MouseButton.LeftButton)


@pytest.mark.parametrize("size", [(694, 635), (694, 480), (1130, 900)])
def test_heading_number_and_actions_stand_at_one_place_in_every_moment(shown, size):
    task = shown(Task(), size=size)
    places = set()
    for name in ("pour", "undecided", "stale-scale", "charge", "high-limit", "german-lengths"):
        task.show_task(MOMENTS[name]().task)
        QApplication.processEvents()
        number, bar = task.primary_readout.geometry(), task.action_bar.geometry()
        primary = next(b.geometry() for b in task.action_bar.buttons if b.action.primary)
        places.add((number.top(), bar.getRect(), primary.getRect(), task.heading.y()))
    assert len(places) == 1


def test_tab_goes_from_the_last_field_to_the_actions(task):
    for name in ("sign-in", "next-unit", "intake"):
        task.show_task(MOMENTS[name]().task)
        QApplication.processEvents()
    task.form.rows[-1].editor.setFocus()
    QTest.keyClick(task.form.rows[-1].editor, Qt.Key.Key_Tab)
    assert task.window().focusWidget() is task.action_bar.buttons[0]
