"""The words at a weighing, by what is weighed and how."""

from benchstation.bench.capture.weighing import WeighPlan
from benchstation.domain.oil_balance import Purpose
from benchstation.domain.specification import Method, Step, StepKind

NOUN = {
    Purpose.POUR: "pour",
    Purpose.TOPUP: "top-up",
    Purpose.BLEED: "bleed",
    Purpose.SPILL: "spilled or taken out",
    Purpose.BEFORE: "unit before",
}
TO_GO = {
    Purpose.POUR: "to go",
    Purpose.TOPUP: "to go",
    Purpose.BLEED: "still to bleed",
    Purpose.SPILL: "still to take out",
}
GO = {
    Purpose.POUR: "pour",
    Purpose.TOPUP: "top up",
    Purpose.BLEED: "let the surplus run into the tray",
    Purpose.SPILL: "oil into the drip tray",
}
TRACE = {
    Method.GAIN: "Net mass",
    Method.LOSS: "Poured, jug's loss",
    Method.DIFFERENCE: "More than before",
}
_OUT, _BACK = "take some out", "pour back into the jug"
_REMOVED = {
    Purpose.BLEED: "bled too much: top up",
    Purpose.SPILL: "more than the surplus: pour on",
}
SHORT_BEFORE = "too little oil before anything was bled: top up"
TOO_MUCH = {
    **{(p, m): _OUT for p in (Purpose.POUR, Purpose.TOPUP) for m in Method},
    **{(p, Method.LOSS): _BACK for p in (Purpose.POUR, Purpose.TOPUP)},
    **{(p, m): words for p, words in _REMOVED.items() for m in Method},
}
_ON_THE_SCALE = {
    (Purpose.POUR, Method.GAIN): "put the body on the scale",
    (Purpose.TOPUP, Method.GAIN): "put the unit on the scale",
    (Purpose.BLEED, Method.GAIN): "put the tray on the scale",
    (Purpose.SPILL, Method.GAIN): "put the clean drip tray on the scale",
}


def put(plan: WeighPlan) -> str:
    """Return what to put on the scale before the tare."""
    match plan.method:
        case Method.LOSS:
            return "put the full jug on the scale"
        case Method.DIFFERENCE if plan.wants_before:
            return "clear the scale"
        case Method.DIFFERENCE:
            return "pour, clear the scale"
        case _:
            return _ON_THE_SCALE[plan.purpose, plan.method]


def instruction(step: Step, plan: WeighPlan) -> str:
    """Return the step's own instruction, or that of what was chosen in its place."""
    match plan.purpose, plan.method:
        case Purpose.TOPUP, _:
            return "Top up: too much was bled; it counts with what was poured."
        case Purpose.SPILL, _:
            return "Weigh on the drip tray what was spilled or taken out."
        case Purpose.POUR, Method.LOSS if step.kind is StepKind.WEIGH:
            return "Jug on the scale: tare, pour into the unit, capture when steady."
        case Purpose.POUR, Method.DIFFERENCE:
            return "Weigh the whole unit before and after; zero the scale each time."
        case _:
            return step.instruction
