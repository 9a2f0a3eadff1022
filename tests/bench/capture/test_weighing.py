"""Weighing at one step: what proves a tare, what breaks it, what may be captured."""

import pytest

from benchstation.bench.capture.weighing import Phase, Weighing, WeighPlan
from benchstation.devices.instrument import Sample
from benchstation.domain.oil_balance import Purpose
from benchstation.domain.specification import Method, Steadiness
from benchstation.metrology.stability import Stability

STEADINESS = Steadiness(window=1.0, band=2e-4, count=5, tare_band=3e-4)


def weighing(**plan) -> Weighing:
    return Weighing(STEADINESS, longest_gap_s=0.35, plan=WeighPlan(**plan))


def feed(w: Weighing, start: float, values, *, stable: bool | None = True) -> float:
    t = start
    for n, value in enumerate(values):
        t = start + n * 0.1
        w.take(Sample(value, t, stable, 1e-5, "g", f"{value:.5f} {n}".encode()))
    return t


def alive(mass: float, count: int) -> list[float]:
    """Return readings of a scale at rest whose last digit goes back and forth."""
    return [mass, mass + 1e-5, mass, mass - 1e-5] * (count // 4)


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
    assert "steady at 50.0 g" in w.tare_result(now)
    assert w.phase is Phase.NEED_TARE


def test_a_restless_scale_is_refused_in_words():
    w = weighing()
    w.begin_tare(0.0)
    now = feed(w, 0.0, [0.001 * (n % 2) for n in range(200)])
    assert "did not become steady" in w.tare_result(now)


def tared(**plan) -> tuple[Weighing, float]:
    w = weighing(**plan)
    now = feed(w, ask_tare(w), [0.0] * 15)
    w.tare_result(now)
    return w, now + 0.1


def test_a_moving_scale_is_not_captured():
    w, now = tared()
    now = feed(w, now, [0.001 * n for n in range(20)])
    w.begin_capture()
    assert w.captured(now) is None
    now = feed(w, now + 0.1, alive(0.02, 16))
    assert w.captured(now).mean_kg == pytest.approx(0.02, abs=2e-6)


def test_the_device_flag_alone_keeps_it_from_capture():
    w, now = tared()
    now = feed(w, now, [0.02] * 20, stable=False)
    w.begin_capture()
    assert w.captured(now) is None


def test_silence_is_not_steady():
    w, now = tared()
    now = feed(w, now, alive(0.02, 20))
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


# --- by loss and by difference ---------------------------------------------------------------


def test_by_loss_what_the_scale_loses_is_poured():
    w, now = tared(method=Method.LOSS)
    feed(w, now, [-0.001 * n for n in range(30)])
    assert w.pour()[1][-1] == pytest.approx(0.029)
    assert w.poured_kg(-0.1) == pytest.approx(0.1)


@pytest.mark.parametrize(
    ("plan", "shown", "said"),
    [
        ({}, -0.001, "less than at the tare"),
        ({}, 0.1, ""),
        ({"method": Method.LOSS}, 0.001, "more than at the tare"),
        ({"method": Method.LOSS}, -0.1, ""),
        ({"method": Method.DIFFERENCE}, 0.03, "no unit is on it"),
        ({"method": Method.DIFFERENCE}, 0.9, ""),
        ({"method": Method.DIFFERENCE, "before_kg": 0.9}, 0.899, "less than before the pour"),
        ({"method": Method.DIFFERENCE, "before_kg": 0.9}, 1.1, ""),
        ({"method": Method.DIFFERENCE, "before_kg": 0.9}, 1.5, "more than before the pour"),
    ],
)
def test_what_can_be_no_oil_is_refused_in_words(plan, shown, said):
    refused = weighing(**plan).refusal(shown)
    assert said in refused
    assert bool(refused) is bool(said)


def test_a_jug_that_comes_back_lighter_is_as_it_should_be():
    w, now = tared(method=Method.LOSS)
    now = feed(w, now, [-0.01] * 10)
    now = feed(w, now + 0.1, [-1.2] * 10)
    assert w.jumped_from_kg == pytest.approx(-0.01)
    now = feed(w, now + 0.1, [-0.6, -0.3, -0.18, *[-0.17] * 15])
    assert w.jumped_from_kg is None
    w.begin_capture()
    assert w.poured_kg(w.captured(now).mean_kg) == pytest.approx(0.17)


def test_a_jug_that_comes_back_heavier_or_with_too_much_missing_is_not():
    for back in (0.05, -0.7):
        w, now = tared(method=Method.LOSS)
        now = feed(w, now, [-1.2] * 10)
        feed(w, now + 0.1, [back] * 15)
        assert w.jumped_from_kg is not None


def test_a_body_that_comes_back_heavier_was_not_watched():
    w, now = tared()
    now = feed(w, now, [0.015, 0.03, 0.04, *[0.05] * 10])
    now = feed(w, now + 0.1, [-0.9] * 10)
    feed(w, now + 0.1, [0.15] * 10)
    assert w.jumped_from_kg == pytest.approx(0.05)


def test_by_difference_things_come_and_go():
    w, now = tared(method=Method.DIFFERENCE, before_kg=0.9, portion=1)
    feed(w, now, [*[0.0] * 5, *[0.5] * 5, *[0.0] * 5, *[1.0] * 10])
    assert w.jumped_from_kg is None


def test_a_new_tare_begins_a_portion_but_not_by_difference():
    w, now = tared(again=True)
    w.resume(3, 0.1)
    w.begin_tare(now)
    assert (w.plan.portion, w.plan.again) == (None, False)
    w, now = tared(method=Method.DIFFERENCE, before_kg=0.9, portion=3)
    w.begin_tare(now)
    assert w.plan.portion == 3


def test_weighing_again_waits_for_its_capture_over_a_lost_tare():
    w, _ = tared(again=True, purpose=Purpose.BLEED)
    w.lose_tare()
    assert w.plan.again


def test_what_is_not_captured_is_kept_in_mind():
    w, now = tared()
    now = feed(w, now, [0.0125 * n for n in range(9)])
    feed(w, now + 0.1, [-0.9] * 3)
    w.lose_tare()
    assert w.uncaptured
    assert w.uncaptured_kg == pytest.approx(0.1)
    w, now = tared()
    feed(w, now, [0.0125 * n for n in range(9)])
    w.resume(1, 0.1)
    w.lose_tare()
    assert not w.uncaptured


FLICKER = (0.0, 2e-5, -1e-5, 3e-5, 0.0, 1e-5, -2e-5, 2e-5)


def flicker(w: Weighing, t: float, mass: float, seconds: float) -> float:
    return feed(w, t, [mass + FLICKER[n % len(FLICKER)] for n in range(round(seconds / 0.1))])


def test_a_scale_whose_digits_moved_at_the_tare_gives_no_mass_while_they_stand_still():
    w = weighing()
    w.begin_tare(0.0)
    t = flicker(w, 0.0, 0.9, 3.0)
    assert w.tare_due(t)
    t = flicker(w, t, 0.0, 3.0)
    assert w.tare_result(t) is not None
    t = flicker(w, t, 0.01, 3.0)
    w.begin_capture()
    assert w.captured(t) is not None
    for _ in range(30):
        t += 0.1
        w.take(Sample(0.01, t, True, 1e-5, "g", b"10.00"))
    assert w.captured(t) is None
    assert w.view(t).state is Stability.FROZEN
    t = flicker(w, t, 0.02, 3.0)
    assert w.captured(t) is not None


@pytest.mark.parametrize(
    ("method", "shown", "moved"), [(Method.GAIN, 0.2, 0.1998), (Method.LOSS, -0.2, 0.2002)]
)
def test_where_the_tare_stood_is_no_oil(method, shown, moved):
    """Proven at +0.2 g, within the zero band: what is shown after it is that much too much."""
    w = weighing(method=method)
    now = feed(w, ask_tare(w), [0.0002] * 15)
    assert w.tare_result(now).mean_kg == pytest.approx(0.0002)
    assert w.poured_kg(shown) == pytest.approx(moved)
    w.lose_tare()
    assert w.poured_kg(shown) == pytest.approx(abs(shown))


def test_a_slow_filter_is_waited_for_before_a_mass_is_taken():
    """Within the band readings may still creep: two and a half time constants after they moved."""
    w = Weighing(STEADINESS, longest_gap_s=0.35, plan=WeighPlan())
    now = feed(w, ask_tare(w), [0.0] * 15)
    assert w.tare_result(now) is not None
    w.filter_s = 2.0
    now = feed(w, now + 0.1, [0.002 * n for n in range(50)])
    w.begin_capture()
    now = feed(w, now + 0.1, alive(0.1, 32))
    assert w.steady(now) is not None
    assert w.captured(now) is None
    now = feed(w, now + 0.1, alive(0.1, 40))
    assert w.captured(now) is not None


def test_a_net_mass_scatters_with_its_tare_and_what_was_weighed_before():
    noisy = [0.0, 4e-5, -4e-5, 2e-5, -2e-5] * 3
    w = weighing(method=Method.DIFFERENCE)
    now = feed(w, ask_tare(w), noisy)
    assert w.tare_result(now) is not None
    feed(w, now + 0.1, [1.2 + off for off in noisy])
    alone = w.scatter(10)
    assert 0 < alone.u < 1e-4
    w.begin_after(1.2, 1, alone)
    w.begin_tare(20.0)
    now = feed(w, 20.0, noisy)
    assert w.tare_due(now)
    now = feed(w, now + 0.1, noisy)
    assert w.tare_result(now) is not None
    assert w.scatter(10).u > 1.2 * alone.u


def test_a_scale_that_shows_no_noise_gives_a_mass_once_it_answered():
    w, now = tared()
    now = feed(w, now, [0.002 * n for n in range(100)] + [0.2] * 60)
    w.begin_capture()
    assert w.unanswered(now)
    assert w.captured(now) is None
    now = feed(w, now + 0.1, [0.208, 0.209, 0.204] + [0.2] * 15)
    assert not w.unanswered(now)
    assert w.captured(now).mean_kg == pytest.approx(0.2)


@pytest.mark.parametrize("method", [Method.LOSS, Method.DIFFERENCE])
def test_what_was_just_put_on_the_scale_need_not_be_touched(method):
    w, now = tared(method=method)
    put_on = [-0.9] * 20 + [-0.2] * 15 if method is Method.LOSS else [1.2] * 15
    now = feed(w, now, put_on)
    w.begin_capture()
    assert w.captured(now) is not None
