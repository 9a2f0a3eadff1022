"""Text at 100 and 150 %, in small and large windows: nothing outside, nothing cut, all in reach."""

from dataclasses import replace
from itertools import combinations

import pytest
from PySide6.QtCore import QPoint, QRect
from PySide6.QtTest import QTest

from benchstation.ui.shell import text_scale
from benchstation.ui.shell.theme import DARK, SMALL_PX, style_sheet
from benchstation.ui.shell.window import LEAST_SIZE
from tests.ui.every_page import ASIDE, EVERY_PAGE
from tests.ui.fake_moments import MOMENTS, SIDE, pour
from tests.ui.fake_station import FakeHand
from tests.ui.fitting import problems, seen
from tests.ui.long_names import LONG, LONGEST, LongNames

SIZES = ((1280, 800), (1366, 768), (1600, 900), (3840, 2160))
SMALL = (LEAST_SIZE, (1280, 800), (1366, 768))
everywhere = pytest.mark.parametrize("percent", [100, 150])
in_windows = pytest.mark.parametrize("size", SIZES, ids=lambda size: f"{size[0]}x{size[1]}")


def settle() -> None:
    QTest.qWait(40)


def test_a_size_is_named_as_it_is_at_100_percent():
    assert text_scale.px(SMALL_PX) == SMALL_PX
    text_scale.choose(150)
    assert text_scale.px(SMALL_PX) == 21
    assert "font-size: 21px" in style_sheet(DARK)


@pytest.mark.parametrize(("wanted", "taken"), [(100, 100), (50, 100), (120, 115), (400, 150)])
def test_only_the_sizes_offered_are_taken(wanted, taken):
    text_scale.choose(wanted)
    assert text_scale.percent() == taken


def test_steps_end_at_the_ends():
    assert text_scale.stepped(-1) == 100
    assert [text_scale.stepped(n) for n in (1, 2, 3, 4)] == [115, 130, 150, 150]


@everywhere
@in_windows
def test_every_moment_fits(open_bench, percent, size):
    bench = open_bench(pour(), size=size, text_percent=percent)
    found = []
    for name, moment in MOMENTS.items():
        bench.show(moment())
        settle()
        found += [f"{name}: {problem}" for problem in problems(bench.window)]
    assert found == []


@pytest.mark.parametrize("size", SMALL, ids=lambda size: f"{size[0]}x{size[1]}")
@pytest.mark.parametrize("percent", text_scale.PERCENTS)
def test_with_the_hand_in_a_small_window_all_fits_or_scrolls(open_bench, percent, size):
    bench = open_bench(pour(), hand=FakeHand(), size=size, text_percent=percent)
    found = []
    for name, moment in MOMENTS.items():
        bench.show(moment())
        settle()
        found += [f"{name}: {problem}" for problem in problems(bench.window)]
    # The hand stands on the bench alone: the other pages' larger windows have a test below.
    for page in ASIDE if size == LEAST_SIZE else ():
        bench.window.switch(page)
        settle()
        found += [f"{page}: {problem}" for problem in problems(bench.window)]
    assert found == []


