"""The bench page: actions by key, typing that stays typing, results and refusals in words."""

from dataclasses import replace

import pytest
from PySide6.QtCore import QPoint, QRect

from benchstation.driver_api.errors import StationError
from benchstation.screens.model.elements import ActionView, TaskView
from tests.ui.fake_moments import (
    SIDE,
    charge,
    filing,
    german_lengths,
    intake,
    moment,
    next_unit,
    pour,
    release,
    sign_in,
    stale_scale,
    undecided,
)
from tests.ui.fake_station import REFUSED, FakeHand
from tests.ui.fitting import problems_now


def acts(bench) -> list[str]:
    return [action for action, _ in bench.station.acted]


@pytest.mark.parametrize(
    ("view", "key", "action"),
    [
        (pour, "T", "tare"),
        (pour, "Space", "capture"),
        (pour, "Ctrl+U", "units"),
        (pour, "Ctrl+L", "sign_out"),
        (filing, "Return", "file"),
        (filing, "Enter", "file"),
    ],
)
def test_every_action_is_on_its_key(open_bench, view, key, action):
    bench = open_bench(view())
    bench.key(key)
    assert acts(bench) == [action]


def test_shift_is_another_key(open_bench):
    bench = open_bench(pour())
    bench.key("Shift+T")
    assert acts(bench) == []


def test_what_is_typed_into_a_field_is_text_and_never_an_action(open_bench):
    view = intake()
    keys = (ActionView("tare", "Tare", "T"), ActionView("capture", "Capture", "Space"))
    view = replace(view, task=replace(view.task, actions=(*keys, *view.task.actions)))
    bench = open_bench(view)
    bench.type("Trail sledge, wet T")
    assert acts(bench) == []
    assert bench.editor("condition").text() == "Trail sledge, wet T"
    bench.key("Esc")
    bench.key("T")
    assert acts(bench) == ["tare"]


def test_editing_keys_stay_with_the_field(open_bench):
    bench = open_bench(intake())
    bench.type("wrong words")
    bench.key("Ctrl+Delete")
    assert acts(bench) == []
    assert not bench.task.action_bar.question.isVisible()


def test_enter_goes_through_the_form_and_then_signs(open_bench):
    bench = open_bench(intake())
    bench.type("weeping")
    bench.key("Return")
    bench.type("13.5 bar")
    bench.key("Return")
    bench.key("Return")
    bench.key("Space")
    assert acts(bench) == ["typed"], "the bench hears of a tick at once, and signs nothing"
    bench.key("Return")
    assert bench.station.acted[1:] == [
        (
            "sign",
            {"condition": "weeping", "pressure": "13.5 bar", "note": "", "confirm1": "yes"},
        )
    ]


def test_what_is_typed_survives_thirty_refreshes_a_second(open_bench, qtbot):
    bench = open_bench(intake())
    bench.type("weep")
    for count in range(20):
        view = intake()
        bench.show(replace(view, clock=f"Wed 14:{count:02d}"))
    bench.type("ing")
    assert bench.editor("condition").text() == "weeping"
    assert bench.window.focusWidget() is bench.editor("condition")


def test_the_next_step_starts_empty_with_the_keyboard_in_its_form(open_bench):
    bench = open_bench(intake())
    bench.type("weeping")
    bench.show(next_unit())
    assert bench.window.focusWidget() is bench.editor("serial")
    bench.show(intake())
    assert bench.editor("condition").text() == ""


def test_a_pin_is_sent_once_and_forgotten(open_bench):
    bench = open_bench(sign_in())
    bench.editor("person").setCurrentIndex(0)
    bench.editor("pin").setFocus()
    bench.type("123456")
    bench.key("Return")
    assert bench.station.acted == [("sign_in", {"person": "p1", "pin": "123456"})]
    assert bench.editor("pin").text() == ""
    assert bench.editor("person").currentData() == "p1"


def test_a_result_is_told(open_bench, qtbot):
    bench = open_bench(pour())
    bench.key("T")
    qtbot.waitUntil(lambda: bench.said == "tare: done.", timeout=1000)


def test_an_error_says_where_what_and_what_next(open_bench, qtbot):
    bench = open_bench(pour())
    bench.station.failure = REFUSED
    bench.key("Space")
    qtbot.waitUntil(lambda: bench.refused == str(REFUSED), timeout=1000)
    assert str(REFUSED) not in bench.foot, "the foot is for what happened"
    bench.station.failure = None
    bench.key("Space")
    qtbot.waitUntil(lambda: bench.said == "capture: done.", timeout=1000)
    assert bench.refused == ""


WRONG_FIELD = StationError("12 is no pressure that a unit has.", field="as_found.pressure")


