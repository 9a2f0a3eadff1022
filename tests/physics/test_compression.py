"""Compression of nitrogen against the reference equation of Span et al. (2000)."""

import numpy as np
import pytest
from hypothesis import assume, given
from hypothesis import strategies as st

from benchstation.physics import compression, nitrogen
from benchstation.physics.errors import RangeError
from tests.reference_rows import assert_agrees, rows

CoolProp = pytest.importorskip("CoolProp.CoolProp")
BAR = 1e5
temperatures = st.floats(253.15, 393.15)
pressures = st.floats(0.5 * BAR, 60 * BAR)


def reference(output, **state):
    names = [x for pair in state.items() for x in pair]
    return CoolProp.PropsSI(output, *names, "Nitrogen")


COMPRESSIONS = "isentropic_compression.csv"


def start(expected):
    return expected.number("p1_bar_abs") * BAR, expected.number("T1_C") + 273.15


@pytest.mark.parametrize("expected", rows(COMPRESSIONS, quantity="isentropic_p2_real"), ids=str)
def test_fast_compression(expected):
    p2, t2 = compression.isentropic_end(*start(expected), expected.number("volume_ratio_V2_V1"))
    assert_agrees(expected, p2 / BAR)
    assert t2 == pytest.approx(expected.number("T2_K"), rel=5e-4)


@pytest.mark.parametrize("expected", rows(COMPRESSIONS, quantity="isothermal_p2_real"), ids=str)
def test_slow_compression(expected):
    ratio = expected.number("volume_ratio_V2_V1")
    assert_agrees(expected, compression.isothermal_pressure_pa(*start(expected), ratio) / BAR)


@pytest.mark.parametrize("expected", rows(COMPRESSIONS, quantity="polytropic_p2_ideal"), ids=str)
def test_rule_of_thumb(expected):
    pressure = compression.polytropic_pressure_pa(
        start(expected)[0],
        expected.number("exponent_n"),
        expected.number("volume_ratio_V2_V1"),
    )
    assert_agrees(expected, pressure / BAR)


@pytest.mark.parametrize(
    "expected", rows(COMPRESSIONS, quantity="heat_capacity_ratio_cp_cv"), ids=str
)
def test_heat_capacity_ratio(expected):
    assert_agrees(expected, compression.heat_capacity_ratio(*start(expected)))


@given(st.floats(2 * BAR, 30 * BAR), st.floats(260, 370), st.floats(0.35, 1.0))
def test_fast_compression_keeps_the_entropy(pressure, temperature, ratio):
    try:
        p2, t2 = compression.isentropic_end(pressure, temperature, ratio)
    except RangeError:
        assume(False)
    before = reference("S", T=temperature, P=pressure)
    assert reference("S", T=t2, P=p2) == pytest.approx(before, abs=2.0)
    assert p2 >= compression.isothermal_pressure_pa(pressure, temperature, ratio) * (1 - 1e-12)


@given(st.floats(2 * BAR, 20 * BAR), st.floats(270, 350), st.floats(0.4, 0.95))
def test_there_and_back(pressure, temperature, ratio):
    p2, t2 = compression.isentropic_end(pressure, temperature, ratio)
    assume(t2 <= nitrogen.HIGH_K)
    p1, t1 = compression.isentropic_end(p2, t2, 1.0 / ratio)
    assert (p1, t1) == (pytest.approx(pressure, rel=1e-7), pytest.approx(temperature, rel=1e-7))


@given(pressures, temperatures)
def test_heat_capacity(pressure, temperature):
    """The fit is one of densities: its second derivatives hold to two percent."""
    density = nitrogen.density_kg_m3(pressure, temperature)
    expected = reference("O", T=temperature, P=pressure)
    assert compression.isochoric_heat_capacity(temperature, density) == pytest.approx(
        expected, rel=0.02
    )


# --- rules that must hold ------------------------------------------------------------------------


@given(pressures, temperatures)
def test_the_bulk_modulus_is_the_slope_of_the_pressure(pressure, temperature):
    rho = nitrogen.density_kg_m3(pressure, temperature)
    step = 1e-5 * rho
    rise = nitrogen.raw_pressure(rho + step, temperature) - nitrogen.raw_pressure(
        rho - step, temperature
    )
    assert compression.stiffness_pa(temperature, rho) == pytest.approx(
        rho * rise / (2 * step), rel=1e-7
    )


