"""After anything but a pass the station says which way it is off and what the hand does next."""

from types import SimpleNamespace

import pytest

from benchstation.bench.capture.next_step import OR_ACCEPT, after_charge, after_hold, after_oil
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
        decision=decision.value, settled_gauge_pa=settled, target_gauge_pa=15e5
    )
    assert after_charge(captured).startswith(words)


def test_a_hold_test_is_run_again_only_when_it_could_not_tell():
    said = {d: after_hold(SimpleNamespace(decision=d.value)) for d in Decision}
    assert "Vent it, find the leak" in said[Decision.FAIL]
    assert "Run it again" in said[Decision.UNDECIDED]
    assert said[Decision.PASS] == "pass."
