"""Oil density against ASTM D1250-04 / API MPMS 11.1 / ISO 91 and its own inverse."""

import re

import pytest
from hypothesis import given
from hypothesis import strategies as st

from benchstation.physics import oil
from benchstation.physics.errors import RangeError
from tests.reference_rows import assert_agrees, row, rows

FILE = "oil_density_temperature.csv"
densities = st.floats(805.0, 1150.0)
temperatures = st.floats(228.15, 418.15)


def kelvin(reference):
    assert reference["temp_unit"] == "degC"
    return reference.number("temp") + 273.15


@pytest.mark.parametrize("reference", rows(FILE, quantity="lube_density_at_t"), ids=str)
def test_density_at_temperature(reference):
    assert_agrees(
        reference, oil.density_kg_m3(reference.number("rho_base_kg_m3"), kelvin(reference))
    )


@pytest.mark.parametrize("reference", rows(FILE, quantity="lube_VCF_15C_1980"), ids=str)
@pytest.mark.parametrize("edition", ["lube_VCF_15C_1980", "lube_VCF_15C_2004"])
def test_volume_correction_of_both_editions(reference, edition):
    other = row(
        FILE, quantity=edition, rho_base_kg_m3=reference["rho_base_kg_m3"], temp=reference["temp"]
    )
    rho15 = other.number("rho_base_kg_m3")
    assert_agrees(other, oil.density_kg_m3(rho15, kelvin(other)) / rho15)


@pytest.mark.parametrize("reference", rows(FILE, quantity="lube_alpha15"), ids=str)
def test_expansion_coefficient(reference):
    assert_agrees(reference, oil.expansion_per_k(reference.number("rho_base_kg_m3")))


@pytest.mark.parametrize("reference", rows(FILE, quantity="lube_rho15_from_observed"), ids=str)
def test_density_at_15_from_observation(reference):
    observed = reference.number("rho_base_kg_m3")
    assert_agrees(reference, oil.density_at_15_kg_m3(observed, kelvin(reference)))


def test_constants_are_those_published():
    assert row(FILE, quantity="constant:K1", base="15C").number() == oil.K1_15C


def test_observed_laboratory_expansion():
    """Mineral oil grows by 7 L in 200 L over 50 K (a laboratory's figure)."""
    measured = row(FILE, quantity="mineral_oil_expansion_measured")
    assert_agrees(measured, oil.Oil(875.0).mean_expansion_per_k(288.15, 288.15 + 5.0))


@pytest.mark.parametrize("reference", rows(FILE, quantity="mass_of_volume_at_t"), ids=str)
def test_mass_of_a_volume(reference):
    stated = re.search(r"of ([0-9.]+) mL", reference["note"])
    assert stated is not None
    volume_ml = float(stated[1])
    density = oil.density_kg_m3(reference.number("rho_base_kg_m3"), kelvin(reference))
    assert_agrees(reference, density * volume_ml * 1e-3)


def test_twenty_kelvin_is_one_and_a_half_percent():
    """From the published coefficient: the wrong temperature costs 1.5 % of the fill."""
    light = oil.Oil(850.0)
    assert light.density(293.15) / light.density(313.15) - 1.0 == pytest.approx(0.015, abs=0.0005)


@given(densities, temperatures)
def test_inverse_recovers_the_density_at_15(rho15, temperature):
    observed = oil.density_kg_m3(rho15, temperature)
    assert oil.density_at_15_kg_m3(observed, temperature) == pytest.approx(rho15, abs=1e-6)


@given(densities, temperatures, st.floats(0.01, 10.0))
def test_density_falls_as_oil_warms(rho15, temperature, rise):
    lot = oil.Oil(rho15)
    assert lot.density(temperature + min(rise, 423.15 - temperature)) < lot.density(temperature)


@given(densities, temperatures, temperatures)
def test_mean_expansion_is_exact_between_its_temperatures(rho15, start, end):
    lot = oil.Oil(rho15)
    grown = 1.0 + lot.mean_expansion_per_k(start, end) * (end - start)
    assert grown == pytest.approx(lot.density(start) / lot.density(end), rel=1e-9)


def test_local_expansion_is_the_limit_of_the_mean_one():
    lot = oil.Oil(860.0)
    nearby = lot.mean_expansion_per_k(313.15, 313.16)
    assert lot.mean_expansion_per_k(313.15, 313.15) == pytest.approx(nearby, rel=1e-5)


def test_own_coefficient_replaces_the_general_one():
    own = oil.Oil(860.0, alpha_per_k=8.0e-4)
    assert own.density(288.15) == 860.0
    assert own.density(298.15) < oil.Oil(860.0).density(298.15)
    assert own.alpha15_per_k == 8.0e-4


@pytest.mark.parametrize(
    ("rho15", "temperature", "quantity"),
    [
        (0.86, 293.15, "oil density at 15 degC"),
        (860.0, 20.0, "oil temperature"),
        (860.0, float("nan"), "oil temperature"),
        (float("inf"), 293.15, "oil density at 15 degC"),
    ],
)
def test_out_of_range_is_refused_by_name(rho15, temperature, quantity):
    with pytest.raises(RangeError) as refused:
        oil.density_kg_m3(rho15, temperature)
    assert refused.value.quantity == quantity
    assert quantity in str(refused.value)


@pytest.mark.parametrize("bad", [{"alpha_per_k": 7e-6}, {"u_rel": -1e-4}, {"u_rel": 0.5}])
def test_impossible_lot_is_refused(bad):
    with pytest.raises(RangeError):
        oil.Oil(860.0, **bad)
