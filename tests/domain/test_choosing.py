from dataclasses import replace

import pytest

from benchstation.domain import choosing
from benchstation.domain.rebuild import apply
from benchstation.domain.statement_words import worded
from benchstation.domain.unit_commands import NotAllowedError


def test_an_option_in_order_is_signed(rear_at):
    (event,) = choosing.sign_choice(rear_at("rod"), {"choice": "bright"})
    assert event.summary == "Condition of the rod: bright, no marks"
    assert event.evidence == {"choice": "bright", "chosen": "bright, no marks"}


@pytest.mark.parametrize("fields", [{}, {"choice": ""}, {"choice": "shiny"}])
def test_nothing_chosen_is_refused(rear_at, fields):
    with pytest.raises(NotAllowedError, match="not chosen yet"):
        choosing.sign_choice(rear_at("rod"), fields)


def test_an_option_for_qa_puts_the_unit_on_hold(rear_at, fact):
    state = rear_at("rod")
    (event,) = choosing.sign_choice(state, {"choice": "polished"})
    after = apply(state, fact(event))
    (reason,) = after.hold_reasons
    assert worded(reason) == "Condition of the rod: light marks, polished out"
    assert after.current.id == "stack_found"


def test_an_option_that_ends_a_part_needs_a_deviation(rear_at):
    with pytest.raises(NotAllowedError, match="only as a deviation"):
        choosing.sign_choice(rear_at("rod"), {"choice": "scored"})
    (event,) = choosing.sign_choice(rear_at("rod", deviated=True), {"choice": "scored"})
    assert event.summary.endswith("scored: not reusable, accepted as a deviation")


def test_a_text_of_several_lines_is_kept_whole_and_summed_up(rear_at):
    text = "  first line \n\nsecond: 12 °C\ttab\n" + "x" * 100
    (event,) = choosing.sign_note(rear_at("remarks"), {"text": text})
    assert event.evidence["text"] == text.strip().replace("first line ", "first line")
    assert event.summary.startswith("first line / second: 12 °C")
    assert event.summary.endswith("…")
    assert len(event.summary) <= choosing.SUMMARY


def test_a_text_may_stay_empty_only_where_it_says_so(rear_at):
    state = rear_at("remarks")
    assert choosing.sign_note(state, {})[0].summary == "nothing to note"
    step = state.specification.step("remarks")
    required = step.model_copy(update={"text": step.text.model_copy(update={"required": True})})
    steps = tuple(required if s is step else s for s in state.specification.steps)
    strict = state.specification.model_copy(update={"steps": steps})
    with pytest.raises(NotAllowedError, match="still to do: Remarks"):
        choosing.sign_note(replace(state, specification=strict), {"text": " \n "})


@pytest.mark.parametrize("text", ["x" * 4001, "bell \x07"])
def test_a_text_that_cannot_be_printed_is_refused(rear_at, text):
    with pytest.raises(NotAllowedError, match="cannot be printed"):
        choosing.sign_note(rear_at("remarks"), {"text": text})