def test_a_wrong_field_says_so_itself_until_it_is_typed_into(open_bench, qtbot):
    bench = open_bench(intake())
    bench.type("weeping")
    bench.station.failure = WRONG_FIELD
    bench.click(bench.button("sign"))
    row = next(row for row in bench.task.form.rows if row.field.id == "pressure")
    qtbot.waitUntil(row.error.isVisible, timeout=1000)
    assert row.error.text() == str(WRONG_FIELD)
    assert row.editor.property("wrong") == "yes"
    assert bench.window.focusWidget() is row.editor
    assert row.error.font().pixelSize() >= 19
    assert row.error.heightForWidth(row.error.width()) <= row.error.height()
    assert bench.task.reason.refused == "", "it stands in one place"
    bench.type("1")
    assert not row.error.isVisible()
    assert not row.editor.property("wrong")


def test_a_long_refusal_is_whole_and_moves_nothing(open_bench, qtbot):
    bench = open_bench(pour())
    bar, number = bench.task.action_bar.geometry(), bench.task.primary_readout.geometry()
    bench.station.failure = StationError("the tare is lost. " * 14)
    bench.key("Space")
    qtbot.waitUntil(lambda: bool(bench.task.reason.refused), timeout=1000)
    words = bench.task.reason.words
    assert words.fontMetrics().height() >= 16
    assert problems_now(bench.window) == []
    assert bench.task.action_bar.geometry() == bar
    assert bench.task.primary_readout.geometry() == number
    assert not bench.task.reason.geometry().intersects(number)


def test_a_refusal_does_not_outlive_its_reason(open_bench):
    bench = open_bench(stale_scale())
    bench.key("T")
    assert bench.task.reason.refused == "Tare: the scale gives no valid reading"
    bench.show(pour())
    assert bench.refused == ""


def test_an_action_under_way_is_not_done_twice(open_bench, qtbot):
    bench = open_bench(pour())
    bench.station.later = True
    bench.key("T")
    bench.key("T")
    bench.click(bench.button("tare"))
    assert acts(bench) == ["tare"]
    assert bench.said == "Working…"
    bench.station.settle()
    qtbot.waitUntil(lambda: bench.said == "tare: done.", timeout=1000)
    bench.key("T")
    assert acts(bench) == ["tare", "tare"]


@pytest.mark.parametrize(
    ("view", "key", "why"),
    [
        (stale_scale, "Space", "Capture when steady: the scale gives no valid reading"),
        (stale_scale, "T", "Tare: the scale gives no valid reading"),
        (release, "Return", "Sign this step: still under pressure: not within ± 0.10 bar"),
        (charge, "H", "Hold test: capture the charge first"),
    ],
)
def test_a_disabled_action_says_why_above_it_and_to_its_key(open_bench, view, key, why):
    bench = open_bench(view())
    if bench.task.form.rows:
        bench.key("Esc")
    bench.key(key)
    assert acts(bench) == []
    assert bench.refused == why
    assert bench.foot == "", "the foot is for what happened"
    action = next(a for a in view().task.actions if a.label == why.partition(":")[0])
    assert bench.button(action.id).accessibleDescription() == action.why_not


def test_a_quiet_action_that_needs_a_reason_asks_in_the_middle(open_bench):
    bench = open_bench(pour())
    bench.key("Ctrl+B")
    assert acts(bench) == []
    assert bench.window.focusWidget() is bench.task.action_bar.question.reason
    bench.type("wrong kit")
    bench.key("Return")
    assert bench.station.acted == [("back", {"reason": "wrong kit"})]


def test_a_question_whose_answer_was_refused_comes_back_with_its_words(open_bench, qtbot):
    bench = open_bench(pour())
    bench.station.failure = StationError("say it in words.", field="reason")
    bench.key("Ctrl+B")
    bench.type("wrong kit")
    bench.key("Return")
    question = bench.task.action_bar.question
    qtbot.waitUntil(lambda: bool(bench.task.reason.refused), timeout=1000)
    assert question.isVisible()
    assert question.reason.text() == "wrong kit"
    bench.show(charge())
    assert not question.isVisible()


def test_a_question_is_left_by_esc_and_goes_with_the_step(open_bench):
    bench = open_bench(pour())
    bench.key("Ctrl+Delete")
    bench.key("Esc")
    assert acts(bench) == []
    bench.key("Ctrl+Delete")
    bench.show(charge())
    assert not bench.task.action_bar.question.isVisible()
    assert not bench.window.focusWidget() or not bench.window.focusWidget().isHidden()


def test_clicking_an_action_leaves_the_keyboard_with_the_page(open_bench):
    bench = open_bench(pour())
    bench.click(bench.button("tare"))
    bench.key("Space")
    assert acts(bench) == ["tare", "capture"]