@pytest.mark.parametrize("size", SMALL, ids=lambda size: f"{size[0]}x{size[1]}")
@pytest.mark.parametrize("hand", [None, FakeHand()], ids=["", "hand"])
@pytest.mark.parametrize("percent", text_scale.PERCENTS)
def test_what_an_alarm_asks_for_and_its_answer_are_whole(open_bench, percent, hand, size):
    both = MOMENTS["two-alarms"]()
    (answered,) = MOMENTS["acknowledged"]().alarms
    bench = open_bench(both, size=size, text_percent=percent, hand=hand)
    window = bench.window
    for first, alarms in enumerate((both.alarms, (answered, *both.alarms[1:]))):
        bench.show(replace(both, alarms=alarms))
        settle()
        assert problems(window.banners, 200) == []
        # Where there is little height the one that is not the first to hold is a line.
        all_whole = not window.banners.banners[0]._low
        for count, (alarm, banner) in enumerate(zip(alarms, window.banners.banners, strict=True)):
            assert banner.headline.isVisible()
            assert banner.headline.text() == alarm.headline
            if all_whole or count == first:
                assert banner.instruction.isVisible()
                assert banner.instruction.text().startswith(alarm.instruction)
                assert banner.button.isVisible() == bool(alarm.hold_label)
        button = window.banners.banners[first].button
        assert button.isVisible()
        shown = (window.strip, window.banners, window.bench.task, window.status_bar)
        parts = [QRect(w.mapTo(window, QPoint(0, 0)), w.size()) for w in shown]
        assert all(window.rect().contains(part) for part in parts)
        assert not any(one.intersects(other) for one, other in combinations(parts, 2))
        held = QRect(button.mapTo(window, QPoint(0, 0)), button.size())
        assert parts[1].contains(held), "what is to be held is whole without scrolling"


@everywhere
@in_windows
def test_every_page_fits(open_bench, percent, size):
    bench = open_bench(pour(), size=size, text_percent=percent)
    found = []
    for page in ASIDE:
        bench.window.switch(page)
        settle()
        if page == "records":
            opened = bench.window.made["records"]
            opened.list.setCurrentIndex(opened.list.rows.index(3, 0))
            settle()
        assert len(seen(bench.window)) > 20, page
        found += [f"{page}: {problem}" for problem in problems(bench.window)]
    assert found == []


@everywhere
def test_hand_question_and_draft_fit(open_bench, percent):
    bench = open_bench(pour(), hand=FakeHand(), text_percent=percent)
    settle()
    assert problems(bench.window) == []
    bench.window.bench.side.choose(SIDE[1])
    settle()
    assert problems(bench.window) == []
    bench.key("Esc")
    bench.window.switch("specifications")
    settle()
    bench.key("Ctrl+N")
    settle()
    assert problems(bench.window) == []


def choose_row(page) -> None:
    if hasattr(page, "list") and page.list.rows.rowCount() > 3:
        page.list.setCurrentIndex(page.list.rows.index(3, 0))


@pytest.mark.parametrize("hand", [None, FakeHand()], ids=["", "hand"])
@everywhere
def test_names_of_sixty_letters_push_nothing_out(open_bench, percent, hand):
    assert all(len(name) == LONGEST for name in LONG.values())
    bench = open_bench(pour(), text_percent=percent, hand=hand, station=LongNames)
    found = []
    for name, moment in MOMENTS.items():
        bench.show(moment())
        settle()
        found += [f"{name}: {problem}" for problem in problems(bench.window)]
    bench.show(pour())
    assert LONG["MR-2231"] in bench.window.bench.route.title.text()
    for page in ASIDE:
        bench.window.switch(page)
        settle()
        choose_row(bench.window.made[page])
        settle()
        found += [f"{page}: {problem}" for problem in problems(bench.window)]
    assert found == []


def test_keys_change_the_size_in_every_page_that_is_made(open_bench):
    bench = open_bench(pour())
    for page in ASIDE:
        bench.window.switch(page)
        settle()
    bench.window.switch("bench")
    for _ in range(3):
        bench.key("Ctrl++")
    settle()
    assert text_scale.percent() == 150
    assert bench.said == "Text at 150 %."
    for page in EVERY_PAGE:
        bench.window.switch(page)
        settle()
        assert problems(bench.window) == [], page
    bench.key("Ctrl+-")
    assert text_scale.percent() == 130
    bench.key("Ctrl+0")
    settle()
    assert text_scale.percent() == 100
    assert problems(bench.window) == []


def test_the_keys_work_out_of_a_text_field(open_bench):
    bench = open_bench(MOMENTS["next-unit"]())
    bench.type("MR-1")
    bench.key("Ctrl+=")
    assert text_scale.percent() == 115
    assert bench.editor("serial").text() == "MR-1"
