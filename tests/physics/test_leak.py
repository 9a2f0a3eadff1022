"""Leak rates by pressure change, in the terms of EN 1779 and ISO 20484."""

import math
import re

import numpy as np
import pytest
from hypothesis import given
from hypothesis import strategies as st

from benchstation.physics import leak
from benchstation.physics.damper import charged_to_specification
from benchstation.physics.errors import RangeError
from tests.physics.conftest import damper
from tests.reference_rows import assert_agrees, row, rows

FILE = "leak.csv"
BAR, LITRE = 1e5, 1e-3
TO_UNIT = {
    "Pa m3/s": 1.0,
    "mbar L/s": leak.PA_M3_S_PER_MBAR_L_S,
    "Torr L/s": leak.PA_M3_S_PER_TORR_L_S,
    "atm cm3/s": leak.PA_M3_S_PER_ATM_CM3_S,
    "sccm": leak.PA_M3_S_PER_SCCM,
    "cm3/min": leak.PA_M3_S_PER_SCCM,
    "cm3/s": leak.PA_M3_S_PER_ATM_CM3_S,
}


def factor(unit):
    return TO_UNIT[unit.partition(" (")[0].strip()]


def two_point(expected):
    return leak.two_point_leak_pa_m3_s(
        expected.number("p1_bar_abs") * BAR,
        expected.number("p2_bar_abs") * BAR,
        expected.number("dt_s"),
        expected.number("V_L") * LITRE,
    )


UNITS = ("mbar L/s", "Pa m3/s", "atm cm3/s", "sccm (0 degC)", "Torr L/s")
PRINTED = ("mbar L/s", "cm3/min", "sccm")
CONVERSIONS = [
    *(r for unit in UNITS for r in rows(FILE, quantity=f"unit_conversion:1 {unit}")),
    *(r for unit in PRINTED for r in rows(FILE, quantity=f"unit_conversion_published:1 {unit}")),
]


@pytest.mark.parametrize("expected", CONVERSIONS, ids=str)
def test_conversions(expected):
    one = expected["quantity"].partition(":1 ")[2]
    assert_agrees(expected, factor(one) / factor(expected["unit"]))


PRESSURE_CHANGES = [
    *rows(FILE, quantity="qL_pressure_change"),
    *rows(FILE, quantity="qL_pressure_change_mbar"),
    *rows(FILE, quantity="qL_pressure_change_sccm"),
    *rows(FILE, quantity="published_example_qL"),
]


@pytest.mark.parametrize("expected", PRESSURE_CHANGES, ids=str)
def test_two_points(expected):
    assert_agrees(expected, two_point(expected) / factor(expected["unit"]))


@pytest.mark.parametrize("expected", rows(FILE, quantity="qL_temperature_corrected"), ids=str)
def test_temperature_correction(expected):
    """The rows are of the ideal gas, p2 T1/T2: at a thousandth of the pressure nitrogen is one."""
    first, last = (expected.number(f"p{n}_bar_abs") * BAR for n in (1, 2))
    seconds, volume = expected.number("dt_s"), expected.number("V_L") * LITRE
    temperatures = {f"t{n}_k": expected.number(f"T{n}_C") + 273.15 for n in (1, 2)}
    thin = 1000 * leak.two_point_leak_pa_m3_s(
        first / 1000, last / 1000, seconds, volume, **temperatures
    )
    scale = volume * first / seconds
    assert thin == pytest.approx(expected.number(), abs=2e-6 * scale)
    real = leak.two_point_leak_pa_m3_s(first, last, seconds, volume, **temperatures)
    assert real < expected.number() - 5e-5 * scale, "the cold takes more of a real gas"


ONLY = "pressure_change_by_temperature_only"


@pytest.mark.parametrize("expected", rows(FILE, quantity=f"{ONLY}_real"), ids=str)
def test_what_temperature_does_is_no_leak(expected):
    """A tight volume leaks nothing, to 0.5 % of what its temperature does, as the rows state."""
    first = expected.number("p1_bar_abs") * BAR
    t1, t2 = expected.number("T1_C") + 273.15, expected.number("T2_C") + 273.15
    second = first + expected.number() * 100.0
    rate = leak.two_point_leak_pa_m3_s(first, second, 60.0, 1e-4, t1_k=t1, t2_k=t2)
    assert rate == pytest.approx(0.0, abs=5e-3 * abs(first - second) * 1e-4 / 60.0)


def test_an_ideal_correction_left_three_percent_and_more_as_a_leak():
    for real, ideal in zip(
        rows(FILE, quantity=f"{ONLY}_real"), rows(FILE, quantity=f"{ONLY}_ideal"), strict=True
    ):
        assert 0.02 < 1 - ideal.number() / real.number() < 0.11