def test_numbers_from_the_station_are_what_is_shown(open_bench):
    bench = open_bench(pour())
    assert bench.task.primary_readout.big.shown.number == "34.5"
    assert [lane.shown.title for lane in bench.task.lanes.lanes] == [
        "whole pour",
        "last part, enlarged",
    ]
    assert bench.task.trace.isVisible()
    assert len(bench.window.bench.why.terms.terms) == 13
    assert bench.window.bench.route.rows[4].shown.title == "Oil weigh-in"


def test_why_and_standing_words_follow_the_step(open_bench):
    bench = open_bench(pour())
    assert bench.window.bench.why.isVisible()
    bench.show(intake())
    assert not bench.window.bench.why.isVisible()
    assert "only watches and warns" in bench.window.bench.notes.text()


@pytest.mark.parametrize("size", [(1280, 800), (1600, 900), (1920, 1080)])
@pytest.mark.parametrize("view", [pour, undecided, charge, release, german_lengths])
def test_columns_do_not_overlap_and_end_above_the_foot(open_bench, view, size):
    bench = open_bench(view(), size=size, hand=FakeHand())
    page = bench.window.bench
    assert page.left.geometry().right() < page.task.geometry().left()
    assert page.task.geometry().right() < page.right.geometry().left()
    assert page.right.geometry().right() <= page.width()
    assert page.task.geometry().bottom() <= page.height()


def test_a_demonstration_has_its_hand_on_keys_too(open_bench):
    hand = FakeHand()
    bench = open_bench(pour(), hand=hand)
    bench.down("Alt+P")
    bench.up("Alt+P")
    assert hand.done == [("pour", 0.5), ("pour", 0.0)]
    assert acts(bench) == []


def test_a_task_without_anything_is_drawn_too(open_bench):
    bench = open_bench(moment(TaskView("bare", "Nothing to do", "")))
    assert bench.task.heading.title.text() == "Nothing to do"
    assert not bench.task.heading.instruction.isVisible()
    bench.key("Return")
    assert acts(bench) == []


@pytest.mark.parametrize("percent", [100, 150])
def test_the_serial_never_leaves_while_a_unit_is_worked_on(open_bench, percent):
    """The intake asks to compare it: many actions and the virtual hand take none of its room."""
    more = tuple(
        ActionView(f"more{n}", "Earlier rebuilds", f"Ctrl+{n}", False, "none is filed")
        for n in range(4)
    )
    crowded = replace(pour(), side_actions=(*SIDE, *more))
    bench = open_bench(crowded, hand=FakeHand(), text_percent=percent)
    route = bench.window.bench.route
    assert route.isVisible()
    assert "MR-2231" in route.title.text()
    bench.key("Alt+M")
    side = bench.window.bench.side
    assert all(b.isVisible() and b.height() >= b.height_for(b.width()) for b in side.buttons)


def test_the_drawer_comes_and_goes_by_key_and_leaves_the_number_in_sight(open_bench):
    bench = open_bench(pour())
    drawer = bench.window.bench.drawer
    assert not drawer.isVisible()
    bench.key("Alt+M")
    assert drawer.isVisible()
    number = bench.task.primary_readout
    place = QRect(number.mapTo(bench.window, QPoint(0, 0)), number.size())
    over = QRect(drawer.mapTo(bench.window, QPoint(0, 0)), drawer.size())
    assert not place.intersects(over)
    bench.key("Esc")
    assert not drawer.isVisible()
    bench.click(bench.window.bench.more)
    assert drawer.isVisible()
    bench.key("Ctrl+L")
    assert acts(bench) == ["sign_out"]


def test_what_is_done_in_the_drawer_closes_it(open_bench):
    bench = open_bench(pour())
    bench.key("Alt+M")
    bench.click(bench.button("units"))
    assert acts(bench) == ["units"]
    assert not bench.window.bench.drawer.isVisible()


def test_an_action_without_a_place_of_its_own_is_in_the_drawer_and_on_its_key(open_bench):
    bench = open_bench(undecided())
    bar, drawer = bench.task.action_bar, bench.window.bench.drawer
    assert [b.isVisible() for b in bar.buttons] == [True, True, False, True]
    bench.key("Alt+M")
    assert [b.action.id for b in drawer.more.buttons if b.isVisible()] == ["sign"]
    assert drawer.more.buttons[0].action.why_not == "the fill is not decided"


def test_a_choice_of_many_ways_is_open_until_one_is_taken(open_bench):
    ways = tuple(ActionView(f"way{n}", f"Way {n}", f"{n}") for n in range(6))
    menu = replace(pour(), task=replace(pour().task, step_id="oil-ways", actions=ways))
    bench = open_bench(pour())
    bench.show(menu)
    drawer = bench.window.bench.drawer
    assert drawer.isVisible()
    seen = {
        b.action.id for b in (*bench.task.action_bar.buttons, *drawer.more.buttons) if b.isVisible()
    }
    assert seen == {way.id for way in ways}
    bench.show(pour())
    assert not drawer.isVisible()
