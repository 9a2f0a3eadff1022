"""Text at 100 and 150 %, in small and large windows: nothing outside, nothing cut, all in reach."""

import pytest
from PySide6.QtTest import QTest

from benchstation.ui import text_scale
from benchstation.ui.theme import DARK, SMALL_PX, style_sheet
from tests.ui.fake_moments import MOMENTS, SIDE, pour
from tests.ui.fake_station import FakeHand
from tests.ui.fitting import problems, seen

SIZES = ((1280, 800), (1600, 900), (3840, 2160))
PAGES = ("queue", "records", "specifications", "instruments", "people", "stores", "help")
CROWDED = (150, (1280, 800), "two-alarms")
"""Two alarms that want an answer leave no height for the side's actions and the notes as well."""
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
        crowded = (percent, size, name) == CROWDED
        found += [f"{name}: {problem}" for problem in problems(bench.window) if not crowded]
    assert found == []


def test_with_the_largest_text_two_alarms_leave_a_small_window_what_matters(open_bench):
    bench = open_bench(MOMENTS[CROWDED[2]](), size=CROWDED[1], text_percent=CROWDED[0])
    window = bench.window
    QTest.qWait(300)
    for part in (window.strip, window.banners, window.foot):
        assert problems(part, 200) == []
        assert part.height() >= part.minimumSizeHint().height()
    assert problems(window.bench.task, 200) == []
    assert all(b.isVisible() for b in window.bench.task.action_bar.buttons[:2])


@everywhere
@in_windows
@pytest.mark.parametrize("page", PAGES)
def test_every_page_fits(open_bench, percent, size, page):
    bench = open_bench(pour(), size=size, text_percent=percent)
    bench.window.switch(page)
    settle()
    if page == "records":
        opened = bench.window._made["records"]
        opened.list.setCurrentIndex(opened.list.rows.index(3, 0))
        settle()
    assert len(seen(bench.window)) > 20
    assert problems(bench.window) == []


@everywhere
def test_hand_question_and_draft_fit(open_bench, percent):
    bench = open_bench(pour(), hand=FakeHand(), text_percent=percent)
    settle()
    assert problems(bench.window) == []
    bench.window.bench.side._choose(SIDE[1])
    settle()
    assert problems(bench.window) == []
    bench.key("Esc")
    bench.window.switch("specifications")
    settle()
    bench.key("Ctrl+N")
    settle()
    assert problems(bench.window) == []


def test_keys_change_the_size_in_every_page_that_is_made(open_bench):
    bench = open_bench(pour())
    for page in PAGES:
        bench.window.switch(page)
        settle()
    bench.window.switch("bench")
    for _ in range(3):
        bench.key("Ctrl++")
    settle()
    assert text_scale.percent() == 150
    assert bench.said == "Text at 150 %."
    for page in ("bench", *PAGES):
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
