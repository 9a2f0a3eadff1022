"""The 60 degF procedure against the worked examples published with API MPMS 11.1-2004."""

import pytest

from benchstation.physics import oil, oil_60f
from benchstation.physics.errors import RangeError
from tests.reference_rows import assert_agrees, row, rows

FILE = "oil_density_temperature.csv"


def kelvin_of_f(fahrenheit):
    return (fahrenheit + 459.67) / 1.8


def constants(reference):
    return reference.number("K0"), reference.number("K1"), reference.number("K2")


@pytest.mark.parametrize("reference", rows(FILE, quantity="published_example_temp_IPTS68"), ids=str)
def test_published_temperature_shift(reference):
    assert_agrees(reference, oil_60f.fahrenheit_68(reference.number("temp")))


@pytest.mark.parametrize(
    "reference", rows(FILE, quantity="published_example_density_IPTS68"), ids=str
)
def test_published_density_shift(reference):
    rho60 = reference.number("rho_base_kg_m3")
    # The examples print rounded base densities beside unrounded results.
    shifted = oil_60f.density_68_kg_m3(rho60, *constants(reference))
    assert shifted == pytest.approx(reference.number(), abs=3e-7)


@pytest.mark.parametrize("reference", rows(FILE, quantity="published_example_alpha60"), ids=str)
def test_published_expansion(reference):
    rho60 = reference.number("rho_base_kg_m3")
    assert_agrees(reference, oil_60f.alpha60_per_f(rho60, *constants(reference)))


@pytest.mark.parametrize("reference", rows(FILE, quantity="published_example_CTL"), ids=str)
def test_published_temperature_correction(reference):
    rho60, temperature = reference.number("rho_base_kg_m3"), kelvin_of_f(reference.number("temp"))
    ctl = oil_60f.volume_correction_60f(rho60, temperature, *constants(reference))
    assert_agrees(reference, ctl)


@pytest.mark.parametrize("reference", rows(FILE, quantity="lube_CTL_60F"), ids=str)
def test_lubricating_oil_correction(reference):
    rho60, temperature = reference.number("rho_base_kg_m3"), kelvin_of_f(reference.number("temp"))
    assert_agrees(reference, oil_60f.density_from_60f_kg_m3(rho60, temperature) / rho60)


def test_constant_is_the_published_one():
    assert row(FILE, quantity="constant:K1", base="60F").number() == oil_60f.K1_60F


@pytest.mark.parametrize("celsius", [-20.0, 5.0, 40.0, 100.0])
@pytest.mark.parametrize("rho60", [830.0, 875.0, 950.0])
def test_both_bases_give_the_same_oil(rho60, celsius):
    rho15 = oil_60f.rho15_from_60f_kg_m3(rho60)
    temperature = celsius + 273.15
    by_60f = oil_60f.density_from_60f_kg_m3(rho60, temperature)
    assert oil.density_kg_m3(rho15, temperature) == pytest.approx(by_60f, rel=1.2e-5)


@pytest.mark.parametrize("celsius", [-30.0, 25.0, 140.0])
def test_inverse(celsius):
    temperature = celsius + 273.15
    observed = oil_60f.density_from_60f_kg_m3(861.0, temperature)
    assert oil_60f.density_at_60f_kg_m3(observed, temperature) == pytest.approx(861.0, abs=1e-7)


def test_out_of_range_is_refused():
    with pytest.raises(RangeError, match="60 degF"):
        oil_60f.density_from_60f_kg_m3(0.86, 293.15)
