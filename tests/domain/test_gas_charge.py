"""A hold test of units that are off the room's temperature: what is said of them is true."""

import math
from dataclasses import replace
from datetime import UTC, datetime, timedelta
from importlib.resources import files

import numpy as np
import pytest

from benchstation.domain.body_temperature import in_room_since, measured, time_constant_of
from benchstation.domain.gas_charge import (
    HoldDoubt,
    hold_drift,
    judge_hold,
    target_for,
)
from benchstation.domain.specification import specification_from_toml
from benchstation.domain.surroundings import Surroundings
from benchstation.metrology.conformity import Decision
from benchstation.physics.body_temperature import TimeConstant
from benchstation.physics.leak import Leak, closed_volume_leak
from benchstation.physics.oil import Oil

FRONT = files("resources") / "demo" / "specifications" / "mr-46-front.toml"
SPECIFICATION = specification_from_toml(FRONT.read_text("utf-8"))
ALLOWED = SPECIFICATION.gas.allowed_leak
AIR = Surroundings(293.15, 101_325.0, u_temperature_k=0.3)
BODY = time_constant_of(SPECIFICATION)
TARGET = target_for(SPECIFICATION, Oil(851.0), 262e-6, AIR)
UNIT = SPECIFICATION.charged(Oil(851.0))
NOW = datetime(2026, 3, 2, 9, tzinfo=UTC)
SETTLED_S, HOLD_S = 60.0, 30.0
STATED = 0.0228
"""One side of 2 u: as many leaking units may pass, and as many good ones fail."""


def held(offset_k, leak, chance, body):
    """Return the judgement of a unit so far off the room, that leaks so much, and its leak."""
    tau_s = BODY.tau_s * math.exp(BODY.u_rel * chance.normal())
    t = np.arange(0.0, SETTLED_S + HOLD_S, 0.25)
    coarse = np.linspace(0.0, t[-1], 10)
    off = AIR.temperature_k + offset_k * np.exp(-(coarse - SETTLED_S) / tau_s)
    pressure = np.interp(t, coarse, [UNIT.pressure_pa(float(k)) for k in off])
    pressure += 1.5e5 * np.exp(-t / chance.uniform(4.0, 9.0)) - leak / TARGET.gas_volume_m3 * t
    pressure += chance.normal(0.0, 100.0, len(t))
    drift = hold_drift(TARGET, body, HOLD_S)
    found = closed_volume_leak(t, pressure, TARGET.gas_volume_m3, resolution_pa=100.0, drift=drift)
    return judge_hold(found, ALLOWED, body=BODY), found


def touched(offset_k, chance, u_k=0.3):
    """Return the temperature of a body measured five minutes before, with the errors it may have.

    The thermometer's, the air's, and that of the contact: 5 % of the difference.
    """
    at = NOW - timedelta(minutes=5)
    then = offset_k * math.exp(300.0 / BODY.tau_s) * (1 - 0.05 * chance.normal())
    air = replace(AIR, temperature_k=AIR.temperature_k + AIR.u_temperature_k * chance.normal())
    seen = AIR.temperature_k + then + u_k * chance.normal()
    return measured(seen, u_k, at, NOW, air=air, body=BODY)


def story(offsets, leaks, count, body_of):
    chance = np.random.default_rng(11)
    found = []
    for _ in range(count):
        offset, leak = chance.uniform(*offsets), ALLOWED * chance.uniform(*leaks)
        judged, tested = held(offset, leak, chance, body_of(offset, chance))
        found.append((judged, (tested.rate_pa_m3_s - leak) / tested.u_pa_m3_s))
    return found


def share(found, decision):
    return sum(judged.decision is decision for judged, _ in found) / len(found)


COUNT = 150
MOST = STATED + 2.0 * math.sqrt(STATED * (1 - STATED) / COUNT)


@pytest.mark.parametrize("offsets", [(0, 2), (2, 6), (-6, -2), (6, 10), (-10, -6)])
def test_of_leaking_units_no_more_pass_than_stated(offsets):
    found = story(offsets, (1.05, 4.0), COUNT, touched)
    assert share(found, Decision.PASS) <= MOST
    assert np.mean([abs(z) <= 2 for _, z in found]) > 0.9, "the stated u covers the truth"


@pytest.mark.parametrize("offsets", [(0, 2), (2, 6), (-6, -2), (6, 10), (-10, -6)])
def test_of_good_units_no_more_fail_than_stated(offsets):
    found = story(offsets, (0.0, 0.5), COUNT, touched)
    assert share(found, Decision.FAIL) <= MOST


