"""Nitrogen in bottles against the reference equation of Span et al. (2000)."""

import numpy as np
import pytest
from hypothesis import given
from hypothesis import strategies as st

from benchstation.physics import nitrogen
from benchstation.physics.bottle_gas import bottle_density_kg_m3, bottle_pressure_pa
from benchstation.physics.errors import RangeError
from tests.reference_rows import assert_agrees, rows

CoolProp = pytest.importorskip("CoolProp.CoolProp")
BAR = 1e5


def test_the_whole_range_on_a_grid():
    """A tenth of a percent everywhere: a bottle's gauge is ten times worse."""
    for pressure in np.linspace(1, 310, 40) * BAR:
        for temperature in np.linspace(253.15, 338.15, 18):
            expected = CoolProp.PropsSI("D", "P", pressure, "T", temperature, "Nitrogen")
            found = bottle_density_kg_m3(float(pressure), float(temperature))
            assert found == pytest.approx(expected, rel=1e-3)


def test_published_rows_hold_here_too():
    found = [
        r
        for r in rows("nitrogen_density.csv", quantity="density")
        if 253.15 <= r.number("T_K") <= 338.15
    ]
    assert len(found) > 20
    for expected in found:
        density = bottle_density_kg_m3(expected.number("p_bar_abs") * BAR, expected.number("T_K"))
        assert density == pytest.approx(expected.number(), rel=4e-4)
    assert_agrees(found[0], bottle_density_kg_m3(1 * BAR, found[0].number("T_K")))


@given(st.floats(1 * BAR, 309 * BAR), st.floats(253.15, 338.15))
def test_pressure_undoes_density(pressure, temperature):
    density = bottle_density_kg_m3(pressure, temperature)
    assert bottle_pressure_pa(density, temperature) == pytest.approx(pressure, rel=1e-9)


@given(st.floats(1 * BAR, 300 * BAR), st.floats(253.15, 338.15), st.floats(1.001, 1.03))
def test_more_pressure_is_denser(pressure, temperature, factor):
    assert bottle_density_kg_m3(pressure * factor, temperature) > bottle_density_kg_m3(
        pressure, temperature
    )


@given(st.floats(1 * BAR, 40 * BAR), st.floats(253.15, 338.15))
def test_it_joins_the_equation_of_the_unit(pressure, temperature):
    assert bottle_density_kg_m3(pressure, temperature) == pytest.approx(
        nitrogen.density_kg_m3(pressure, temperature), rel=4e-4
    )


REFUSED = [
    lambda: bottle_density_kg_m3(311 * BAR, 293.15),
    lambda: bottle_density_kg_m3(200 * BAR, 393.15),
    lambda: bottle_density_kg_m3(float("nan"), 293.15),
    lambda: bottle_pressure_pa(450.0, 293.15),
    lambda: bottle_pressure_pa(400.0, 338.15),
]


@pytest.mark.parametrize("ask", REFUSED)
def test_out_of_range_is_refused_by_name(ask):
    with pytest.raises(RangeError) as refused:
        ask()
    assert refused.value.quantity in str(refused.value)
