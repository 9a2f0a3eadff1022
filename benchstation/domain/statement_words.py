"""The one place where a statement on record becomes a sentence, for screens and papers alike."""

from collections.abc import Callable, Mapping

from benchstation.domain.statements import Code, Gas, Statement, Undone
from benchstation.metrology.conformity import rule_in_words
from benchstation.quantities.notation import fixed

GAS: Mapping[Gas, str] = {
    Gas.CHARGED: "charged: there is gas in it",
    Gas.UNPROVEN: "not proven out: take it that there is gas in it",
    Gas.PROVEN_OUT: "proven out at the release",
}
UNDONE: Mapping[Undone, str] = {
    Undone.TAKEN_OUT: "The unit is empty of oil that was not weighed",
    Undone.PUT_BACK: "What came out and was not weighed is back in the unit",
}
PLAIN: Mapping[Code, str] = {
    Code.SCALE_FREE: "the scale is free until after the pour",
    Code.OTHER_LOT: "the rest comes from another lot",
    Code.RESTARTED: "the station was restarted",
    Code.READ_BY_HAND: "a mass was read by hand",
    Code.OTHER_METHOD: "another method was chosen",
    Code.OTHER_SCALE: "another scale was chosen",
    Code.TOP_UP: "a top-up is weighed",
    Code.SPILL: "what was spilled or taken out is weighed",
    Code.OTHER_WEIGHING: "something else is weighed",
    Code.WEIGHED_AGAIN: "it is weighed again",
    Code.TARED_AGAIN: "tared again",
    Code.SET_ASIDE: "the unit is set aside",
    Code.STEP_LEFT: "the step was left",
    Code.GONE_BACK: "oil was captured at a step that was gone back from",
    Code.GIVEN_UP: "captured oil is weighed again",
    Code.LOAD_CHANGED_UNTARED: "the load changed while no tare held",
    Code.LOAD_CHANGED_TARING: "the load changed while a tare was to be proven",
    Code.CALIBRATED: "the instrument has another calibration",
    Code.HIGH_LIMIT: "the high limit was exceeded",
    Code.OIL_BY_HAND: "oil weighed by hand",
    Code.CHARGE_BY_HAND: "charge read by hand",
    Code.LINE_BY_WORD: "fill line vented by word alone",
    Code.UNWEIGHED_OIL: "oil may have been moved that was not weighed",
    Code.ONE_SIGNATURE: "released by one person while two release in this shop",
    Code.CLOCK_RAN_BACK: "the computer's clock was set back while it was worked on",
    Code.CLOCK_SET_FORWARD: (
        "the computer's clock was set forward: what it waited for may have been shorter"
    ),
    Code.RECORDS_LACK: "the records were put back while it was worked on: entries may be missing",
}
"""The sentences that take no value."""

Values = Mapping[str, str | float]


def worded(statement: Statement) -> str:
    """Return a statement as a sentence without its full stop."""
    plain = PLAIN.get(statement.code)
    return plain if plain is not None else _WITH_VALUES[statement.code](statement.values)


def withdrawn(lot: str, reason: str) -> str:
    """Return that a lot was withdrawn, and why."""
    return f"lot {lot} is withdrawn: {reason}"


def _accepted(what: str, values: Values) -> str:
    if "lot" not in values:
        return what
    return f"{what}, {withdrawn(str(values['lot']), str(values['lot_reason']))}"


def _deviation(values: Values) -> str:
    of = {name: value for name, value in values.items() if name != "of"}
    return f"deviation: {worded(Statement(Code(str(values['of'])), of))}"


def _rule(values: Values) -> str:
    coverage = "U is the expanded uncertainty at about 95 % coverage (JCGM 100)."
    return f"{rule_in_words(float(values['guard_factor']))} {coverage} (ISO 14253-1, JCGM 106)"


_WITH_VALUES: Mapping[Code, Callable[[Values], str]] = {
    Code.TEXT: lambda values: str(values["text"]),
    Code.LINE_LOST: lambda values: str(values.get("detail") or "the line was lost"),
    Code.NO_READING: lambda values: (
        f"there was no reading for {fixed(float(values['seconds']), 1)} s"
    ),
    Code.UNIT_CHANGED: lambda values: (
        f"the unit was changed from {values['before']} to {values['after']}"
    ),
    Code.INSTRUMENT_FAULT: lambda values: str(values["fault"]),
    Code.STEP_RESULT: lambda values: _accepted(str(values["title"]).lower(), values),
    Code.SET_MATCH: lambda values: _accepted("match of the set", values),
    Code.CAN_NOT_SCANNED: lambda values: _accepted("oil can not scanned", values),
    Code.LOT_WITHDRAWN: lambda values: withdrawn(str(values["lot"]), str(values["lot_reason"])),
    Code.GAS_UNPROVEN: lambda values: _accepted("gas in the unit, not proven", values),
    Code.DEVIATION: _deviation,
    Code.GUARDED_ACCEPTANCE: _rule,
    Code.SIGNED_WHILE_LOCKED: lambda values: (
        f"{values['person']} signed here in a role that the shop had taken off them"
        if "roles" in values
        else f"{values['person']} signed here after the shop had taken them off"
    ),
    Code.OLDER_REVISION: lambda values: (
        f"built on revision {values['revision']} when {values['newer']} was in force in the shop"
    ),
    Code.OTHER_REVISION: lambda values: (
        f"built on revision {values['revision']} as this bench approved it; the shop's is another"
    ),
    Code.LINE_TAKEN_TWICE: lambda values: (
        f"another bench started a unit for the same line of order {values['order']}"
    ),
    Code.INSTRUMENT_FAILED: lambda values: (
        f"measured with {values['instrument']}, which then failed its check"
    ),
    Code.CHOSEN: lambda values: f"{values['label']}: {values['text']}",
}
