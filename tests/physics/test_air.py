"""Air: its density, its buoyancy on what is weighed, and the barometer from altitude."""

import re

import pytest
from hypothesis import given
from hypothesis import strategies as st

from benchstation.physics import air
from benchstation.physics.errors import RangeError
from tests.reference_rows import assert_agrees, row, rows

FILE, ATMOSPHERE = "air_buoyancy.csv", "standard_atmosphere.csv"


def at(row_):
    return (
        row_.number("t_C") + 273.15,
        row_.number("p_Pa"),
        row_.number("rh_percent") / 100.0,
    )


# --- density -------------------------------------------------------------------------------------


@pytest.mark.parametrize("expected", rows(FILE, quantity="air_density_CIPM2007"), ids=str)
def test_cipm_2007(expected):
    assert_agrees(expected, air.cipm_2007(*at(expected)))


@pytest.mark.parametrize("expected", rows(FILE, quantity="air_density_simple_OIML_R111"), ids=str)
def test_simple_form(expected):
    assert_agrees(expected, air.air_density_kg_m3(*at(expected)))


@pytest.mark.parametrize(
    ("quantity", "compute"),
    [
        ("air_density_published", air.cipm_2007),
        ("air_density_published_table", air.cipm_2007),
        ("air_density_published_SOP2_ex3", air.cipm_2007),
        ("air_density_SOP2_Jones", air.air_density_kg_m3),
        ("air_density_simple_EURAMET", air.air_density_kg_m3),
    ],
)
def test_other_published_values(quantity, compute):
    """Other equations for the same air: they agree to 2e-4."""
    for expected in rows(FILE, quantity=quantity):
        assert compute(*at(expected)) == pytest.approx(expected.number(), rel=2e-4)


def test_intermediate_values_of_cipm_2007():
    saturation = row(FILE, quantity="CIPM2007_intermediate:saturation_vapour_pressure")
    assert_agrees(saturation, air.saturation_pressure_pa(293.15))
    z = row(FILE, quantity="CIPM2007_intermediate:compressibility_Z")
    water = row(FILE, quantity="CIPM2007_intermediate:mole_fraction_water")
    mole_fraction = 0.5 * air._enhancement(20.0, 101325.0) * saturation.number() / 101325.0
    assert_agrees(water, mole_fraction)
    assert_agrees(z, air._compressibility(293.15, 101325.0, water.number()))


@pytest.mark.parametrize(
    ("hottest_c", "thinnest_pa", "wettest", "deviation"),
    [
        (30.0, 90e3, 0.8, 3e-4),
        (40.0, 80e3, 1.0, 3e-3),
        (50.0, 50e3, 1.0, 1.8e-2),
        (59.8, 50e3, 1.0, 6e-2),
    ],
)
@given(data=st.data())
def test_simple_form_against_cipm_2007(hottest_c, thinnest_pa, wettest, deviation, data):
    coldest_c = 10.0 if hottest_c == 30.0 else -20.0
    temperature = data.draw(st.floats(coldest_c, hottest_c)) + 273.15
    pressure = data.draw(st.floats(thinnest_pa, 110e3))
    humidity = data.draw(st.floats(0.0, wettest))
    full = air.cipm_2007(temperature, pressure, humidity)
    simple = air.air_density_kg_m3(temperature, pressure, humidity)
    assert simple == pytest.approx(full, rel=deviation)


@given(st.floats(274, 322), st.floats(51e3, 109e3), st.floats(0.0, 0.99))
def test_moist_and_warm_air_is_lighter(temperature, pressure, humidity):
    here = air.cipm_2007(temperature, pressure, humidity)
    assert air.cipm_2007(temperature + 1.0, pressure, humidity) < here
    assert air.cipm_2007(temperature, pressure, humidity + 0.01) < here
    assert air.cipm_2007(temperature, pressure + 1e3, humidity) > here


# --- buoyancy ------------------------------------------------------------------------------------


@pytest.mark.parametrize("expected", rows(FILE, quantity="buoyancy_factor"), ids=str)
def test_buoyancy_factor(expected):
    """NIST SOP 2 prints true mass over reading: the inverse of W/m."""
    factor = air.buoyancy_factor(
        expected.number("rho_sample_kg_m3"), expected.number("rho_air_kg_m3")
    )
    assert_agrees(expected, 1.0 / factor)


