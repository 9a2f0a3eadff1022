"""The bench holds still: over steps, tones, alarms, hand, sizes and text, its places are the same.

The short form samples the moments of two families; the long one takes every moment of all.
"""

from dataclasses import replace
from itertools import product

import pytest
from PySide6.QtCore import QPoint, QRect
from PySide6.QtWidgets import QApplication

from benchstation.demo import shop as demo
from benchstation.screens.model.elements import Tone
from benchstation.ui.shell import text_scale
from benchstation.ui.shell.theme import DIGIT_HEIGHT_PX
from benchstation.ui.widgets.readout.action_slots import placed
from benchstation.ui.widgets.readout.lanes import lane_px
from tests.ui.demo_moments import moments_of
from tests.ui.fake_moments import ALARM, MOMENTS, WARNING, pour
from tests.ui.fake_station import FakeHand
from tests.ui.fitting import problems, problems_now

SIZES = ((1280, 800), (1920, 1080), (3840, 2160))
PERCENTS = (100, 125, 150)
SMALL = "smaller than"
"""Of targets: the cells of a stack may be finer, and have a test of their own."""
ALARMS = ((), (ALARM,), (ALARM, WARNING))
in_windows = pytest.mark.parametrize("size", SIZES, ids=lambda size: f"{size[0]}x{size[1]}")
at_percents = pytest.mark.parametrize("percent", PERCENTS)


def places(window) -> dict[str, tuple[int, ...]]:
    """Return where every button and number of the bench stands, and the parts that hold them."""
    page = window.bench
    task, bar = page.task, page.task.action_bar

    def at(widget) -> tuple[int, ...]:
        return QRect(widget.mapTo(window, QPoint(0, 0)), widget.size()).getRect()

    parts = {
        "strip": window.strip,
        "status bar": window.status_bar,
        "route": page.route,
        "task": task,
        "reason": task.reason,
        "actions": bar,
        "more": page.more,
        "notes": page.notes,
    }
    found = {name: at(part) for name, part in parts.items()}
    # Where no number stands below it, an instruction takes the lines that it needs.
    found["heading"] = at(task.heading)[:3]
    for place, count in enumerate(placed(bar._shown)[0]):
        if count is not None and not bar.asking:
            found[f"action {place}"] = at(bar.buttons[count])
    for name, button in window.status_bar.buttons.items():
        if button.isVisible():
            found[f"page {name}"] = at(button)
    readout = task.primary_readout
    if readout.isVisible():
        big = readout.big
        origin = big.mapTo(window, QPoint(0, 0))
        found["number"] = at(big)
        found["point"] = (origin.x() + round(big.point_x), origin.y() + round(big.base_y))
        if task.lanes.isVisible():
            found["first lane"] = at(task.lanes.lanes[0])[:2]
    return found


def in_all_tones(view):
    """Return a moment, and where it has a number, with that number in every tone and stale."""
    yield view
    big = view.task.big
    if big is not None:
        for tone, stale in product(Tone, (False, True)):
            yield replace(view, task=replace(view.task, big=replace(big, tone=tone, stale=stale)))


def shown_all(bench, views, *, cut_every=1):
    """Show every moment with none, one and two alarms; return what moved and what is cut."""
    first, moved, cut, heights = {}, [], [], set()
    for count, (view, alarms) in enumerate(product(views, ALARMS)):
        bench.show(replace(view, alarms=alarms, switch=None))
        bench.window.bench.drawer.shut()
        for name, where in places(bench.window).items():
            if first.setdefault(name, where) != where:
                moved.append((view.task.title, len(alarms), name, first[name], where))
        if view.task.big is not None:
            heights.add(round(bench.task.primary_readout.big.digit_height_px))
        if count % cut_every == 0 and problems_now(bench.window):
            found = (one for one in problems(bench.window, 200) if not one.startswith(SMALL))
            cut += [f"{view.task.title}, {len(alarms)}: {one}" for one in found]
    return moved, cut, heights


def a_sample(family):
    """Return a few moments of a family: the first of every step."""
    seen, found = set(), []
    for view in moments_of(family):
        if view.task.step_id not in seen:
            seen.add(view.task.step_id)
            found.append(view)
    return found


@pytest.mark.parametrize("percent", [100, 150])
def test_nothing_moves_over_the_steps_of_a_unit_whatever_the_alarms(open_bench, percent):
    bench = open_bench(pour(), text_percent=percent)
    views = [*a_sample("sledge-36"), *(make() for make in MOMENTS.values())]
    moved, cut, heights = shown_all(bench, views, cut_every=4)
    assert moved == []
    assert cut == []
    assert min(heights) >= DIGIT_HEIGHT_PX - 1
    assert len(heights) == 1


def test_no_tone_and_no_hand_moves_anything(open_bench):
    found = []
    for hand in (None, FakeHand()):
        bench = open_bench(pour(), hand=hand)
        views = [v for name in ("pour", "charge", "release") for v in in_all_tones(MOMENTS[name]())]
        moved, _, _ = shown_all(bench, views, cut_every=1000)
        assert moved == []
        found.append({n: w for n, w in places(bench.window).items() if n != "page demo"})
    for name in ("number", "point", "task", "actions", "more", "route"):
        assert found[0][name] == found[1][name]


@in_windows
def test_the_number_is_never_smaller_than_at_100_percent(open_bench, size):
    heights = []
    for percent in PERCENTS:
        bench = open_bench(MOMENTS["two-alarms"](), size=size, text_percent=percent)
        assert bench.task.primary_readout.isVisible()
        heights.append(bench.task.primary_readout.big.digit_height_px)
    assert heights[0] >= DIGIT_HEIGHT_PX - 1
    assert min(heights) == heights[0]


def test_both_lanes_and_the_trace_stand_at_1280_by_800(open_bench):
    for name in ("pour", "charge"):
        bench = open_bench(MOMENTS[name]())
        task = bench.task
        assert [lane.isVisible() for lane in task.lanes.lanes] == [True, True]
        assert task.lanes.height() == 2 * lane_px()
        assert task.trace_panel.isVisible()


@pytest.mark.soak
@pytest.mark.timeout(900)
@pytest.mark.parametrize("hand", [None, FakeHand()], ids=["", "hand"])
@at_percents
@in_windows
@pytest.mark.parametrize("family", demo.LOT_OF)
def test_nothing_moves_and_nothing_is_cut_in_any_moment(open_bench, family, size, percent, hand):
    at_100 = open_bench(pour(), size=size).task.primary_readout.big.digit_height_px
    text_scale.choose(percent)
    bench = open_bench(pour(), size=size, text_percent=percent, hand=hand)
    toned = [shown for view in a_sample(family) for shown in in_all_tones(view)]
    views = [*moments_of(family), *toned]
    moved, cut, heights = shown_all(bench, views)
    QApplication.processEvents()
    assert moved == []
    assert cut == []
    assert min(heights) >= round(at_100)
    assert len(heights) == 1
