import pytest

from benchstation.domain.events import earlier_prose
from benchstation.domain.statement_words import GAS, PLAIN, UNDONE, worded
from benchstation.domain.statements import Code, Gas, Statement, Undone

VALUES = {
    Code.TEXT: {"text": "it hums"},
    Code.NO_READING: {"seconds": 1.5},
    Code.UNIT_CHANGED: {"before": "g", "after": "oz"},
    Code.INSTRUMENT_FAULT: {"fault": "over range"},
    Code.STEP_RESULT: {"title": "Close and bleed"},
    Code.DEVIATION: {"of": "set_match"},
    Code.CHOSEN: {"label": "Rod", "text": "polished out"},
}
LATER = {Code.OTHER_SCALE, Code.GAS_UNPROVEN}
"""Codes that came after the sentences: no journal of before holds words for them."""
BEFORE = [code for code in Code if code not in LATER]


def test_every_code_has_its_words():
    for code in Code:
        assert worded(Statement(code, VALUES.get(code, {}))), code
    assert set(GAS) == set(Gas)
    assert set(UNDONE) == set(Undone)


@pytest.mark.parametrize("code", [code for code in BEFORE if code is not Code.DEVIATION])
def test_the_words_of_before_are_recognised_as_the_code(code):
    statement = Statement(code, VALUES.get(code, {}))
    read = {
        Code.STEP_RESULT: earlier_prose.subject,
        Code.SET_MATCH: earlier_prose.subject,
    }.get(code, earlier_prose.reason)(worded(statement))
    if code is Code.CHOSEN:
        assert read == {"code": "text", "values": {"text": "Rod: polished out"}}
    elif code is Code.STEP_RESULT:
        assert read == {"code": code, "values": {"title": "close and bleed"}}
    else:
        assert read == {"code": code, "values": statement.values}


@pytest.mark.parametrize(
    ("text", "code", "values"),
    [
        (
            "deviation: oil weigh-in, lot L-7 is withdrawn: water in it",
            "deviation",
            {"of": "step_result", "title": "oil weigh-in", "lot": "L-7",
             "lot_reason": "water in it"},
        ),
        ("deviation: match of the set", "deviation", {"of": "set_match"}),
        ("charge read by hand", "charge_by_hand", {}),
        ("Rod: polished, deviation: none", "text", {"text": "Rod: polished, deviation: none"}),
        ("", "text", {"text": ""}),
    ],
)  # fmt: skip
def test_a_hold_reason_of_before_says_the_same(text, code, values):
    found = earlier_prose.hold_reason(text)
    assert found == {"code": code, "values": values}
    assert worded(Statement(Code(found["code"]), found["values"])) == text


@pytest.mark.parametrize(
    ("text", "gas"),
    [
        ("proven out at the release", Gas.PROVEN_OUT),
        ("charged: there is gas in it", Gas.CHARGED),
        ("proven out at the release, nearly", Gas.UNPROVEN),
    ],
)
def test_gas_is_proven_out_only_where_that_was_said_exactly(text, gas):
    assert earlier_prose.gas(text) == gas


def test_every_sentence_without_values_was_one_of_before():
    before = {code: text for code, text in PLAIN.items() if code not in LATER}
    assert {earlier_prose.reason(text)["code"] for text in before.values()} == set(before)
    for code in LATER & set(PLAIN):
        assert earlier_prose.reason(PLAIN[code])["code"] == Code.TEXT