def test_what_is_near_the_room_is_told():
    good, bad = story((-1, 1), (0.0, 0.3), 60, touched), story((-1, 1), (6.0, 9.0), 60, touched)
    assert share(good, Decision.PASS) > 0.9
    assert share(bad, Decision.FAIL) > 0.9


def just_in(offset_k, _chance):
    """Return the temperature of a body that came into the room an hour ago, however warm."""
    return in_room_since(NOW - timedelta(hours=1), NOW, air=AIR, body=BODY)


def test_a_unit_that_may_be_warm_is_undecided_and_says_what_to_do():
    found = story((2, 6), (0.0, 0.2), 40, just_in)
    assert {judged.decision for judged, _ in found} == {Decision.UNDECIDED}
    assert {judged.doubt for judged, _ in found} == {HoldDoubt.TEMPERATURE}
    wait_s = found[0][0].wait_s
    body = in_room_since(NOW - timedelta(seconds=3600 + wait_s), NOW, air=AIR, body=BODY)
    drift = hold_drift(TARGET, body, HOLD_S)
    assert 2 * drift.u_pa_s * TARGET.gas_volume_m3 == pytest.approx(ALLOWED / 2, rel=0.25)


def leak(rate, u, *, scatter=None, slow=0.0, seconds=90.0):
    u_scatter = u if scatter is None else scatter
    return Leak(rate * ALLOWED, u * ALLOWED, u_scatter * ALLOWED, slow * ALLOWED, 0.0, seconds)


@pytest.mark.parametrize(
    ("found", "decision", "doubt"),
    [
        (leak(0.0, 0.1), Decision.PASS, HoldDoubt.NONE),
        (leak(0.9, 0.1), Decision.UNDECIDED, HoldDoubt.NEAR_LIMIT),
        (leak(1.3, 0.1), Decision.FAIL, HoldDoubt.NONE),
        (leak(1.3, 0.1, slow=0.5), Decision.UNDECIDED, HoldDoubt.SLOW_COOLING),
        (leak(0.5, 0.1, slow=0.5), Decision.PASS, HoldDoubt.NONE),
        (leak(-1.3, 0.1), Decision.UNDECIDED, HoldDoubt.RISE),
        # Six times the allowed leak below nothing: it could not have seen one of four times.
        (leak(-6.3, 3.0), Decision.UNDECIDED, HoldDoubt.TOO_COARSE),
        (leak(-0.4, 0.45), Decision.PASS, HoldDoubt.NONE),
        (leak(0.0, 0.6), Decision.UNDECIDED, HoldDoubt.TOO_COARSE),
        (leak(0.0, 0.6, scatter=0.1), Decision.UNDECIDED, HoldDoubt.TEMPERATURE),
    ],
)
def test_a_verdict_and_its_doubt(found, decision, doubt):
    judged = judge_hold(found, ALLOWED, body=TimeConstant(2000.0, 0.0))
    assert (judged.decision, judged.doubt) == (decision, doubt)


def test_a_stuck_gauge_passes_nothing():
    judged = judge_hold(leak(0.0, 0.1), ALLOWED, stuck=True, body=BODY)
    assert (judged.decision, judged.doubt) == (Decision.UNDECIDED, HoldDoubt.STUCK)


def test_how_long_to_wait_by_hand():
    """The drift's 0.6 must fade to sqrt(0.25^2 - 0.1^2): 2000 s ln(0.592 / 0.229) = 1898 s; a
    record of 90 s at u = 0.6 needs 4 0.6 = 2.4 times as long: 126 s more."""
    warm = judge_hold(leak(0.0, 0.6, scatter=0.1), ALLOWED, body=TimeConstant(2000.0, 0.0))
    assert warm.wait_s == pytest.approx(1898, rel=1e-3)
    coarse = judge_hold(leak(0.0, 0.6), ALLOWED, body=BODY)
    assert coarse.wait_s == pytest.approx(126)


def test_the_drift_is_what_a_kelvin_does_on_the_way_to_the_room():
    """About 9.1 kPa/K with the oil in it: 4 K over a time constant of some 25 minutes."""
    body = measured(AIR.temperature_k + 4.0, 0.1, NOW, NOW, air=AIR, body=BODY)
    drift = hold_drift(TARGET, body, HOLD_S)
    assert drift.rate_pa_s == pytest.approx(-TARGET.per_k_pa * 4.0 / BODY.tau_s, rel=0.1)
    assert drift.u_pa_s > 0.8 * BODY.u_rel * abs(drift.rate_pa_s)
