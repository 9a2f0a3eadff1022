"""Weighing at one step: what proves a tare, what breaks it, what may be captured."""

import pytest

from benchstation.devices.instrument import Sample
from benchstation.rebuild.specification import Steadiness
from benchstation.station.weighing import Phase, Weighing

STEADINESS = Steadiness(window=1.0, band=2e-4, count=5, tare_band=3e-4)


def weighing() -> Weighing:
    return Weighing(STEADINESS, longest_gap_s=0.35)


def feed(w: Weighing, start: float, values, *, stable: bool | None = True) -> float:
    t = start
    for n, value in enumerate(values):
        t = start + n * 0.1
        w.take(Sample(value, t, stable, 1e-5, "g", f"{value:.5f} {n}".encode()))
    return t


def ask_tare(w: Weighing, load: float = 0.9) -> float:
    """Ask for a tare and let the scale come to rest under its load; gives the time after."""
    w.begin_tare(0.0)
    assert not w.tare_due(0.0)
    now = feed(w, 0.0, [load] * 15)
    assert w.tare_due(now)
    assert not w.tare_due(now), "the command goes out once"
    return now + 0.1


def test_the_command_waits_until_the_scale_would_take_it():
    w = weighing()
    w.begin_tare(0.0)
    now = feed(w, 0.0, [0.1 * n for n in range(20)])
    assert not w.tare_due(now)


def test_a_tare_is_proven_only_near_zero():
    w = weighing()
    now = feed(w, ask_tare(w), [0.0] * 15)
    assert w.tare_result(now).mean_kg == 0.0
    assert w.phase is Phase.POURING


def test_what_stood_still_before_the_tare_proves_nothing():
    w = weighing()
    now = ask_tare(w, 0.0)
    assert w.tare_result(now) is None


def test_a_tare_far_from_zero_is_refused_in_words():
    w = weighing()
    now = feed(w, ask_tare(w), [0.05] * 200)
    assert "rests at 50.0 g" in w.tare_result(now)
    assert w.phase is Phase.NEED_TARE


def test_a_restless_scale_is_refused_in_words():
    w = weighing()
    w.begin_tare(0.0)
    now = feed(w, 0.0, [0.001 * (n % 2) for n in range(200)])
    assert "did not come to rest" in w.tare_result(now)


def tared() -> tuple[Weighing, float]:
    w = weighing()
    now = feed(w, ask_tare(w), [0.0] * 15)
    w.tare_result(now)
    return w, now + 0.1


def test_a_moving_scale_is_not_captured():
    w, now = tared()
    now = feed(w, now, [0.001 * n for n in range(20)])
    w.begin_capture()
    assert w.captured(now) is None
    now = feed(w, now + 0.1, [0.02] * 15)
    assert w.captured(now).mean_kg == 0.02


def test_the_device_flag_alone_keeps_it_from_capture():
    w, now = tared()
    now = feed(w, now, [0.02] * 20, stable=False)
    w.begin_capture()
    assert w.captured(now) is None


def test_silence_is_not_steady():
    w, now = tared()
    now = feed(w, now, [0.02] * 20)
    w.begin_capture()
    assert w.captured(now) is not None
    assert w.captured(now + 1.0) is None


def test_the_pour_keeps_all_samples_since_the_tare():
    w, now = tared()
    feed(w, now, [0.001 * n for n in range(30)])
    at, shown = w.pour()
    assert len(at) == len(shown) == 30
    assert shown[-1] == 0.029
    assert len(w.last_part(1.05)[0]) == 11


def test_a_jug_put_on_the_pan_is_no_pour():
    w, now = tared()
    now = feed(w, now, [0.002 * n for n in range(20)])
    assert w.jumped_from_kg is None, "20 g/s is a brisk pour"
    now = feed(w, now + 0.1, [0.54] * 20)
    w.begin_capture()
    assert w.captured(now) is None
    assert w.jumped_from_kg == pytest.approx(0.038)
    now = feed(w, now + 0.1, [0.038] * 20)
    assert w.jumped_from_kg is None
    assert w.captured(now).mean_kg == pytest.approx(0.038)


def test_a_unit_lifted_off_is_noticed_and_a_new_tare_clears_it():
    w, now = tared()
    now = feed(w, now, [0.05] * 20)
    feed(w, now + 0.1, [-0.9] * 5)
    assert w.jumped_from_kg is not None
    w.begin_tare(now + 1)
    assert w.jumped_from_kg is None


def test_a_lost_tare_is_lost_once():
    w, _ = tared()
    assert w.lose_tare()
    assert not w.lose_tare()
    assert w.phase is Phase.NEED_TARE
