from dataclasses import replace

import pytest

from benchstation.domain.inputs.text import Written
from benchstation.domain.refusals import NotAllowedError
from benchstation.domain.signing import sign_step
from benchstation.quantities.formatter import METRIC
from benchstation.reports.evidence_words import LONGEST, evidence_in_words


def test_a_text_of_several_lines_is_kept_whole_and_summed_up(rear_at):
    text = "  first line \n\nsecond: 12 °C\ttab\n" + "x" * 100
    (event,) = sign_step(rear_at("remarks"), {"text1": text})
    (written,) = event.evidence
    assert written.text == text.strip().replace("first line ", "first line")
    said = evidence_in_words(event.evidence, METRIC)
    assert said.startswith("first line / second: 12 °C")
    assert said.endswith("…")
    assert len(said) <= LONGEST


def test_a_text_may_stay_empty_only_where_it_says_so(rear_at):
    state = rear_at("remarks")
    (event,) = sign_step(state, {})
    assert event.evidence == (Written("text1", "Remarks", ""),)
    assert evidence_in_words(event.evidence, METRIC) == "nothing to note"
    step = state.specification.step("remarks")
    required = step.model_copy(update={"text": step.text.model_copy(update={"required": True})})
    steps = tuple(required if s is step else s for s in state.specification.steps)
    strict = state.specification.model_copy(update={"steps": steps})
    with pytest.raises(NotAllowedError, match="still to do: Remarks"):
        sign_step(replace(state, specification=strict), {"text1": " \n "})


@pytest.mark.parametrize("text", ["x" * 4001, "bell \x07"])
def test_a_text_that_cannot_be_printed_is_refused(rear_at, text):
    with pytest.raises(NotAllowedError, match="cannot be printed"):
        sign_step(rear_at("remarks"), {"text1": text})
