"""What a result means for the hand: after anything but a pass, what to do next in words."""

from benchstation.domain.body_temperature import BodySource
from benchstation.domain.budget_rows import Row, row_of
from benchstation.domain.events import ChargeCaptured, HoldTested, OilJudged
from benchstation.domain.gas_charge import HoldDoubt
from benchstation.domain.oil_balance import Purpose
from benchstation.domain.specification import Method
from benchstation.domain.unit_commands import PASS
from benchstation.metrology.conformity import Decision
from benchstation.quantities.formatter import QuantityFormatter, seconds

AGAIN = "Put back what is not captured, then tare again."
"""Half a pour that no tare proves would otherwise be in the unit and in no record."""
FAIL = Decision.FAIL.value
OR_ACCEPT = "or a bench lead or QA accepts it as a deviation."
_TOO_LITTLE = {
    Purpose.POUR: "Pour more and capture again",
    Purpose.TOPUP: "Pour more and capture again",
    Purpose.BLEED: "Top up: too much was bled",
    Purpose.SPILL: "Top up: too much came out",
}
_TOO_MUCH = {
    Purpose.POUR: "Take some out and capture again",
    Purpose.TOPUP: "Take some out and capture again",
    Purpose.BLEED: "Bleed more and capture again",
    Purpose.SPILL: "Take more out and capture again",
}
_BACK = "Pour some back into the jug and capture again"


def after_oil(judged: OilJudged, purpose: Purpose, method: Method, *, bled: bool = True) -> str:
    """Return the decision on net oil and what it asks for; ``bled``: some oil was taken out."""
    if judged.decision == PASS:
        return f"{PASS}."
    little = judged.deviation_kg < 0
    if little and not purpose.adds and not bled:
        return _said(judged.decision, "too little oil", "Top up before you bleed")
    do = _TOO_LITTLE[purpose] if little else _TOO_MUCH[purpose]
    if not little and purpose.adds and method is Method.LOSS:
        do = _BACK
    return _said(judged.decision, "too little oil" if little else "too much oil", do)


def after_charge(captured: ChargeCaptured) -> str:
    """Return the decision on a settled charge and what it asks for."""
    if captured.decision == PASS:
        return f"{PASS}. Now the hold test."
    if captured.decision != FAIL and _of_temperature(captured):
        do = "Measure the unit's body (A), or wait. Capture again"
        return f"{captured.decision}: the unit's temperature is too unsure. {do}; {OR_ACCEPT}"
    low = captured.settled_gauge_pa < captured.target_gauge_pa
    do = "Let a little more in" if low else "Vent a little"
    do = f"{do}, let it settle and capture again"
    return _said(captured.decision, "too low" if low else "too high", do)


def _of_temperature(captured: ChargeCaptured) -> bool:
    """Return True when more of the doubt is the unit's temperature than all else together."""
    return any(row_of(row) is Row.UNIT_TEMPERATURE and row.share > 0.5 for row in captured.budget)


def after_hold(tested: HoldTested) -> str:
    """Return the decision of a hold test and what it asks for."""
    if tested.decision == PASS:
        return f"{PASS}."
    if tested.decision == FAIL:
        do = "Vent it, find the leak, charge again"
        return f"{tested.decision}, it loses too much. {do}; {OR_ACCEPT}"
    why, do = _DOUBT.get(HoldDoubt(tested.doubt), ("the hold test cannot tell", "Run it again"))
    if tested.wait_s > 0:
        do = f"Wait {seconds(tested.wait_s)}, then run it again"
        if tested.doubt == HoldDoubt.TEMPERATURE and not _measured(tested):
            do = f"Measure the body, or wait {seconds(tested.wait_s)}; run it again"
    return f"{tested.decision}: {why}. {do}; {OR_ACCEPT}"


_DOUBT = {
    HoldDoubt.TEMPERATURE: ("the unit's temperature could explain it", "Measure the body"),
    HoldDoubt.SLOW_COOLING: ("slow cooling could explain it", "Wait, then run it again"),
    HoldDoubt.RISE: ("the pressure rose", "Close the bottle; run it again"),
    HoldDoubt.STUCK: ("the gauge shows no sign of life", "Check it; run it again"),
    HoldDoubt.TOO_COARSE: ("this gauge cannot tell yet", "Wait, then run it again"),
    HoldDoubt.NEAR_LIMIT: ("too near the limit to tell", "Wait, then run it again"),
}


def _measured(tested: HoldTested) -> bool:
    return tested.drift is not None and tested.drift.source == BodySource.MEASURED.value


def _said(decision: str, off: str, do: str) -> str:
    """Return which way it is off; an undecided one is off by too little to tell, but that way."""
    near = "" if decision == FAIL else ", too near the limit to tell"
    return f"{decision}{near}, {off}. {do}; {OR_ACCEPT}"


def not_captured(moved_kg: float, words: QuantityFormatter) -> str:
    """Return how much oil is in no record, and what to do."""
    return f"About {words.rough_mass(moved_kg)} are not captured. {AGAIN}"