@given(pressures, temperatures)
def test_the_ratio_of_heat_capacities_is_that_of_the_slopes(pressure, temperature):
    """(dp/drho)_s = c_p/c_v (dp/drho)_T, the slope taken from a small isentropic step."""
    rho = nitrogen.density_kg_m3(pressure, temperature)
    up = compression.isentropic_pressure_pa(pressure, temperature, 1 / 1.0005)
    down = compression.isentropic_pressure_pa(pressure, temperature, 1 / 0.9995)
    slope = (up - down) / (1e-3 * rho)
    isothermal = compression.stiffness_pa(temperature, rho) / rho
    gamma = compression.heat_capacity_ratio(pressure, temperature)
    assert gamma == pytest.approx(slope / isothermal, rel=1e-5)


def test_arrays_give_what_floats_give():
    start_pa, ratio = np.linspace(2, 20, 5) * BAR, np.linspace(0.4, 1.2, 5)
    p2, t2 = compression.isentropic_end(start_pa, 300.0, ratio)
    slow = compression.isothermal_pressure_pa(start_pa, 300.0, ratio)
    rule = compression.polytropic_pressure_pa(start_pa, 1.3, ratio)
    for n in range(5):
        one = (float(start_pa[n]), 300.0, float(ratio[n]))
        assert (p2[n], t2[n]) == pytest.approx(compression.isentropic_end(*one), rel=1e-12)
        assert slow[n] == pytest.approx(compression.isothermal_pressure_pa(*one), rel=1e-12)
        assert rule[n] == pytest.approx(
            compression.polytropic_pressure_pa(one[0], 1.3, one[2]), rel=1e-12
        )
    mixed = compression.isentropic_pressure_pa(10 * BAR, 300.0, ratio)
    assert mixed.shape == ratio.shape


@given(st.floats(1.0, 1.4), st.floats(0.5, 0.95))
def test_a_polytropic_end_has_its_pressure_and_its_density(exponent, ratio):
    p2, t2 = compression.polytropic_end(10 * BAR, 300.0, exponent, ratio)
    assert p2 == pytest.approx(10 * BAR * ratio**-exponent, rel=1e-12)
    assert nitrogen.density_kg_m3(p2, t2) == pytest.approx(
        nitrogen.density_kg_m3(10 * BAR, 300.0) / ratio, rel=1e-9
    )


def test_worked_examples():
    """Volume to 0.6 from 10 bar and 20 degC: ideal 10 * 0.6**-1.4 = 20.445 bar; real is more."""
    ideal = 10 * 0.6**-1.4
    assert ideal == pytest.approx(20.445, abs=1e-3)
    assert compression.polytropic_pressure_pa(10 * BAR, 1.4, 0.6) / BAR == pytest.approx(ideal)
    assert 1.005 < compression.isentropic_pressure_pa(10 * BAR, 293.15, 0.6) / BAR / ideal < 1.015


# --- refusals ------------------------------------------------------------------------------------

REFUSED = [
    lambda: compression.isentropic_end(10 * BAR, 300.0, 0.0),
    lambda: compression.isentropic_end(40 * BAR, 300.0, 0.2),
    lambda: compression.isothermal_pressure_pa(50 * BAR, 300.0, 0.3),
    lambda: compression.polytropic_pressure_pa(10 * BAR, 2.0, 0.5),
    lambda: compression.isentropic_end(np.array([10 * BAR, np.nan]), 300.0, 0.9),
    lambda: compression.isentropic_end(10 * BAR, 300.0, np.array([0.9, 0.01])),
    lambda: compression.polytropic_end(61 * BAR, 300.0, 1.2, 0.9),
]


@pytest.mark.parametrize("ask", REFUSED)
def test_out_of_range_is_refused_by_name(ask):
    with pytest.raises(RangeError) as refused:
        ask()
    assert refused.value.quantity in str(refused.value)
    assert refused.value.unit
