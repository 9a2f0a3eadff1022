import pytest

from benchstation.domain.events import earlier_prose
from benchstation.domain.statement_words import GAS, UNDONE, worded
from benchstation.domain.statements import Code, Gas, Statement, Undone

VALUES = {
    Code.TEXT: {"text": "it hums"},
    Code.NO_READING: {"seconds": 1.5},
    Code.UNIT_CHANGED: {"before": "g", "after": "oz"},
    Code.INSTRUMENT_FAULT: {"fault": "over range"},
    Code.STEP_RESULT: {"title": "Close and bleed"},
    Code.LOT_WITHDRAWN: {"lot": "K-60", "lot_reason": "swells in oil"},
    Code.SIGNED_WHILE_LOCKED: {"person": "Ana"},
    Code.OLDER_REVISION: {"revision": 2, "newer": 3},
    Code.OTHER_REVISION: {"revision": 2},
    Code.LINE_TAKEN_TWICE: {"order": "O-7"},
    Code.DEVIATION: {"of": "set_match"},
    Code.GUARDED_ACCEPTANCE: {"guard_factor": 1.6448536269514722},
    Code.INSTRUMENT_FAILED: {"instrument": "Bench scale, 6 kg"},
    Code.CHOSEN: {"label": "Rod", "text": "polished out"},
}


def test_every_code_has_its_words():
    for code in Code:
        assert worded(Statement(code, VALUES.get(code, {}))), code
    assert set(GAS) == set(Gas)
    assert set(UNDONE) == set(Undone)


BEFORE = {
    "the scale is free until after the pour": Code.SCALE_FREE,
    "the rest comes from another lot": Code.OTHER_LOT,
    "the station was started anew": Code.RESTARTED,
    "a mass was read by hand": Code.READ_BY_HAND,
    "another method was chosen": Code.OTHER_METHOD,
    "a top-up is weighed": Code.TOP_UP,
    "what was spilled or taken out is weighed": Code.SPILL,
    "something else is weighed": Code.OTHER_WEIGHING,
    "it is weighed again": Code.WEIGHED_AGAIN,
    "tared again": Code.TARED_AGAIN,
    "the unit is set aside": Code.SET_ASIDE,
    "the step was left": Code.STEP_LEFT,
    "the load changed while no tare held": Code.LOAD_CHANGED_UNTARED,
    "the load changed while a tare was to be proven": Code.LOAD_CHANGED_TARING,
    "the line was lost": Code.LINE_LOST,
    "the high limit was exceeded": Code.HIGH_LIMIT,
    "oil weighed by hand": Code.OIL_BY_HAND,
    "charge read by hand": Code.CHARGE_BY_HAND,
    "oil may have been moved that was not weighed": Code.UNWEIGHED_OIL,
}
"""Sentences without values as form 1 of the events held them."""


@pytest.mark.parametrize(("text", "code"), BEFORE.items())
def test_a_sentence_of_before_is_recognised_as_its_code(text, code):
    assert earlier_prose.reason(text) == {"code": code, "values": {}}
    assert earlier_prose.reason(f"{text}!") == {"code": "text", "values": {"text": f"{text}!"}}


@pytest.mark.parametrize("code", [Code.NO_READING, Code.UNIT_CHANGED, Code.INSTRUMENT_FAULT])
def test_a_sentence_of_before_gives_back_its_values(code):
    statement = Statement(code, VALUES[code])
    read = earlier_prose.reason(worded(statement))
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


def test_the_rule_of_before_is_recognised_by_its_whole_text():
    rule = Statement(Code.GUARDED_ACCEPTANCE, VALUES[Code.GUARDED_ACCEPTANCE])
    assert earlier_prose.decision_rule(worded(rule)) == {"code": rule.code, "values": rule.values}
    other = worded(Statement.of(Code.GUARDED_ACCEPTANCE, guard_factor=2.0))
    assert earlier_prose.decision_rule(other) == {"code": "text", "values": {"text": other}}
