"""Lots by the route of their density: the values, and that the stated uncertainty holds."""

import math

import numpy as np
import pytest
from hypothesis import given
from hypothesis import strategies as st

from benchstation.physics.errors import RangeError
from benchstation.physics.oil import Oil
from benchstation.physics.oil_lot import (
    DensityRoute,
    certificate_lot,
    hydrometer_lot,
    own_expansion_lot,
    two_density_lot,
)
from tests.reference_rows import assert_agrees, rows

FILE = "oil_density_temperature.csv"
densities, alphas = st.floats(810.0, 950.0), st.floats(5e-4, 1.0e-3)
temperatures = st.floats(263.15, 363.15)


@pytest.mark.parametrize("expected", rows(FILE, quantity="lube_density_at_t"), ids=str)
def test_a_certificate_gives_the_density_of_the_standard(expected):
    offset = 273.15 if expected["temp_unit"] == "degC" else 0.0
    lot = certificate_lot(expected.number("rho_base_kg_m3"), 0.5)
    assert_agrees(expected, lot.density(expected.number("temp") + offset))


@pytest.mark.parametrize("expected", rows(FILE, quantity="lube_rho15_from_observed"), ids=str)
def test_a_hydrometer_gives_the_density_at_15_of_the_standard(expected):
    observed = expected.number("rho_base_kg_m3")
    lot = hydrometer_lot(observed, expected.number("temp") + 273.15, 0.6, 0.2)
    assert_agrees(expected, lot.oil.rho15_kg_m3)


@given(densities, alphas, temperatures, st.floats(6.0, 60.0))
def test_two_densities_give_back_the_oil_they_came_from(rho15, alpha, first, apart):
    oil = Oil(rho15, alpha)
    lot = two_density_lot(oil.density(first), first, oil.density(first + apart), first + apart)
    assert lot.route is DensityRoute.TWO_DENSITIES
    assert lot.oil.rho15_kg_m3 == pytest.approx(rho15, rel=1e-9)
    assert lot.oil.alpha15_per_k == pytest.approx(alpha, rel=1e-7)


def test_two_densities_by_hand():
    """858.0 at 15 degC and 826.4 at 65 degC: q = ln(858/826.4)/50 = 7.5050e-4 1/K, and a solves
    a (1 + 0.8 a 50) = q: 7.5050e-4 / (1 + 40 * 7.29e-4) = 7.292e-4 1/K."""
    lot = two_density_lot(858.0, 288.15, 826.4, 338.15)
    q = math.log(858.0 / 826.4) / 50.0
    alpha = lot.oil.alpha15_per_k
    assert q == pytest.approx(7.5050e-4, abs=5e-8)
    assert alpha == pytest.approx(7.292e-4, abs=5e-7)
    assert alpha * (1 + 0.8 * alpha * 50) == pytest.approx(q, rel=1e-12)
    assert lot.density(288.15) == pytest.approx(858.0, rel=1e-12)
    assert lot.density(338.15) == pytest.approx(826.4, rel=1e-12)


def spread(make, u_density, at_k, count=4000):
    """Monte Carlo (JCGM 101): the relative spread of the density that noisy readings give."""
    noise = np.random.default_rng(7)
    values = [make(noise).density(at_k) for _ in range(count)]
    assert u_density > 0
    return np.std(values) / np.mean(values)


@pytest.mark.parametrize("at_k", [288.15, 293.15, 313.15, 373.15])
def test_the_uncertainty_of_two_densities_holds(at_k):
    oil, u, u_k = Oil(860.0, 7.6e-4), 0.5, 0.2
    lot = two_density_lot(
        oil.density(293.15), 293.15, oil.density(333.15), 333.15,
        u_density_kg_m3=u, u_temperature_k=u_k,
    )  # fmt: skip

    def make(noise):
        first, second = noise.normal(0.0, u, 2)
        t1, t2 = noise.normal(0.0, u_k, 2)
        return two_density_lot(
            oil.density(293.15 + t1) + first, 293.15, oil.density(333.15 + t2) + second, 333.15
        )

    assert lot.u_rel(at_k) == pytest.approx(spread(make, u, at_k), rel=0.06)


