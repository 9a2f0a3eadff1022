import pytest

from benchstation.domain.inputs.given import PushForce, Taken
from benchstation.domain.inputs.limits import Limits, require_possible
from benchstation.domain.refusals import NotAllowedError
from benchstation.domain.signing import BenchNow, sign_step
from benchstation.quantities.formatter import METRIC
from benchstation.quantities.units import Dimension, UnitSystem
from benchstation.reports.evidence_words import evidence_in_words

TAKEN = Taken(12.09e5, 200.0, 9, "gauge-1", "12.09 bar")


def test_the_limit_itself_is_inside_whatever_the_last_bits_say():
    limits = Limits(0.2095, 0.001, Dimension.LENGTH)
    assert limits.holds(0.2105)
    assert limits.holds(0.2085)
    assert not limits.holds(0.2105001)


def test_limits_of_a_temperature_are_words_with_both_units():
    assert Limits(293.15, 3.0, Dimension.TEMPERATURE).in_words() == "20.0 °C ± 3.0 K"


def test_a_pressure_as_found_is_recorded_without_limits(rear_at):
    (event,) = sign_step(rear_at("found"), {}, BenchNow(taken=TAKEN))
    (measured,) = event.evidence
    assert (measured.value, measured.dimension, measured.limits) == (12.09e5, "pressure", None)
    assert measured.reading == TAKEN
    assert measured.instruments == ("gauge-1",)
    assert evidence_in_words(event.evidence, METRIC) == "12.09 bar gauge"


def test_what_is_typed_does_not_stand_in_for_the_instrument(rear_at):
    with pytest.raises(NotAllowedError, match="no steady, valid reading"):
        sign_step(rear_at("found"), {"value1": "12 bar"})
    with pytest.raises(NotAllowedError, match="no steady, valid reading"):
        sign_step(rear_at("found", deviated=True), {"value1": "12 bar"})


def test_a_measured_push_force_is_judged_against_the_expected_one(rear_at):
    expected = PushForce(200.0, 14e5, 1e5, 293.15, 1.5e-4)
    state = rear_at("push")
    (event,) = sign_step(state, {"value1": "230"}, BenchNow(expected=expected))
    (measured,) = event.evidence
    assert evidence_in_words(event.evidence, METRIC) == "230 N, specified 200 ± 40 N"
    assert measured.expected == expected
    assert measured.nominal == 200.0
    with pytest.raises(NotAllowedError, match="is 241 N, allowed 160 to 240 N"):
        sign_step(state, {"value1": "241 N"}, BenchNow(expected=expected))


@pytest.mark.parametrize("deviated", [False, True])
def test_a_figure_that_nothing_can_have_is_refused_at_its_field_whoever_accepts_it(
    rear_at, deviated
):
    expected = PushForce(200.0, 14e5, 1e5, 293.15, 1.5e-4)
    state = rear_at("push", deviated=deviated)
    with pytest.raises(NotAllowedError, match="200 N cannot be: it is never below 0 N") as found:
        sign_step(state, {"value1": "-200 N"}, BenchNow(expected=expected))
    assert found.value.field == "value1"


@pytest.mark.parametrize(
    ("value", "dimension", "possible"),
    [
        (-0.209, Dimension.LENGTH, False),
        (-1e-9, Dimension.LENGTH, False),
        (0.0, Dimension.LENGTH, True),
        (-0.26, Dimension.MASS, False),
        (-8.0, Dimension.TORQUE, False),
        (-15e5, Dimension.PRESSURE, False),
        (-0.8e5, Dimension.PRESSURE, True),
        (263.15, Dimension.TEMPERATURE, True),
    ],
)
def test_what_cannot_be_by_its_sign(value, dimension, possible):
    if possible:
        assert require_possible(value, dimension, UnitSystem.METRIC) is None
    else:
        with pytest.raises(NotAllowedError, match="cannot be: it is never below"):
            require_possible(value, dimension, UnitSystem.METRIC)
