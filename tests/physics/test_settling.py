"""Where a settling pressure comes to rest, on curves whose end is known."""

import math

import numpy as np
import pytest
from hypothesis import given, settings
from hypothesis import strategies as st

from benchstation.physics.settling import MIN_POINTS, fit_settling
from sample_devices.bench_model import BenchModel

BAND = 500.0


def curve(final=15e5, fall=0.4e5, tau=8.0, seconds=20.0, noise=0.0, rate=10.0, seed=1):
    t = np.arange(0.0, seconds, 1.0 / rate)
    scatter = np.random.default_rng(seed).normal(0.0, noise, len(t)) if noise else 0.0
    return t, final + fall * np.exp(-t / tau) + scatter


@given(st.floats(5e5, 30e5), st.floats(-0.5e5, 0.5e5), st.floats(3.0, 20.0), st.floats(1.5, 4.0))
@settings(max_examples=60)
def test_a_clean_curve_is_found(final, fall, tau, spans):
    t, p = curve(final, fall, tau, spans * tau)
    found = fit_settling(t, p, BAND)
    if abs(fall) > 2000.0:
        assert found.final_pa == pytest.approx(final, abs=2.0 + 1e-4 * abs(fall))
        assert found.tau_s == pytest.approx(tau, rel=1e-3)
        assert found.certain


@pytest.mark.parametrize("seed", range(20))
def test_the_stated_uncertainty_holds(seed):
    """Noise of 100 Pa: within three standard uncertainties, twenty times out of twenty."""
    t, p = curve(noise=100.0, seed=seed, seconds=60.0)
    found = fit_settling(t, p, BAND)
    assert abs(found.final_pa - 15e5) < 3.5 * found.u_final_pa
    assert found.u_final_pa < 1000.0
    assert found.certain


def test_slope_and_time_left():
    """p' = -a/tau exp(-t/tau); within the band after tau ln(a/band)."""
    t, p = curve(seconds=12.0)
    found = fit_settling(t, p, BAND)
    left = 0.4e5 * math.exp(-t[-1] / 8.0)
    assert found.rate_pa_s == pytest.approx(-left / 8.0, rel=1e-3)
    assert found.remaining_s == pytest.approx(8.0 * math.log(left / BAND), rel=1e-3)


def test_too_early_to_tell():
    t, p = curve(seconds=3.0, noise=50.0)
    found = fit_settling(t, p, BAND)
    assert not found.certain
    assert math.isinf(found.remaining_s)


@pytest.mark.parametrize("count", [0, 1, MIN_POINTS - 1])
def test_too_few_readings(count):
    t, p = curve()
    found = fit_settling(t[:count], p[:count], BAND)
    assert (found.certain, math.isnan(found.final_pa)) == (False, True)


def test_all_at_one_time():
    assert not fit_settling(np.zeros(50), np.full(50, 15e5), BAND).certain


def test_a_level_reading_has_settled():
    t, p = curve(fall=0.0, noise=20.0, seconds=20.0)
    found = fit_settling(t, p, BAND)
    assert found.certain
    assert found.final_pa == pytest.approx(15e5, abs=2 * found.u_final_pa)
    assert found.u_final_pa < 0.5 * BAND
    assert found.remaining_s == 0.0


def test_a_level_reading_is_not_believed_at_once():
    t, p = curve(fall=0.0, noise=20.0, seconds=4.0)
    assert not fit_settling(t, p, BAND).certain


def test_a_coarse_display_can_hide_a_fall():
    """Steps of 1000 Pa: over 8 s a fall of 125 Pa/s does not show, over a minute it is 7.5 kPa."""
    t = np.arange(0.0, 8.0, 0.1)
    level = np.full(len(t), 15e5)
    assert fit_settling(t, level, BAND).certain
    assert not fit_settling(t, level, BAND, resolution_pa=1000.0).certain


def falling(parts, seconds, seed, noise=150.0, filter_s=0.0, step=100.0, rate=10.0):
    """Readings that come to rest at 15 bar, with the noise of a gauge behind a filter."""
    t = np.arange(0.0, seconds, 1.0 / rate)
    chance = np.random.default_rng(seed).normal(0.0, noise, len(t))
    if filter_s:
        share = 1.0 - math.exp(-1.0 / rate / filter_s)
        for n in range(1, len(t)):
            chance[n] = chance[n - 1] + share * (chance[n] - chance[n - 1])
        chance *= noise / chance.std()
    p = 15e5 + sum(a * np.exp(-t / tau) for a, tau in parts) + chance
    return t, np.round(p / step) * step


