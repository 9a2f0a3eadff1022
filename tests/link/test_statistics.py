"""Rate, jitter, gaps and answer times, worked by hand and seen on a real line."""

import math

import pytest

from benchstation.link.statistics import WINDOW, LinkMeter, LinkStatistics
from tests.link.conftest import Sender
from tests.waiting import eventually

NONE = LinkStatistics()


def test_nothing_is_told_of_nothing():
    told = LinkMeter().added_to(NONE, 10.0)
    for name in ("rate_hz", "jitter_s", "longest_gap_s", "answer_s", "handling_s", "same_value_s"):
        assert math.isnan(getattr(told, name)), name


def test_a_steady_device():
    """Eleven readings over one second are ten intervals of 0.1 s and no jitter."""
    meter = LinkMeter()
    for step in range(11):
        meter.arrived(step / 10, [1.0 + step], 1e-4)
    told = meter.added_to(NONE, 1.0)
    assert told.rate_hz == pytest.approx(10.0)
    assert told.jitter_s == pytest.approx(0.0, abs=1e-12)
    assert told.longest_gap_s == pytest.approx(0.1)
    assert told.handling_s == pytest.approx(1e-4)


def test_a_converter_that_sends_in_bunches():
    """Three readings every 0.3 s are ten a second; the gap is what a display sees."""
    meter = LinkMeter()
    for step in range(5):
        meter.arrived(0.3 * step, [1.0, 1.0, 1.0], 0.0)
    told = meter.added_to(NONE, 1.2)
    assert told.rate_hz == pytest.approx(10.0)
    assert told.longest_gap_s == pytest.approx(0.3)


def test_jitter_is_the_standard_deviation_of_the_intervals():
    """Intervals of 0.1, 0.2 and 0.3 s: by hand sqrt((0.01 + 0 + 0.01) / 3)."""
    meter = LinkMeter()
    for at in (0.0, 0.1, 0.3, 0.6):
        meter.arrived(at, [at], 0.0)
    told = meter.added_to(NONE, 0.6)
    assert told.jitter_s == pytest.approx(math.sqrt(0.02 / 3))
    assert told.longest_gap_s == pytest.approx(0.3)


def test_a_lost_line_is_no_gap_of_the_device():
    meter = LinkMeter()
    meter.arrived(0.0, [1.0], 0.0)
    meter.begin()
    meter.arrived(60.0, [1.0], 0.0)
    assert meter.added_to(NONE, 60.0).longest_gap_s == 0.0


def test_a_silence_that_has_not_ended_is_a_gap():
    """Readings every 0.1 s, then none for two seconds and a half."""
    meter = LinkMeter()
    for step in range(11):
        meter.arrived(step / 10, [1.0 + step], 0.0)
    assert meter.added_to(NONE, 3.5).longest_gap_s == pytest.approx(2.5)
    meter.arrived(3.6, [1.0], 0.0)
    assert meter.added_to(NONE, 3.6).longest_gap_s == pytest.approx(2.6)


def test_a_line_that_is_read_no_more_is_not_silent():
    meter = LinkMeter()
    meter.arrived(0.0, [1.0], 0.0)
    meter.arrived(0.1, [2.0], 0.0)
    meter.end(0.3)
    assert meter.added_to(NONE, 60.0).longest_gap_s == pytest.approx(0.2)
    meter.begin()
    meter.arrived(60.0, [1.0], 0.0)
    assert meter.added_to(NONE, 61.0).longest_gap_s == pytest.approx(1.0)


def test_how_long_the_value_is_the_same():
    meter = LinkMeter()
    meter.arrived(0.0, [1.0], 0.0)
    meter.arrived(1.0, [2.0], 0.0)
    meter.arrived(5.0, [2.0, 2.0], 0.0)
    assert meter.added_to(NONE, 9.0).same_value_s == 8.0
    meter.arrived(10.0, [2.0, 3.0, 2.0], 0.0)
    assert meter.added_to(NONE, 11.0).same_value_s == 1.0


def test_only_the_last_are_told_and_memory_is_bounded():
    meter = LinkMeter()
    meter.answered(9.0)
    for step in range(3 * WINDOW):
        meter.arrived(step / 100, [1.0], 0.0)
        meter.answered(0.02)
    told = meter.added_to(NONE, 0.0)
    assert told.rate_hz == pytest.approx(100.0)
    assert (told.answer_s, told.longest_answer_s) == (pytest.approx(0.02), pytest.approx(0.02))
    assert len(meter._arrivals) == len(meter._answers) == WINDOW


def test_a_line_that_streams(serve_pty, read):
    bad = b"ST,NT,+00123.45\r\n"
    reader, watch = read(serve_pty(Sender(b"ST,NT,+00123.45  g\r\n" * 3 + bad)).url)
    eventually(lambda: len(watch.readings) >= 90)
    told = reader.statistics
    assert 150 < told.rate_hz < 400
    assert told.rejected == pytest.approx(told.readings / 3, abs=3)
    assert (told.connects, told.unanswered, told.dropped) == (1, 0, 0)
    assert math.isnan(told.answer_s)
    assert 0.0 < told.handling_s < 0.1
    assert told.same_value_s > 0.1


def test_a_line_that_is_asked(serve_pty, read):
    host = serve_pty(Sender(b"", answers={b"W\r\n": b"W S     123.45 g\r\n"}))
    reader, watch = read(host.url, "scale-request-reply", poll_interval_s=0.02)
    eventually(lambda: len(watch.readings) >= 10)
    told = reader.statistics
    assert 0.0 < told.answer_s <= told.longest_answer_s < 0.2
    assert 10 < told.rate_hz < 55
