"""After anything but a pass the station says which way it is off and what the hand does next."""

from types import SimpleNamespace

import pytest

from benchstation.bench.capture.next_step import OR_ACCEPT, after_charge, after_hold, after_oil
from benchstation.domain.gas_charge import HoldDoubt
from benchstation.domain.oil_balance import Purpose
from benchstation.domain.specification import Method
from benchstation.metrology.conformity import Decision

WEIGHED = [p for p in Purpose if p is not Purpose.BEFORE]
BAD = [d for d in Decision if d is not Decision.PASS]


def oil(decision, off_kg):
    return SimpleNamespace(decision=decision.value, deviation_kg=off_kg)


@pytest.mark.parametrize("method", Method)
@pytest.mark.parametrize("purpose", WEIGHED)
@pytest.mark.parametrize("decision", BAD)
def test_every_way_to_weigh_has_its_next_step(purpose, method, decision):
    low = after_oil(oil(decision, -0.002), purpose, method)
    high = after_oil(oil(decision, 0.002), purpose, method)
    assert low.startswith(decision.value)
    assert "too little oil" in low
    assert "too much oil" in high
    assert low.endswith(OR_ACCEPT)
    assert high.endswith(OR_ACCEPT)
    assert ("jug" in high) == (purpose.adds and method is Method.LOSS)
    assert "run off" not in low, "less oil is never bled more"
    assert "our" not in high or "back into the jug" in high, "more oil is never poured on"


def test_a_pass_asks_for_nothing():
    passed = oil(Decision.PASS, 0.0001)
    assert after_oil(passed, Purpose.POUR, Method.GAIN) == "pass."


@pytest.mark.parametrize(
    ("settled", "decision", "words"),
    [
        (14e5, Decision.FAIL, "fail, too low. Let a little more in"),
        (16e5, Decision.FAIL, "fail, too high. Vent a little"),
        (16e5, Decision.UNDECIDED, "undecided, too near the limit to tell, too high. Vent"),
        (15e5, Decision.PASS, "pass. Now the hold test."),
    ],
)
def test_a_charge_says_which_way(settled, decision, words):
    captured = SimpleNamespace(
        decision=decision.value, settled_gauge_pa=settled, target_gauge_pa=15e5, budget=()
    )
    assert after_charge(captured).startswith(words)


def hold(decision, doubt=HoldDoubt.NONE, wait_s=0.0, source="measured"):
    drift = SimpleNamespace(source=source)
    return SimpleNamespace(decision=decision.value, doubt=doubt.value, wait_s=wait_s, drift=drift)


def test_a_hold_test_is_run_again_only_when_it_could_not_tell():
    said = {d: after_hold(hold(d)) for d in Decision}
    assert "Vent it, find the leak" in said[Decision.FAIL]
    assert "Run it again" in said[Decision.UNDECIDED]
    assert said[Decision.PASS] == "pass."


def test_a_warm_unit_waits_or_is_measured():
    told = after_hold(hold(Decision.UNDECIDED, HoldDoubt.TEMPERATURE, 1500.0))
    assert "the unit's temperature could explain it. Wait 25 min, then run it again" in told
    by_rule = hold(Decision.UNDECIDED, HoldDoubt.TEMPERATURE, 1500.0, "in this room since")
    assert "Measure the body, or wait 25 min; run it again" in after_hold(by_rule)