SCENES = {
    "one rate": [(140e3, 8.0)],
    "15 % at three time constants": [(119e3, 8.0), (21e3, 24.0)],
    "35 % at five time constants": [(91e3, 8.0), (49e3, 40.0)],
    "4 % of 180 s": [(134.4e3, 8.0), (5.6e3, 180.0)],
    "4 % of 400 s": [(134.4e3, 8.0), (5.6e3, 400.0)],
}


@pytest.mark.parametrize("filter_s", [0.0, 0.5])
@pytest.mark.parametrize("seconds", [44.0, 90.0])
@pytest.mark.parametrize("parts", SCENES.values(), ids=SCENES.keys())
def test_a_slow_second_part_is_in_the_uncertainty(parts, seconds, filter_s):
    """Of forty the mean cover is 38; fewer than 35 come with a chance of one in sixty."""
    covered = 0
    for seed in range(40):
        t, p = falling(parts, seconds, seed, filter_s=filter_s)
        found = fit_settling(t, p, 3000.0, resolution_pa=100.0)
        covered += abs(found.final_pa - 15e5) <= 2 * found.u_final_pa
    assert covered >= 35


def test_two_rates_are_told_from_one():
    t, p = falling(SCENES["35 % at five time constants"], 90.0, seed=1)
    found = fit_settling(t, p, 3000.0, resolution_pa=100.0)
    assert [tau for _, tau in found.parts] == pytest.approx([8.0, 40.0], rel=0.05)
    t, p = falling(SCENES["one rate"], 90.0, seed=1)
    found = fit_settling(t, p, 3000.0, resolution_pa=100.0)
    assert [tau for _, tau in found.parts] == pytest.approx([8.0], rel=0.01)


def test_a_steady_leak_has_no_end():
    """A straight fall: nothing is still to come, and the pressure of now is all there is."""
    t, p = falling([(140e3, 8.0)], 90.0, seed=2)
    found = fit_settling(t, p - 60.0 * t, 3000.0, resolution_pa=100.0)
    assert found.certain
    assert found.steady_pa_s == pytest.approx(60.0, rel=0.05)
    assert found.rate_pa_s == pytest.approx(-60.0, rel=0.05)
    assert found.final_pa == pytest.approx(15e5 - 60.0 * t[-1], abs=max(2 * found.u_final_pa, 50.0))


def test_a_known_drift_of_the_unit_is_no_settling():
    """A unit that warms by 5 Pa/s: its final pressure is that of the unit as it is now."""
    t, p = falling([(140e3, 8.0)], 90.0, seed=3)
    found = fit_settling(
        t, p + 5.0 * t, 3000.0, resolution_pa=100.0, drift_pa_s=5.0, u_drift_pa_s=0.5
    )
    assert found.final_pa == pytest.approx(15e5 + 5.0 * t[-1], abs=2 * found.u_final_pa)
    sure = fit_settling(t, p + 5.0 * t, 3000.0, resolution_pa=100.0, drift_pa_s=5.0)
    assert found.u_final_pa > sure.u_final_pa


def test_readings_that_are_none_are_left_out():
    t, p = curve()
    p[::7] = math.nan
    found = fit_settling(t, p, BAND)
    assert math.isfinite(found.final_pa)
    assert found.final_pa == pytest.approx(15e5, abs=10.0)


def test_uneven_times():
    t, p = curve()
    keep = np.random.default_rng(3).random(len(t)) < 0.6
    assert fit_settling(t[keep], p[keep], BAND).final_pa == pytest.approx(15e5, abs=10.0)


@given(st.lists(st.floats(-1e6, 5e6) | st.just(math.nan), min_size=0, max_size=40))
@settings(max_examples=60)
def test_any_readings_give_an_answer(values):
    p = np.array(values, dtype=float)
    found = fit_settling(np.arange(len(p)) * 0.5, p, BAND)
    if found.certain:
        assert math.isfinite(found.final_pa)
        assert math.isfinite(found.u_final_pa)


def test_a_virtual_charge_ends_where_it_says():
    """Gas that cools on a wall is no exact exponential: foretold within the band all the same."""
    model = BenchModel()
    model.bring_in(free_volume_m3=365e-6, rho_oil_kg_m3=847.3, oil_kg=0.2237, gauge_pa=0.0)
    model.advance(0.0)
    model.valve_opening = 1.0
    model.advance(6.0)
    model.valve_opening = 0.0
    times, pressures = [], []
    for step in range(150):
        model.advance(6.0 + step * 0.1)
        times.append(step * 0.1)
        pressures.append(model.gas_pressure_pa)
    model.advance(200.0)
    found = fit_settling(np.array(times), np.array(pressures), BAND)
    assert found.certain
    assert found.final_pa == pytest.approx(model.gas_pressure_pa, abs=2 * BAND)
