"""A unit's own temperature: measured, by a stay in the room, or not known."""

import math
import random
from datetime import UTC, datetime, timedelta

import pytest

from benchstation.domain.body_temperature import (
    BOUND_K,
    BodySource,
    in_room_since,
    measured,
    not_known,
    time_constant_of,
)
from benchstation.domain.surroundings import Surroundings
from benchstation.physics.body_temperature import TimeConstant

NOON = datetime(2026, 5, 4, 12, 0, tzinfo=UTC)
AIR = Surroundings(293.15, 101_325.0, 0.5, 0.3, 100.0)
BODY = TimeConstant(1800.0, 0.3)
DRIFT = 2.0 / 3600.0


def test_a_unit_measured_now_has_its_own_temperature():
    found = measured(302.15, 0.2, NOON, NOON, air=AIR, body=BODY)
    assert found.temperature_k == pytest.approx(302.15)
    assert found.offset_k == pytest.approx(9.0)
    assert 0.2 < found.u_k < 0.6, "the probe sees some of the air"
    assert found.source is BodySource.MEASURED


def test_an_older_measurement_fades_into_the_air():
    ages = (0, 10, 30, 90, 600)
    found = [
        measured(302.15, 0.2, NOON - timedelta(minutes=m), NOON, air=AIR, body=BODY) for m in ages
    ]
    temperatures = [one.temperature_k for one in found]
    assert temperatures == sorted(temperatures, reverse=True)
    assert found[2].u_k > found[0].u_k
    assert found[-1].temperature_k == pytest.approx(AIR.temperature_k, abs=0.01)
    assert found[-1].u_k == pytest.approx(AIR.u_temperature_k, abs=0.02)


def test_a_stay_says_how_far_it_may_still_be_off():
    new = in_room_since(NOON, NOON, air=AIR, body=BODY)
    hour = in_room_since(NOON - timedelta(hours=1), NOON, air=AIR, body=BODY)
    day = in_room_since(NOON - timedelta(hours=20), NOON, air=AIR, body=BODY)
    assert new.u_k > 20.0 > hour.u_k > 3.0 > day.u_k
    assert day.u_k == pytest.approx(AIR.u_temperature_k, abs=0.05)
    assert day.temperature_k == hour.temperature_k == AIR.temperature_k
    drifting = in_room_since(NOON - timedelta(hours=20), NOON, air=AIR, body=BODY, drift_k_s=DRIFT)
    assert drifting.u_k > day.u_k + 0.2


def test_nothing_known_is_as_wide_as_a_unit_that_came_just_now():
    nothing = not_known(air=AIR, body=BODY)
    assert nothing.source is BodySource.NOT_KNOWN
    assert nothing.at is None
    just_now = in_room_since(NOON, NOON, air=AIR, body=BODY, bound_k=BOUND_K)
    assert nothing.u_k == pytest.approx(just_now.u_k, rel=0.01)


def test_a_hold_sees_the_unit_drift_towards_the_room():
    warm = measured(299.15, 0.2, NOON, NOON, air=AIR, body=BODY)
    change, u = warm.change(60.0)
    assert change == pytest.approx(-6.0 * 60.0 / 1800.0, rel=0.1)
    assert 0.01 < u < 0.12
    nowhere, sure = warm.change(0.0)
    assert nowhere == sure == 0.0
    unknown = not_known(air=AIR, body=BODY)
    assert unknown.change(60.0)[1] > 0.7


def test_a_specification_gives_its_unit_a_time_constant(spec):
    found = time_constant_of(spec)
    assert 900 < found.tau_s < 4000


@pytest.mark.parametrize("hours", [0.5, 2.0, 6.0])
def test_two_u_cover_units_in_a_drifting_room_that_nobody_measured(hours):
    """Each unit came in anywhere within the bound, with a time constant and a drift of its own."""
    chance, inside, seconds = random.Random(11), 0, hours * 3600
    found = in_room_since(NOON - timedelta(hours=hours), NOON, air=AIR, body=BODY, drift_k_s=DRIFT)
    for _ in range(3000):
        tau = BODY.tau_s * math.exp(chance.gauss(0.0, BODY.u_rel))
        left = math.exp(-seconds / tau)
        lag = -chance.uniform(-DRIFT, DRIFT) * tau * (1 - left)
        truly = AIR.temperature_k + chance.gauss(0.0, AIR.u_temperature_k)
        truly += chance.uniform(-BOUND_K, BOUND_K) * left + lag
        inside += abs(truly - found.temperature_k) <= 2 * found.u_k
    assert inside / 3000 >= 0.93
