"""How a body follows the room: published convection, the lumped law, and its uncertainty."""

import math
import random

import pytest
from hypothesis import given
from hypothesis import strategies as st

from benchstation.physics import body_temperature as body
from benchstation.physics.body_temperature import TimeConstant
from benchstation.physics.errors import RangeError
from tests.physics.conftest import damper
from tests.reference_rows import assert_agrees, rows

FILE = "convection.csv"
SLOW = TimeConstant(1800.0, 0.35)


@pytest.mark.parametrize("expected", rows(FILE, quantity="nusselt_horizontal_cylinder"), ids=str)
def test_published_nusselt_numbers(expected):
    found = body.nusselt_horizontal_cylinder(
        expected.number("rayleigh"), expected.number("prandtl")
    )
    assert_agrees(expected, found)


@pytest.mark.parametrize("expected", rows(FILE, quantity="coefficient"), ids=str)
def test_a_published_pipe(expected):
    number = body.nusselt_horizontal_cylinder(
        expected.number("rayleigh"), expected.number("prandtl")
    )
    h = number * expected.number("conductivity") / expected.number("diameter_m")
    assert_agrees(expected, h)
    # The same pipe by our own properties of air: 70 degC in a room of 20 degC, 80 mm.
    own = body.convection_w_m2k(0.08, 343.15, 293.15)
    assert own == pytest.approx(expected.number(), rel=0.02)


def test_air_as_in_the_standard_atmosphere():
    # ISO 2533 at 288.15 K: 1.7894e-5 Pa s and 2.5343e-2 W/(m K); from memory.
    assert body.air_viscosity_pa_s(288.15) == pytest.approx(1.7894e-5, rel=1e-4)
    assert body.air_conductivity_w_mk(288.15) == pytest.approx(2.5343e-2, rel=1e-4)


def test_a_black_body_at_room_temperature_radiates_about_six_watts():
    # 4 s T^3 at 300 K is 6.12 W/(m2 K) (Bergman et al., section 1.2).
    assert body.radiation_w_m2k(300.0, 300.0, 1.0) == pytest.approx(6.12, abs=0.01)


def test_a_usual_unit_takes_about_half_an_hour_and_says_how_sure_that_is():
    found = body.body_time_constant(damper(), oil_kg=0.2)
    assert 1200 < found.tau_s < 3600
    assert 0.2 < found.u_rel < 0.45
    assert found.u_s == pytest.approx(found.tau_s * found.u_rel)
    weighed = body.body_time_constant(damper(), oil_kg=0.2, metal_kg=1.1)
    assert weighed.u_rel < found.u_rel
    assert weighed.tau_s == pytest.approx(found.tau_s, rel=2 * found.u_rel)
    heavier = body.body_time_constant(damper(), oil_kg=0.2, metal_kg=2.2)
    assert heavier.tau_s > 1.5 * weighed.tau_s


def test_what_is_left_of_a_measured_offset():
    sure = TimeConstant(1000.0, 0.0)
    found = body.offset_after(9.0, 0.3, 1000.0, sure)
    assert found.offset_k == pytest.approx(9.0 / math.e)
    assert found.u_k == pytest.approx(0.3 / math.e)
    unsure = body.offset_after(9.0, 0.3, 1000.0, TimeConstant(1000.0, 0.3))
    assert unsure.u_k > 0.3 * 9.0 / math.e * 0.7


@given(bound=st.floats(1.0, 60.0), hours=st.floats(0.0, 12.0), later=st.floats(0.01, 12.0))
def test_a_longer_stay_leaves_less(bound, hours, later):
    here = body.offset_of_stay(bound, hours * 3600, SLOW)
    then = body.offset_of_stay(bound, (hours + later) * 3600, SLOW)
    assert here.offset_k == 0.0
    assert then.u_k < here.u_k <= bound / math.sqrt(3.0)


@pytest.mark.parametrize("hours", [0.0, 0.25, 0.5, 1.0, 2.0, 4.0])
def test_a_stay_covers_what_units_really_are(hours):
    # Units that came in anywhere within the bound, each with its own time constant.
    chance = random.Random(4)
    u = body.offset_of_stay(40.0, hours * 3600, SLOW).u_k
    inside = 0
    for _ in range(4000):
        tau = SLOW.tau_s * math.exp(chance.gauss(0.0, SLOW.u_rel))
        left = chance.uniform(-40.0, 40.0) * math.exp(-hours * 3600 / tau)
        inside += abs(left) <= 2 * u
    assert inside / 4000 >= 0.93


@pytest.mark.parametrize("minutes", [0, 5, 15, 40, 90])
def test_a_measured_offset_covers_what_it_becomes(minutes):
    chance = random.Random(5)
    inside = 0
    for _ in range(4000):
        truly = chance.uniform(-10.0, 10.0)
        shown = truly + chance.gauss(0.0, 0.3)
        tau = SLOW.tau_s * math.exp(chance.gauss(0.0, SLOW.u_rel))
        found = body.offset_after(shown, 0.3, minutes * 60, SLOW)
        inside += abs(truly * math.exp(-minutes * 60 / tau) - found.offset_k) <= 2 * found.u_k
    assert inside / 4000 >= 0.92


def test_a_drifting_room_leaves_the_body_behind():
    drift = 2.0 / 3600.0
    assert body.lag_u_k(drift, 0.0, SLOW) == 0.0
    assert body.lag_u_k(drift, 1e6, SLOW) == pytest.approx(drift * 1800.0 / math.sqrt(3.0))


@pytest.mark.parametrize(
    ("call", "words"),
    [
        (lambda: body.nusselt_horizontal_cylinder(2e12, 0.7), "Rayleigh"),
        (lambda: body.air_viscosity_pa_s(500.0), "air temperature"),
        (lambda: body.radiation_w_m2k(300.0, 300.0, 1.2), "emissivity"),
        (lambda: body.convection_w_m2k(0.0, 300.0, 290.0), "diameter"),
        (lambda: body.offset_of_stay(-1.0, 10.0, SLOW), "offset"),
        (lambda: SLOW.left(-1.0), "time in the room"),
        (lambda: body.body_time_constant(damper(), oil_kg=0.2, metal_kg=-1.0), "metal"),
    ],
)
def test_what_no_formula_holds_for_is_refused(call, words):
    with pytest.raises(RangeError, match=words):
        call()
