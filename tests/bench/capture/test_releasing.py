"""What the gauge sees up to the release: gas as found, and its fall reading by reading."""

import math

import pytest

from benchstation.bench.capture.releasing import Releasing
from benchstation.devices.instrument import Sample

BAND = 1e4


def feed(releasing: Releasing, start: float, values) -> float:
    at = start
    for value in values:
        at += 0.1
        releasing.take(Sample(value, at, None, 100.0, "bar", b""))
    return at


def falling(n: int = 40) -> list[float]:
    return [13.9e5 * math.exp(-k / 5) for k in range(n)]


def test_gas_is_found_once_it_stands_still():
    releasing = Releasing(BAND)
    t = feed(releasing, 0.0, [0.0] * 3 + [13.9e5] * 5)
    assert releasing.found_pa() is None
    feed(releasing, t, [13.9e5, 13.901e5] * 5)
    assert releasing.found_pa() == pytest.approx(13.9e5, rel=1e-3)


def test_gas_that_is_let_out_at_once_is_found_at_its_highest():
    releasing = Releasing(BAND)
    feed(releasing, 0.0, [5e5, 13.9e5, 12e5, 11e5, 8e5, 5e5])
    assert releasing.found_pa() == 13.9e5


def test_a_gauge_in_the_open_air_finds_nothing():
    releasing = Releasing(BAND)
    feed(releasing, 0.0, [100.0, -200.0] * 30)
    assert releasing.found_pa() is None
    assert releasing.fall() is None


def test_a_fall_is_seen_when_zero_has_stood_for_a_second():
    releasing = Releasing(BAND)
    t = feed(releasing, 0.0, [13.9e5] * 12 + falling(26))
    assert releasing.fall() is None
    feed(releasing, t, [0.0] * 12)
    fall = releasing.fall()
    assert fall is not None
    assert fall.from_gauge_pa == 13.9e5
    assert abs(fall.to_gauge_pa) <= BAND
    assert releasing.trace()[0].size == 50


def test_a_gauge_that_is_taken_off_jumps_and_saw_no_fall():
    releasing = Releasing(BAND)
    feed(releasing, 0.0, [13.9e5] * 12 + [0.0] * 30)
    assert releasing.found_pa() is None or releasing.found_pa() > BAND
    assert releasing.fall() is None


def test_a_fall_over_a_broken_line_was_not_seen():
    releasing = Releasing(BAND)
    t = feed(releasing, 0.0, [13.9e5] * 12 + falling(10))
    releasing.interrupt()
    feed(releasing, t + 5.0, [0.0] * 20)
    assert releasing.fall() is None
