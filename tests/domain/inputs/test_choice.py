import pytest

from benchstation.domain.inputs.choice import Chosen, Hold
from benchstation.domain.rebuild import apply
from benchstation.domain.refusals import NotAllowedError
from benchstation.domain.signing import sign_step
from benchstation.domain.statements import Code, Statement
from benchstation.quantities.formatter import METRIC
from benchstation.reports.evidence_words import evidence_in_words

LABEL = "Condition of the rod"


def test_an_option_in_order_is_signed(rear_at):
    (event,) = sign_step(rear_at("rod"), {"choice1": "bright"})
    assert event.evidence == (Chosen("choice1", LABEL, "bright", "bright, no marks"),)
    assert evidence_in_words(event.evidence, METRIC) == f"{LABEL}: bright, no marks"


@pytest.mark.parametrize("fields", [{}, {"choice1": ""}, {"choice1": "shiny"}])
def test_nothing_chosen_is_refused(rear_at, fields):
    with pytest.raises(NotAllowedError, match="not chosen yet"):
        sign_step(rear_at("rod"), fields)


def test_an_option_for_qa_puts_the_unit_on_hold(rear_at, fact):
    state = rear_at("rod")
    (event,) = sign_step(state, {"choice1": "polished"})
    assert event.evidence[0].hold is Hold.QA
    after = apply(state, fact(event))
    label, text = "Condition of the rod", "light marks, polished out"
    assert after.hold_reasons == (Statement.of(Code.CHOSEN, label=label, text=text),)
    assert after.current.id == "stack_found"


def test_an_option_that_ends_a_part_needs_a_deviation(rear_at):
    with pytest.raises(NotAllowedError, match="needs a deviation"):
        sign_step(rear_at("rod"), {"choice1": "scored"})
    (event,) = sign_step(rear_at("rod", deviated=True), {"choice1": "scored"})
    said = evidence_in_words(event.evidence, METRIC)
    assert said.endswith("scored: not reusable, accepted as a deviation")
