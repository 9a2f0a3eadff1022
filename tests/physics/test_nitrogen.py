"""Nitrogen against the reference equation of Span et al. (2000), other equations and old tables."""

import numpy as np
import pytest
from hypothesis import assume, given
from hypothesis import strategies as st

from benchstation.physics import nitrogen
from benchstation.physics.errors import RangeError
from tests.reference_rows import assert_agrees, row, rows

CoolProp = pytest.importorskip("CoolProp.CoolProp")
FILE = "nitrogen_density.csv"
BAR = 1e5
MOLAR = 28.01348e-3
temperatures = st.floats(253.15, 393.15)
pressures = st.floats(0.5 * BAR, 60 * BAR)


def reference(output, **state):
    names = [x for pair in state.items() for x in pair]
    return CoolProp.PropsSI(output, *names, "Nitrogen")


def at(row_):
    return row_.number("p_bar_abs") * BAR, row_.number("T_K")


def in_range(row_):
    pressure, temperature = at(row_)
    return pressure <= nitrogen.HIGH_PA and nitrogen.LOW_K <= temperature <= nitrogen.HIGH_K


# --- density -------------------------------------------------------------------------------------


@pytest.mark.parametrize("quantity", ["density", "density_at_1atm", "density_independent_EOS"])
def test_density_tables(quantity):
    for expected in rows(FILE, quantity=quantity):
        assert_agrees(expected, nitrogen.density_kg_m3(*at(expected)))


def test_compressibility_table():
    for expected in rows(FILE, quantity="compressibility_Z"):
        pressure, temperature = at(expected)
        density = nitrogen.density_kg_m3(pressure, temperature)
        assert_agrees(expected, pressure / (density * nitrogen.R_N2 * temperature))


def test_older_tables():
    """Younglove (1982) and Jacobsen (1986) as printed, to 1e-3: they are older equations."""
    found = [
        r
        for quantity in ("density_published", "density_published_molar")
        for r in rows(FILE, quantity=quantity)
        if in_range(r)
    ]
    assert len(found) >= 3
    for expected in found:
        factor = MOLAR * 1e3 if expected["unit"] == "mol/dm3" else 1.0
        density = nitrogen.density_kg_m3(*at(expected))
        assert density == pytest.approx(expected.number() * factor, rel=1e-3)


@given(pressures, temperatures)
def test_density_is_within_two_in_ten_thousand(pressure, temperature):
    expected = reference("D", T=temperature, P=pressure)
    assert nitrogen.density_kg_m3(pressure, temperature) == pytest.approx(expected, rel=2e-4)


def test_the_whole_range_on_a_grid():
    """Largest deviation over 253 to 393 K and 0.5 to 60 bar: 0.005 % as the module says."""
    t, p = np.meshgrid(np.linspace(253.15, 393.15, 29), np.linspace(0.5, 60, 60) * BAR)
    expected = reference("D", T=t.ravel(), P=p.ravel()).reshape(t.shape)
    worst = np.max(np.abs(nitrogen.density_kg_m3(p, t) / expected - 1.0))
    assert worst < 6e-5


def test_the_ideal_gas_is_off_by_what_is_published():
    for expected in rows(FILE, quantity="ideal_gas_density_error"):
        pressure, temperature = at(expected)
        ideal = pressure / (nitrogen.R_N2 * temperature)
        error = 100.0 * (ideal / nitrogen.density_kg_m3(pressure, temperature) - 1.0)
        assert_agrees(expected, error)


# --- virial coefficients -------------------------------------------------------------------------


def test_second_virial_coefficient():
    """Within 1 cm3/mol of four tables; a fit of densities need not have B itself to 0.3."""
    quantities = (
        "second_virial_B",
        "second_virial_B_CRC",
        "second_virial_B_KayeLaby",
        "second_virial_B_published",
    )
    for expected in [r for quantity in quantities for r in rows(FILE, quantity=quantity)]:
        temperature = expected.number("T_K")
        if nitrogen.LOW_K <= temperature <= nitrogen.HIGH_K:
            molar = nitrogen.second_virial_m3_kg(temperature) * MOLAR * 1e6
            assert molar == pytest.approx(expected.number(), abs=1.5)


def test_boyle_temperature():
    """B changes sign near 327 K."""
    assert nitrogen.second_virial_m3_kg(324.0) < 0.0 < nitrogen.second_virial_m3_kg(330.0)


def test_third_virial_coefficient():
    """Truncated after C, the fit's C carries what D would: within a tenth of the equation's."""
    for expected in rows(FILE, quantity="third_virial_C"):
        temperature = expected.number("T_K")
        if nitrogen.LOW_K <= temperature <= nitrogen.HIGH_K:
            molar = nitrogen.third_virial_m6_kg2(temperature) * MOLAR**2 * 1e12
            assert molar == pytest.approx(expected.number(), rel=0.15)


def test_constants_are_those_published():
    assert_agrees(row(FILE, quantity="constant:specific_gas_constant"), nitrogen.R_N2)


# --- inverse functions ---------------------------------------------------------------------------


@given(pressures, temperatures)
def test_pressure_undoes_density(pressure, temperature):
    density = nitrogen.density_kg_m3(pressure, temperature)
    assume(density <= 200.0)
    assert nitrogen.raw_pressure(density, temperature) == pytest.approx(pressure, rel=1e-11)
    assert nitrogen.wide_pressure_pa(density, temperature) == pytest.approx(pressure, rel=1e-11)


