"""QA's standing of a filed unit, from the record's hold and every later word."""

import pytest

from benchstation.domain.disposition import Standing, may_look_good, standing_of


@pytest.mark.parametrize(
    ("qa_hold", "words", "standing"),
    [
        (False, (), Standing.NOT_RELEASED),
        (True, (), Standing.ON_HOLD),
        (True, ("",), Standing.ON_HOLD),
        (True, ("released",), Standing.RELEASED),
        (False, ("released", "held"), Standing.ON_HOLD),
        (False, ("released", "rejected"), Standing.REJECTED),
        (True, ("rejected", "released"), Standing.RELEASED),
        (False, ("a word of a later program",), Standing.ON_HOLD),
    ],
)
def test_the_last_word_of_qa_rules_and_without_one_the_records_hold(qa_hold, words, standing):
    assert standing_of(qa_hold=qa_hold, words=words) is standing


@pytest.mark.parametrize("decision", ["pass", "deviation", "fail"])
@pytest.mark.parametrize("standing", Standing)
def test_only_a_released_pass_may_look_good(decision, standing):
    released_pass = decision == "pass" and standing is Standing.RELEASED
    assert may_look_good(decision, standing) is released_pass