@pytest.mark.parametrize("at_k", [288.15, 303.15, 353.15])
def test_the_uncertainty_of_a_reading_holds(at_k):
    """The true oil has its own coefficient near the general one; reading and thermometer err."""
    u, u_k, u_rel = 0.6, 0.3, 0.025
    lot = hydrometer_lot(851.0, 303.15, u, u_k, u_expansion_rel=u_rel)
    alpha = lot.oil.alpha15_per_k

    def make(noise):
        own = alpha * (1.0 + noise.normal(0.0, u_rel))
        warmth = lot.density(303.15 + noise.normal(0.0, u_k)) / lot.density(303.15)
        observed = 851.0 * warmth + noise.normal(0.0, u)
        rho15 = 860.0 * observed / Oil(860.0, own).density(303.15)
        return own_expansion_lot(rho15, 0.0, own, 0.0)

    assert lot.u_rel(at_k) == pytest.approx(spread(make, u, at_k), rel=0.06)


def test_a_reading_is_surest_at_its_own_temperature():
    """There the coefficient cancels: only the instrument and its thermometer remain."""
    lot = hydrometer_lot(851.0, 303.15, 0.6, 0.0)
    assert lot.u_rel(303.15) == pytest.approx(0.6 / 851.0, rel=1e-9)
    assert lot.u_rel(303.15) < lot.u_rel(288.15)
    assert lot.u_rel(303.15) < lot.u_rel(323.15)


def test_a_certificate_by_hand():
    """u = 0.86 of 860 is 1e-3; at 35 degC the coefficient, 7.3e-4 known to 2.5 %, adds 20 K of it:
    g = 20 (1 + 1.6 * 0.0146) = 20.47 K; 20.47 * 1.825e-5 = 3.735e-4; together 1.0675e-3."""
    lot = certificate_lot(860.0, 0.86)
    assert lot.u_rel(288.15) == pytest.approx(1e-3, rel=1e-12)
    assert lot.u_rel(308.15) == pytest.approx(1.0675e-3, rel=1e-3)
    assert lot.u_density_kg_m3(288.15) == pytest.approx(0.86, rel=1e-12)
    assert lot.oil.u_rel == pytest.approx(1e-3)


@given(densities, temperatures, st.floats(0.01, 5.0))
def test_a_better_instrument_never_makes_the_density_less_sure(rho15, temperature, u):
    own = own_expansion_lot(rho15, u, 7.5e-4, 1e-5)
    better = own_expansion_lot(rho15, 0.5 * u, 7.5e-4, 0.5e-5)
    assert better.u_rel(temperature) <= own.u_rel(temperature)
    assert own.route is DensityRoute.OWN_EXPANSION


REFUSED = [
    lambda: two_density_lot(858.0, 288.15, 857.0, 290.15),
    lambda: two_density_lot(858.0, 288.15, 858.0, 338.15),
    lambda: two_density_lot(858.0, 288.15, 700.0, 338.15),
    lambda: two_density_lot(858.0, 288.15, 826.4, 538.15),
    lambda: two_density_lot(1258.0, 288.15, 826.4, 338.15),
    lambda: certificate_lot(860.0, -1.0),
    lambda: certificate_lot(700.0, 1.0),
    lambda: hydrometer_lot(850.0, 293.15, 0.5, 20.0),
    lambda: own_expansion_lot(860.0, 0.5, 7.5e-4, 8e-4),
    lambda: certificate_lot(860.0, 0.5).u_rel(500.0),
]


@pytest.mark.parametrize("ask", REFUSED)
def test_out_of_range_is_refused_by_name(ask):
    with pytest.raises(RangeError) as refused:
        ask()
    assert refused.value.quantity in str(refused.value)