def test_the_oil_takes_its_share_of_the_chamber():
    """Where 262 mL of oil leave 101.5 mL, 1 K takes 262 7.4e-4 / 101.5 = 0.191 % of them."""
    geometry = damper()
    unit = charged_to_specification(
        geometry, charge_gauge_pa=15 * BAR, oil_volume_m3=262e-6, oil_alpha_per_k=7.4e-4
    )
    volume = unit.gas_volume_m3(293.15)
    shrink = 262e-6 * 7.4e-4 / volume
    back = leak.at_temperature_pa(unit.pressure_pa(290.15), 290.15, 293.15, shrink_per_k=shrink)
    assert back == pytest.approx(unit.pressure_pa(293.15), rel=1e-12)
    without = leak.at_temperature_pa(unit.pressure_pa(290.15), 290.15, 293.15)
    assert (back - without) / back == pytest.approx(3 * shrink, rel=0.02)


@pytest.mark.parametrize("expected", rows(FILE, quantity="pressure_loss_over_time"), ids=str)
def test_loss_over_time(expected):
    stated = re.search(r"qL=(\S+) Pa m3/s for (\d+) days", expected["note"])
    assert stated is not None
    rate, days = float(stated[1]), float(stated[2])
    volume = expected.number("V_L") * LITRE
    assert_agrees(expected, leak.loss_rate_pa_s(rate, volume) * days * 86400.0 / BAR)


# --- a hold of a closed volume ---------------------------------------------------------------

VOLUME = 1e-4


def closed(rate=1e-3, seconds=60.0, noise=100.0, seed=1, cooling_pa=0.0, tau_s=6.0, each=0.25):
    t = np.arange(0.0, seconds, each)
    pressure = 16e5 - rate * t / VOLUME + cooling_pa * np.exp(-t / tau_s)
    return t, pressure + np.random.default_rng(seed).normal(0.0, noise, len(t))


@given(st.floats(-1e-2, 1e-2), st.floats(20.0, 200.0), st.floats(0.0, 2e5), st.floats(3.0, 9.0))
def test_a_clean_hold_gives_its_rate(rate, seconds, cooling_pa, tau_s):
    t, p = closed(rate, seconds, 0.01, cooling_pa=cooling_pa, tau_s=tau_s)
    found = leak.closed_volume_leak(t, p, VOLUME)
    assert found.rate_pa_m3_s == pytest.approx(rate, abs=5e-6)
    assert found.pressure_rate_pa_s == pytest.approx(-found.rate_pa_m3_s / VOLUME)
    assert found.duration_s == pytest.approx(t[-1])


@pytest.mark.parametrize("seconds", [40.0, 90.0])
@pytest.mark.parametrize("cooling_pa", [0.0, 1e5])
def test_the_stated_uncertainty_covers(seconds, cooling_pa):
    """95 % of holds within 2 u, those beside a cooling too; 120 of each."""
    off = []
    for seed in range(120):
        t, p = closed(seconds=seconds, seed=seed, cooling_pa=cooling_pa)
        found = leak.closed_volume_leak(t, p, VOLUME)
        off.append(abs(found.rate_pa_m3_s - 1e-3) / found.u_pa_m3_s)
    assert np.mean(np.array(off) <= 2.0) >= 0.91


def test_without_a_cooling_to_tell_it_is_nearly_a_straight_line():
    """GUM H.3: u(slope) = s / sqrt(sum of squares about the mean), widened by what could cool."""
    t, p = closed(seconds=200.0)
    line = np.polyfit(t, p, 1, cov=True)
    plain = VOLUME * math.sqrt(line[1][0, 0])
    found = leak.closed_volume_leak(t, p, VOLUME)
    assert plain < found.u_pa_m3_s < 2.5 * plain
    assert found.rate_pa_m3_s == pytest.approx(-VOLUME * line[0][0], abs=2 * found.u_pa_m3_s)


def test_the_drift_is_taken_out_and_its_doubt_stays():
    t, p = closed()
    plain = leak.closed_volume_leak(t, p, VOLUME)
    drifting = leak.closed_volume_leak(t, p - 30.0 * t, VOLUME, drift=leak.Drift(-30.0, 8.0))
    assert drifting.rate_pa_m3_s == pytest.approx(plain.rate_pa_m3_s)
    assert drifting.u_scatter_pa_m3_s == pytest.approx(plain.u_pa_m3_s)
    assert drifting.u_pa_m3_s == pytest.approx(math.hypot(plain.u_pa_m3_s, VOLUME * 8.0))


