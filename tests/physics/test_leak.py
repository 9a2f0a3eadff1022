"""Leak rates by pressure change, in the terms of EN 1779 and ISO 20484."""

import math
import re

import numpy as np
import pytest
from hypothesis import given
from hypothesis import strategies as st

from benchstation.physics import leak, nitrogen
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
    assert_agrees(expected, leak.pressure_loss_pa(rate, volume, days * 86400.0) / BAR)
    if days == 365:
        assert_agrees(expected, leak.loss_per_year_pa(rate, volume) / BAR)


# --- a fitted hold -------------------------------------------------------------------------------


def hold(rate=1e-3, volume=1e-4, seconds=30.0, noise=0.0, seed=1, drift_k=0.0):
    t = np.arange(0.0, seconds, 0.1)
    temperature = 293.15 + drift_k * t / seconds
    density = nitrogen.density_kg_m3(16e5 - rate * t / volume, 293.15)
    pressure = nitrogen.pressure_pa(density, temperature)
    if noise:
        pressure = pressure + np.random.default_rng(seed).normal(0.0, noise, len(t))
    return t, pressure, volume, temperature


@given(st.floats(-1e-2, 1e-2), st.floats(1e-5, 1e-3), st.floats(5.0, 100.0), st.floats(-2, 2))
def test_a_clean_hold_gives_its_rate(rate, volume, seconds, drift_k):
    found = leak.pressure_change_leak(*hold(rate, volume, seconds, drift_k=drift_k))
    assert found.rate_pa_m3_s == pytest.approx(rate, abs=1e-9 + 1e-6 * volume)
    assert found.pressure_rate_pa_s == pytest.approx(-rate / volume, abs=1e-2)
    assert found.duration_s == pytest.approx(seconds, abs=0.11)


@pytest.mark.parametrize("seed", range(20))
def test_the_stated_uncertainty_holds(seed):
    found = leak.pressure_change_leak(*hold(noise=100.0, seed=seed))
    assert abs(found.rate_pa_m3_s - 1e-3) < 3.5 * found.u_pa_m3_s
    assert found.dof == pytest.approx(298)


def test_uncertainty_of_the_slope_by_hand():
    """GUM H.3: u(slope) = s / sqrt(sum of squares about the mean)."""
    t, p, volume, _ = hold(noise=100.0)
    found = leak.pressure_change_leak(t, p, volume)
    line = np.polyfit(t, p, 1, cov=True)
    assert found.u_pa_m3_s == pytest.approx(volume * math.sqrt(line[1][0, 0]), rel=1e-6)
    assert found.rate_pa_m3_s == pytest.approx(-volume * line[0][0], rel=1e-6)


def test_drift_and_volume_add_their_share():
    """Drift u over the hold: V u / t; volume: q times its relative uncertainty."""
    t, p, volume, temperature = hold()
    found = leak.pressure_change_leak(
        t, p, volume, temperature, u_volume_rel=0.02, u_drift_pa=300.0
    )
    expected = math.hypot(volume * 300.0 / found.duration_s, 0.02 * 1e-3)
    assert found.u_pa_m3_s == pytest.approx(expected, rel=1e-3)
    assert found.dof > 1e4, "hardly anything comes from the scatter of the fit"


def test_one_temperature_corrects_nothing():
    t, p, volume, _ = hold()
    by_number = leak.pressure_change_leak(t, p, volume, 293.15)
    assert by_number == leak.pressure_change_leak(t, p, volume)


def test_shortest_hold_proves_its_limit():
    """1.645 sqrt(2) u V / t is the limit's margin (ISO 14253-1)."""
    t = leak.shortest_hold_s(2e-3, 1e-4, 150.0)
    assert 1.645 * math.sqrt(2.0) * 150.0 * 1e-4 / t == pytest.approx(2e-3)
    assert leak.shortest_hold_s(2e-3, 1e-4, 150.0, expected_pa_m3_s=1e-3) == pytest.approx(2 * t)


@given(st.floats(-1e-2, 1e-2), st.floats(1e-5, 1e-2), st.floats(1.0, 1e7))
def test_loss_and_leak_undo_each_other(rate, volume, seconds):
    lost = leak.pressure_loss_pa(rate, volume, seconds)
    found = leak.two_point_leak_pa_m3_s(lost, 0.0, seconds, volume)
    assert found == pytest.approx(rate, rel=1e-9, abs=1e-300)


T3, P3 = np.array([0.0, 1.0, 2.0]), np.array([1e5, 1e5, 1e5])


@pytest.mark.parametrize(
    "ask",
    [
        lambda: leak.pressure_change_leak(T3[:2], P3[:2], 1e-4),
        lambda: leak.pressure_change_leak(T3, P3, 0.0),
        lambda: leak.pressure_change_leak(np.zeros(3), P3, 1e-4),
        lambda: leak.pressure_change_leak(T3, np.array([1e5, np.nan, 1e5]), 1e-4),
        lambda: leak.pressure_change_leak(T3, P3, 1e-4, np.array([293.0, np.inf, 293.0])),
        lambda: leak.two_point_leak_pa_m3_s(1e5, 1e5, 0.0, 1e-4),
        lambda: leak.two_point_leak_pa_m3_s(1e5, 1e5, 1.0, 1e-4, t2_k=0.0),
        lambda: leak.pressure_loss_pa(1e-3, -1.0, 1.0),
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
