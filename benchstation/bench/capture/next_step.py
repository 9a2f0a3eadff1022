"""What a result means for the hand: after anything but a pass, what to do next in words."""

from benchstation.domain.events import ChargeCaptured, HoldTested, OilJudged
from benchstation.domain.oil_balance import Purpose
from benchstation.domain.specification import Method
from benchstation.domain.unit_commands import PASS
from benchstation.metrology.conformity import Decision
from benchstation.quantities.formatter import QuantityFormatter

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
    low = captured.settled_gauge_pa < captured.target_gauge_pa
    do = "Let a little more in" if low else "Vent a little"
    do = f"{do}, let it settle and capture again"
    return _said(captured.decision, "too low" if low else "too high", do)


def after_hold(tested: HoldTested) -> str:
    """Return the decision of a hold test and what it asks for."""
    if tested.decision == PASS:
        return f"{PASS}."
    if tested.decision == FAIL:
        do = "Vent it, find the leak, charge again"
        return f"{tested.decision}, it loses too much. {do}; {OR_ACCEPT}"
    return f"{tested.decision}: the hold test cannot tell. Run it again; {OR_ACCEPT}"


def _said(decision: str, off: str, do: str) -> str:
    """Return which way it is off; an undecided one is off by too little to tell, but that way."""
    near = "" if decision == FAIL else ", too near the limit to tell"
    return f"{decision}{near}, {off}. {do}; {OR_ACCEPT}"


def not_captured(moved_kg: float, words: QuantityFormatter) -> str:
    """Return how much oil is in no record, and what to do."""
    return f"About {words.rough_mass(moved_kg)} are not captured. {AGAIN}"
