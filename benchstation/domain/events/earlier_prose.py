"""Sentences that form 1 of some events held, as the codes that say the same now.

What is not recognised exactly becomes ``Code.TEXT`` with the sentence, so that nothing is lost.
The sentences here are those of that time: they do not change with the words of today.
"""

import re
from typing import Any

from benchstation.domain.statements import Code, Gas, Undone

_EXACT: dict[str, Code] = {
    "the scale is free until after the pour": Code.SCALE_FREE,
    "the rest comes from another lot": Code.OTHER_LOT,
    "the station was started anew": Code.RESTARTED,
    "the station was restarted": Code.RESTARTED,
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
_FAULTS = (
    "bad frame",
    "bad checksum",
    "unknown unit",
    "over range",
    "under range",
    "device error",
    "no answer",
)
_NO_READING = re.compile(r"there was no reading for (\d+\.\d) s")
_UNIT_CHANGED = re.compile(r"the unit was changed from (\S+) to (\S+)")
_WITHDRAWN = re.compile(r"(.*), lot (\S+) is withdrawn: (.*)", re.DOTALL)
_DEVIATION = "deviation: "
_MATCH = "match of the set"
_GAS = {
    "charged: there is gas in it": Gas.CHARGED,
    "not proven out: take it that there is gas in it": Gas.UNPROVEN,
    "proven out at the release": Gas.PROVEN_OUT,
}
_UNDONE = {
    "The unit is empty of oil that was not weighed": Undone.TAKEN_OUT,
    "What came out and was not weighed is back in the unit": Undone.PUT_BACK,
}

_RULE = (
    "Guarded acceptance: a result passes when it lies within the limits by at least 1.64 u, u "
    "being its standard uncertainty; it fails when it lies outside them by more than that; between "
    "the two it is undecided. A result that passes is beyond either limit with a probability of "
    "5 % at most. U is the expanded uncertainty at about 95 % coverage (JCGM 100). (ISO 14253-1, "
    "JCGM 106)"
)
_GUARD_FACTOR = 1.6448536269514722
"""The 95 % quantile of the normal distribution, which that rule rounded."""

Stated = dict[str, Any]


def _stated(code: Code, **values: str | float) -> Stated:
    return {"code": code.value, "values": values}


def reason(text: str) -> Stated:
    """Return the statement that a reason of form 1 says."""
    if text in _EXACT:
        return _stated(_EXACT[text])
    if text in _FAULTS:
        return _stated(Code.INSTRUMENT_FAULT, fault=text)
    if found := _NO_READING.fullmatch(text):
        return _stated(Code.NO_READING, seconds=float(found[1]))
    if found := _UNIT_CHANGED.fullmatch(text):
        return _stated(Code.UNIT_CHANGED, before=found[1], after=found[2])
    return _stated(Code.TEXT, text=text)


def subject(text: str) -> Stated:
    """Return what a deviation of form 1 accepted; it named a step by its title in small letters."""
    found = _WITHDRAWN.fullmatch(text)
    what, lot = (found[1], {"lot": found[2], "lot_reason": found[3]}) if found else (text, {})
    if what == _MATCH:
        return _stated(Code.SET_MATCH, **lot)
    return _stated(Code.STEP_RESULT, title=what, **lot)


def hold_reason(text: str) -> Stated:
    """Return why a unit of a record of form 1 was on QA hold."""
    if text.startswith(_DEVIATION):
        of = subject(text.removeprefix(_DEVIATION))
        return _stated(Code.DEVIATION, of=of["code"], **of["values"])
    return reason(text)


def decision_rule(text: str) -> Stated:
    """Return the rule that the results of a record of form 1 were judged by."""
    if text == _RULE:
        return _stated(Code.GUARDED_ACCEPTANCE, guard_factor=_GUARD_FACTOR)
    return _stated(Code.TEXT, text=text)


def gas(text: str) -> str:
    """Return what was known of the gas; anything else is taken for not proven."""
    return _GAS.get(text, Gas.UNPROVEN).value


def undone(text: str) -> str:
    """Return what a person confirmed before a tare. Raises ``KeyError`` for another sentence."""
    return _UNDONE[text].value
