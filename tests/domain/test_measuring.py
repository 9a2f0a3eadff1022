import math

import pytest

from benchstation.domain import measuring
from benchstation.domain.events import ChargeCaptured, OilJudged
from benchstation.domain.measuring import Limits, PushForce, Taken
from benchstation.domain.statements import Code, Statement
from benchstation.domain.unit_commands import NotAllowedError
from benchstation.domain.weigh_in import Surroundings
from benchstation.driver_api.errors import StationError
from benchstation.physics.oil import Oil
from benchstation.quantities.units import Dimension, UnitSystem

TAKEN = Taken(12.09e5, 200.0, 9, "gauge-1", "12.09 bar")
AIR = Surroundings(293.15, 101_325.0, 0.45)
OIL = Oil(851.3)


def test_a_torque_inside_its_limits_is_signed_with_its_wrench(rear_at):
    (event,) = measuring.sign_torque(rear_at("screw"), {"value": "8,3", "tool": " TW-07 "})
    assert event.summary == "8.30 N m, asked 8.00 ± 0.50 N m, wrench TW-07"
    assert event.evidence == {
        "measured_n_m": pytest.approx(8.3), "tool": "TW-07", "nominal": 8.0, "tolerance": 0.5
    }  # fmt: skip


def test_a_torque_is_taken_in_the_units_that_are_shown(rear_at):
    fields = {"value": "71", "tool": "TW-07"}
    (event,) = measuring.sign_torque(rear_at("screw"), fields, units=UnitSystem.INCH_POUND)
    # 1 lbf in is 0.112 984 8 N m (NIST SP 811, appendix B.8).
    assert event.evidence["measured_n_m"] == pytest.approx(71 * 0.1129848)


@pytest.mark.parametrize(
    ("fields", "word"),
    [
        ({"value": "8.6", "tool": "TW-07"}, r"is 8\.60 N m, allowed 7\.50 to 8\.50 N m"),
        ({"value": "7.4", "tool": "TW-07"}, "allowed"),
        ({"value": "8.0"}, "wrench's number is missing"),
        ({"value": "8.0", "tool": "x" * 65}, "wrench's number"),
        ({"value": "8.0", "tool": "a\x07b"}, "cannot be printed"),
        ({"value": "tight", "tool": "TW-07"}, "not a number"),
        ({"value": "8 bar", "tool": "TW-07"}, "is not a torque"),
        ({}, "Nothing is entered"),
    ],
)
def test_a_torque_that_proves_nothing_is_refused(rear_at, fields, word):
    with pytest.raises(StationError, match=word):
        measuring.sign_torque(rear_at("screw"), fields)


def test_a_torque_outside_goes_on_as_a_deviation_and_says_so(rear_at):
    state = rear_at("screw", deviated=True)
    (event,) = measuring.sign_torque(state, {"value": "9", "tool": "TW-07"})
    assert "9.00 N m, asked 8.00 ± 0.50 N m, accepted as a deviation" in event.summary
    (reason,) = state.hold_reasons
    assert reason == Statement.of(Code.DEVIATION, of="step_result", title="It")


def test_the_limit_itself_is_inside_whatever_the_last_bits_say():
    limits = Limits(0.2095, 0.001, Dimension.LENGTH)
    assert limits.holds(0.2105)
    assert limits.holds(0.2085)
    assert not limits.holds(0.2105001)


def test_limits_of_a_temperature_are_words_with_both_units():
    assert Limits(293.15, 3.0, Dimension.TEMPERATURE).in_words() == "20.0 °C ± 3.0 K"


def test_a_pressure_as_found_is_recorded_without_limits(rear_at):
    (event,) = measuring.sign_measure(rear_at("found"), {}, taken=TAKEN)
    assert event.summary == "12.09 bar gauge"
    assert event.evidence == {
        "measured_gauge_pa": 12.09e5, "std": 200.0, "count": 9, "instrument_id": "gauge-1",
        "raw": "12.09 bar", "source": "gauge",
    }  # fmt: skip


def test_what_is_typed_does_not_stand_in_for_the_instrument(rear_at):
    with pytest.raises(NotAllowedError, match="no steady, valid reading"):
        measuring.sign_measure(rear_at("found"), {"value": "12 bar"})
    with pytest.raises(NotAllowedError, match="no steady, valid reading"):
        measuring.sign_measure(rear_at("found", deviated=True), {"value": "12 bar"})


def charged(settled=13e5, bench_k=293.15, volume=341e-6):
    return (
        OilJudged(
            "u1", "bleed", 0.29, 0.29, 0.0, 0.002, 2e-4, 4e-4, 2.0, "pass", 0.99, volume, {}, ()
        ),
        ChargeCaptured(
            "u1", "charge", "gauge-1", settled, settled, 13e5, 4e4, 5e3, 1e4, 2.0, "pass", 0.99,
            bench_k, 101_325.0, 1.25e-4, 2e-3, "00" * 32, "", {}, (),
        ),
    )  # fmt: skip


def test_the_push_force_is_gauge_pressure_on_the_rod(rear_at):
    """At the temperature and barometer of the charge: F = p_gauge * pi/4 * (14 mm)^2."""
    state = rear_at("push", *charged())
    volume = state.specification.geometry.model().gas_volume_m3(341e-6)
    assert volume == pytest.approx(1.25e-4, rel=0.01)
    found = measuring.push_force(state, OIL, AIR)
    gauge = found.gas_pa - found.ambient_pa
    assert found.force_n == pytest.approx(gauge * math.pi / 4 * 0.014**2, rel=1e-12)
    assert found.gas_pa == pytest.approx((13e5 + 101_325) * 1.25e-4 / volume, rel=1e-3)


def test_the_push_force_follows_charge_temperature_and_fill(rear_at):
    def force(air=AIR, **charge):
        return measuring.push_force(rear_at("push", *charged(**charge)), OIL, air).force_n

    plain = force()
    assert force(settled=14e5) > plain * 1.05
    assert force(air=Surroundings(303.15, 101_325.0, 0.45)) > plain * 1.03
    assert force(volume=343e-6) > plain
    assert force(air=Surroundings(293.15, 95_000.0, 0.45)) == pytest.approx(
        plain + 6325 * math.pi / 4 * 0.014**2
    )


def test_the_push_force_needs_a_charge(rear_at):
    state = rear_at("push")
    assert measuring.push_force(state, OIL, AIR) is None
    with pytest.raises(NotAllowedError, match="no charge on record"):
        measuring.sign_measure(state, {"value": "200 N"})


def test_a_measured_push_force_is_judged_against_the_expected_one(rear_at):
    expected = PushForce(200.0, 14e5, 1e5, 293.15, 1.5e-4)
    state = rear_at("push", *charged())
    (event,) = measuring.sign_measure(state, {"value": "230"}, expected=expected)
    assert event.summary == "230 N, asked 200 ± 40 N"
    assert event.evidence["expected"]["gas_pa"] == 14e5
    assert event.evidence["nominal"] == 200.0
    with pytest.raises(NotAllowedError, match="is 241 N, allowed 160 to 240 N"):
        measuring.sign_measure(state, {"value": "241 N"}, expected=expected)
