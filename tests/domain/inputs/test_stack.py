from dataclasses import replace
from types import SimpleNamespace

import pytest

from benchstation.domain.disc_stack import SIDES, as_text, specified
from benchstation.domain.inputs.stack import field_id
from benchstation.domain.recorded_inputs import built_in, stacks_in
from benchstation.domain.refusals import NotAllowedError
from benchstation.domain.signing import sign_step
from benchstation.domain.unit_record import RecordedStep
from benchstation.quantities.formatter import METRIC
from benchstation.reports.evidence_words import differences, evidence_in_words


def fields(rear, record, **changed):
    stacks = {side: specified(rear.stacks, side) for side in SIDES}
    return {field_id(record, side): as_text(stack) for side, stack in {**stacks, **changed}.items()}


def test_a_stack_as_built_to_the_specification_is_signed(rear, rear_at):
    (event,) = sign_step(rear_at("stack_built"), fields(rear, "as built"))
    assert evidence_in_words(event.evidence, METRIC) == (
        "as built: compression 9 discs, 1.80 mm high; rebound 6 discs, 1.20 mm high; as specified"
    )
    (recorded,) = event.evidence
    assert recorded.rebound == specified(rear.stacks, "rebound")
    assert recorded.differences == ()


def test_a_stack_as_built_that_differs_needs_a_deviation(rear, rear_at):
    built = fields(rear, "as built", rebound=specified(rear.stacks, "rebound")[1:])
    with pytest.raises(NotAllowedError, match=r"rebound: removed 2 of 38 × 0\.2 mm"):
        sign_step(rear_at("stack_built"), built)
    (event,) = sign_step(rear_at("stack_built", deviated=True), built)
    assert differences(event.evidence[0]) == ["rebound: removed 2 of 38 × 0.2 mm"]
    assert "accepted as a deviation" in evidence_in_words(event.evidence, METRIC)


def test_a_stack_as_found_is_only_recorded(rear, rear_at):
    found = fields(rear, "as found", rebound=specified(rear.stacks, "rebound")[1:])
    (event,) = sign_step(rear_at("stack_found"), found)
    assert "specif" not in evidence_in_words(event.evidence, METRIC)
    assert stacks_in(event.evidence, "as found")["rebound"] == specified(rear.stacks, "rebound")[1:]


def test_a_stack_that_is_missing_is_asked_for_deviation_or_not(rear, rear_at):
    for deviated in (False, True):
        state = rear_at("stack_built", deviated=deviated)
        with pytest.raises(NotAllowedError, match="still to do: rebound, as built"):
            sign_step(state, fields(rear, "as built", rebound=()))


def test_the_stacks_of_a_filed_record_are_found_again(rear, rear_at):
    (event,) = sign_step(rear_at("stack_built"), fields(rear, "as built"))
    none = RecordedStep("intake", "Intake", "ines", "Ines", "", ())
    record = SimpleNamespace(steps=(none, replace(none, evidence=event.evidence)))
    assert built_in(record)["compression"] == specified(rear.stacks, "compression")
    assert built_in(SimpleNamespace(steps=(none,))) == {}