def test_readings_that_follow_no_curve_widen_their_uncertainty():
    """A second part of 20 % four times as slow: the residuals hang together."""
    t, p = closed(noise=20.0, cooling_pa=1.6e5)
    one = leak.closed_volume_leak(t, p, VOLUME)
    two = leak.closed_volume_leak(t, p + 0.4e5 * np.exp(-t / 24.0), VOLUME)
    assert two.u_pa_m3_s > 3 * one.u_pa_m3_s


def test_a_slow_part_of_the_cooling_is_bounded_by_its_height():
    """4 % of 1e5 Pa over 180 s, at the middle of 60 s: 4000 / 180 exp(-30/180) = 18.8 Pa/s."""
    t, p = closed(cooling_pa=1e5)
    found = leak.closed_volume_leak(t, p, VOLUME)
    assert found.slow_pa_m3_s / VOLUME == pytest.approx(18.8, rel=0.02)
    still = leak.closed_volume_leak(*closed(), VOLUME)
    assert still.slow_pa_m3_s / VOLUME < 0.1


def test_digits_that_hide_the_noise_count():
    """1 kPa steps over 60 s: 1000 / sqrt(6) / 59.75 Pa/s."""
    t, p = closed(rate=0.0, noise=10.0)
    coarse = leak.closed_volume_leak(t, np.round(p, -3), VOLUME, resolution_pa=1000.0)
    assert coarse.u_pa_m3_s >= VOLUME * 1000.0 / math.sqrt(6.0) / t[-1]
    fine = leak.closed_volume_leak(t, p, VOLUME, resolution_pa=10.0)
    assert fine.u_pa_m3_s < 0.1 * coarse.u_pa_m3_s


def test_shortest_hold_proves_its_limit():
    """1.645 sqrt(2) u V / t is the limit's margin (ISO 14253-1)."""
    t = leak.shortest_hold_s(2e-3, 1e-4, 150.0)
    assert 1.645 * math.sqrt(2.0) * 150.0 * 1e-4 / t == pytest.approx(2e-3)
    assert leak.shortest_hold_s(2e-3, 1e-4, 150.0, expected_pa_m3_s=1e-3) == pytest.approx(2 * t)


@given(st.floats(-1e-2, 1e-2), st.floats(1e-5, 1e-2), st.floats(1.0, 1e7))
def test_loss_and_leak_undo_each_other(rate, volume, seconds):
    lost = leak.loss_rate_pa_s(rate, volume) * seconds
    found = leak.two_point_leak_pa_m3_s(lost, 0.0, seconds, volume)
    assert found == pytest.approx(rate, rel=1e-9, abs=1e-300)


T10, P10 = np.arange(10.0), np.full(10, 1e5)


@pytest.mark.parametrize(
    "ask",
    [
        lambda: leak.closed_volume_leak(T10[:9], P10[:9], 1e-4),
        lambda: leak.closed_volume_leak(T10, P10, 0.0),
        lambda: leak.closed_volume_leak(np.zeros(10), P10, 1e-4),
        lambda: leak.closed_volume_leak(T10, np.where(T10 == 3, np.nan, P10), 1e-4),
        lambda: leak.two_point_leak_pa_m3_s(1e5, 1e5, 0.0, 1e-4),
        lambda: leak.two_point_leak_pa_m3_s(1e5, 1e5, 1.0, 1e-4, t2_k=0.0),
        lambda: leak.loss_rate_pa_s(1e-3, -1.0),
        lambda: leak.hold_u_pa_s(0.0, each_s=0.1, noise_pa=1.0, resolution_pa=1.0),
        lambda: leak.shortest_hold_s(1e-3, 1e-4, 150.0, expected_pa_m3_s=1e-3),
        lambda: leak.shortest_hold_s(math.nan, 1e-4, 150.0),
    ],
)
def test_a_hold_that_tells_nothing_is_refused(ask):
    with pytest.raises(RangeError):
        ask()


def test_the_year_is_that_of_the_table():
    assert row(FILE, quantity="unit_conversion:1 Torr L/s").number() == pytest.approx(
        leak.PA_M3_S_PER_TORR_L_S, rel=1e-6
    )
    assert leak.YEAR_S == 365 * 86400


def test_what_a_hold_can_tell_is_about_what_it_then_does():
    """Of 30 s after a minute of cooling the expectation is the larger: it counts the hold alone."""
    expected = leak.hold_u_pa_s(60.0, each_s=0.25, noise_pa=100.0, resolution_pa=0.0)
    found = leak.closed_volume_leak(*closed(seconds=60.0, cooling_pa=1e5), VOLUME)
    assert found.u_pa_m3_s == pytest.approx(VOLUME * expected, rel=0.5)
    coarse = leak.hold_u_pa_s(60.0, each_s=0.25, noise_pa=0.0, resolution_pa=1e4)
    assert coarse == pytest.approx(1e4 / math.sqrt(6.0) / 60.0)
