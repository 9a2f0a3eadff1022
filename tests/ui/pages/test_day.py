"""The start of the day comes when somebody signs in, and its key opens it at any time."""

from dataclasses import replace

from tests.ui.fake_moments import next_unit, sign_in


def test_it_comes_for_whoever_signs_in_while_lines_are_open(open_bench):
    bench = open_bench(sign_in())
    assert bench.window.page == "bench"
    bench.show(replace(next_unit(), who="p1", day_open=3))
    assert bench.window.page == "day"
    bench.key("F2")
    bench.show(replace(next_unit(), who="p1", day_open=3, clock="14:08"))
    assert bench.window.page == "bench"


def test_it_does_not_come_where_nothing_is_open(open_bench):
    bench = open_bench(sign_in())
    bench.show(replace(next_unit(), who="p1"))
    assert bench.window.page == "bench"
    bench.key("Shift+F2")
    assert bench.window.page == "day"


def test_the_first_open_line_opens_and_a_line_is_put_off_with_a_reason(open_bench, qtbot):
    bench = open_bench(next_unit())
    bench.key("Shift+F2")
    page = bench.window.made["day"]
    qtbot.waitUntil(lambda: page.title.text() == "Barometer")
    page.press_key("Ctrl+P")
    bench.type("at the calibration house")
    bench.key("Return")
    assert bench.station.acted == [
        ("put_off", {"line": "barometer", "reason": "at the calibration house"})
    ]