@pytest.mark.parametrize("expected", rows(FILE, quantity="true_mass_from_reading"), ids=str)
def test_true_mass(expected):
    true = air.true_mass_kg(
        expected.number("reading_g") * 1e-3,
        expected.number("rho_sample_kg_m3"),
        expected.number("rho_air_kg_m3"),
    )
    assert_agrees(expected, true * 1e3)


@pytest.mark.parametrize("expected", rows(FILE, quantity="volume_from_reading"), ids=str)
def test_volume_from_a_reading(expected):
    density = expected.number("rho_sample_kg_m3")
    true = air.true_mass_kg(
        expected.number("reading_g") * 1e-3, density, expected.number("rho_air_kg_m3")
    )
    assert_agrees(expected, true / density * 1e6)


def test_the_reference_air_is_that_of_conventional_mass():
    published = row(FILE, quantity="conventional_mass_definition:reference_air_density")
    assert published.number() == air.CONVENTIONAL_AIR


@given(st.floats(0.01, 5.0), st.floats(700, 1200), st.floats(0.9, 1.3))
def test_reading_and_true_mass_undo_each_other(mass, density, air_density):
    shown = air.indicated_mass_kg(mass, density, air_density)
    assert shown < mass
    assert air.true_mass_kg(shown, density, air_density) == pytest.approx(mass, rel=1e-14)


@given(st.floats(0.0, 1.5))
def test_weights_weigh_themselves(air_density):
    assert air.buoyancy_factor(8000.0, air_density) == pytest.approx(1.0, rel=1e-14)


# --- altitude ------------------------------------------------------------------------------------


@pytest.mark.parametrize("expected", rows(ATMOSPHERE, quantity="pressure"), ids=str)
def test_standard_atmosphere(expected):
    altitude = expected.number("H_geopotential_m")
    assert_agrees(expected, air.pressure_at_altitude_pa(altitude))
    assert air.altitude_of_pressure_m(expected.number()) == pytest.approx(altitude, abs=0.01)


@pytest.mark.parametrize("expected", rows(ATMOSPHERE, quantity="pressure_published"), ids=str)
def test_standard_atmosphere_as_printed(expected):
    altitude = expected.number("H_geopotential_m")
    assert_agrees(expected, air.pressure_at_altitude_pa(altitude))


@pytest.mark.parametrize("expected", rows(ATMOSPHERE, quantity="pressure_altitude"), ids=str)
def test_pressure_altitude(expected):
    stated = re.search(r"p=(\d+) Pa", expected["note"])
    assert stated is not None
    assert_agrees(expected, air.altitude_of_pressure_m(float(stated[1])))


def test_constants_are_those_published():
    assert row(ATMOSPHERE, quantity="constant:p0").number() == air.STANDARD_PRESSURE_PA
    for name, value in (("T0", air._T0_K), ("lapse_rate", air._LAPSE_K_M), ("g0", air._G0)):
        assert row(ATMOSPHERE, quantity=f"constant:{name}").number() == value
    assert row(ATMOSPHERE, quantity="constant:R_air").number() == air._R_AIR


@given(st.floats(-1000, 11000))
def test_altitude_and_pressure_undo_each_other(altitude):
    pressure = air.pressure_at_altitude_pa(altitude)
    assert air.altitude_of_pressure_m(pressure) == pytest.approx(altitude, abs=1e-6)


@pytest.mark.parametrize(
    "ask",
    [
        lambda: air.air_density_kg_m3(20.0, 101325.0, 0.5),
        lambda: air.air_density_kg_m3(293.15, 1013.25, 0.5),
        lambda: air.air_density_kg_m3(293.15, 101325.0, 50.0),
        lambda: air.air_density_kg_m3(float("nan"), 101325.0, 0.5),
        lambda: air.cipm_2007(293.15, 101325.0, -0.1),
        lambda: air.cipm_2007(293.15, 101325.0, 0.5, 0.5),
        lambda: air.buoyancy_factor(0.86),
        lambda: air.buoyancy_factor(860.0, 12.0),
        lambda: air.buoyancy_factor(860.0, float("nan")),
        lambda: air.pressure_at_altitude_pa(12_000.0),
        lambda: air.altitude_of_pressure_m(1013.25),
    ],
)
def test_out_of_range_is_refused_by_name(ask):
    with pytest.raises(RangeError) as refused:
        ask()
    assert refused.value.quantity in str(refused.value)