@given(st.floats(1 * BAR, 59 * BAR), st.floats(254, 392))
def test_temperature_undoes_pressure(pressure, temperature):
    density = nitrogen.density_kg_m3(pressure, temperature)
    assert nitrogen.temperature_k(pressure, density) == pytest.approx(temperature, abs=1e-6)


@given(pressures, temperatures, st.floats(1.001, 1.2))
def test_more_pressure_is_denser_and_warmer_is_thinner(pressure, temperature, factor):
    here = nitrogen.density_kg_m3(pressure, temperature)
    assume(pressure * factor <= nitrogen.HIGH_PA)
    assert nitrogen.density_kg_m3(pressure * factor, temperature) > here
    assume(temperature * factor <= nitrogen.HIGH_K)
    assert nitrogen.density_kg_m3(pressure, temperature * factor) < here


def test_arrays_give_what_floats_give():
    pressure = np.linspace(1, 60, 7) * BAR
    by_array = nitrogen.density_kg_m3(pressure, 300.0)
    one_by_one = [nitrogen.density_kg_m3(float(p), 300.0) for p in pressure]
    assert by_array == pytest.approx(one_by_one, rel=1e-14)
    assert isinstance(one_by_one[0], float)
    back = nitrogen.pressure_pa(by_array, 300.0)
    assert back == pytest.approx(pressure, rel=1e-11)
    assert nitrogen.wide_pressure_pa(by_array, 300.0) == pytest.approx(pressure, rel=1e-11)
    warmth = nitrogen.temperature_k(pressure[1:], by_array[1:])
    assert warmth == pytest.approx(np.full(6, 300.0), abs=1e-8)


def test_a_worked_state():
    """20 bar, 20 degC by hand: B = 300/T series, then rho from ideal by three corrections."""
    t, p = 293.15, 20e5
    x = 300 / t
    b = 1.3497384e-03 - 8.0250357e-04 * x - 8.8680044e-04 * x**2 + 1.7512259e-04 * x**3
    c = 1.7709109e-06 - 6.1516276e-07 * x + 6.9814031e-07 * x**2
    ideal = p / (296.8039 * t)
    rho = ideal
    for _ in range(20):
        rho = ideal / (1 + b * rho + c * rho * rho)
    assert ideal == pytest.approx(22.986, abs=1e-3)
    assert nitrogen.density_kg_m3(p, t) == pytest.approx(rho, rel=1e-6)
    assert rho == pytest.approx(reference("D", T=t, P=p), rel=2e-4)


# --- a closed vessel -----------------------------------------------------------------------------


@pytest.mark.parametrize(
    "expected", rows("vessel_temperature_pressure.csv", quantity="isochoric_p2_abs"), ids=str
)
def test_vessel_at_another_temperature(expected):
    ambient = expected.number("p_baro_bar")
    first = (expected.number("p1_gauge_bar") + ambient) * BAR
    density = nitrogen.density_kg_m3(first, expected.number("T1_C") + 273.15)
    end = nitrogen.pressure_pa(density, expected.number("T2_C") + 273.15) / BAR
    assert_agrees(expected, end)
    assert end - ambient == pytest.approx(expected.number("p2_gauge_bar"), rel=3e-4)


@pytest.mark.parametrize(
    "expected", rows("leak.csv", quantity="pressure_change_by_temperature_only_real"), ids=str
)
def test_an_apparent_leak_by_temperature(expected):
    first = expected.number("p1_bar_abs") * BAR
    density = nitrogen.density_kg_m3(first, expected.number("T1_C") + 273.15)
    end = nitrogen.pressure_pa(density, expected.number("T2_C") + 273.15)
    assert_agrees(expected, (end - first) / 100.0)


# --- refusals ------------------------------------------------------------------------------------

REFUSED = [
    lambda: nitrogen.density_kg_m3(61 * BAR, 300.0),
    lambda: nitrogen.density_kg_m3(-1.0, 300.0),
    lambda: nitrogen.density_kg_m3(10 * BAR, 20.0),
    lambda: nitrogen.density_kg_m3(float("nan"), 300.0),
    lambda: nitrogen.density_kg_m3(10 * BAR, float("nan")),
    lambda: nitrogen.density_kg_m3(np.array([10 * BAR, 61 * BAR]), 300.0),
    lambda: nitrogen.density_kg_m3(np.array([10 * BAR, np.nan]), 300.0),
    lambda: nitrogen.pressure_pa(-1.0, 300.0),
    lambda: nitrogen.pressure_pa(100.0, 300.0),
    lambda: nitrogen.wide_pressure_pa(10.0, 900.0),
    lambda: nitrogen.wide_pressure_pa(150.0, 600.0),
    lambda: nitrogen.temperature_k(10 * BAR, 0.0),
    lambda: nitrogen.temperature_k(60 * BAR, 5.0),
]


@pytest.mark.parametrize("ask", REFUSED)
def test_out_of_range_is_refused_by_name(ask):
    with pytest.raises(RangeError) as refused:
        ask()
    assert refused.value.quantity in str(refused.value)
    assert refused.value.unit
