"""What accompanies a first unit: at most three sentences a step, beside the step's own words."""

from benchstation.bench.session import BenchSession
from benchstation.domain.guard import GuardSnapshot
from benchstation.domain.specification import StepKind

OTHER = ("Type or choose what the step needs.", "What is outside its limits is said at the field.")
BESIDE = {
    "sign-in": (
        "All instruments here are virtual.",
        "Choose a name; the PIN stands below.",
    ),
    "open": ("Choose a unit that waits, or type a serial number.", "The route then stands left."),
}
"""Pages of the bench without a step."""
WORDS = {
    StepKind.CONFIRM: ("Do the step, then tick what is true.", "The blue button signs it."),
    StepKind.RELEASE: ("Let the gas out slowly.", "The gauge shows when the unit is empty."),
    StepKind.WEIGH: (
        "Tare first: the large number then says how much is missing.",
        "Slow down near the end; the blue button captures.",
    ),
    StepKind.BLEED: ("Let air and surplus oil into the tray.", "The large number says how much."),
    StepKind.CHARGE: (
        "The gas cools after the fill, and the pressure falls.",
        "The lanes show where it will settle.",
    ),
    StepKind.SECOND: ("The unit waits, and is read again later.",),
    StepKind.FILE: ("Look the results over, then file the unit.",),
}
HAND = {
    StepKind.RELEASE: "Virtual hand: hold Vent.",
    StepKind.WEIGH: "Virtual hand: choose what stands on the scale, then hold Pour.",
    StepKind.BLEED: "Virtual hand: Tray, tare, then press Bleed.",
    StepKind.CHARGE: "Virtual hand: hold Fill; Vent takes gas out.",
}
"""In the demonstration, where nobody has a jug or a bottle."""


def guide(session: BenchSession, step_id: str, seen: GuardSnapshot) -> tuple[str, ...]:
    """Return what accompanies this page of the bench; nothing for who knows it, or under alarm."""
    guiding = session.guiding
    who = session.person.person_id if session.person is not None else ""
    if step_id == "filed":
        guiding.end(who)
    if seen.alarms or not guiding.is_new(session.store, who):
        return ()
    step = session.rebuild.current if session.rebuild is not None else None
    if step is None or step_id in BESIDE:
        return BESIDE.get(step_id, ())
    hand = HAND.get(step.kind, "") if guiding.everybody else ""
    return (*WORDS.get(step.kind, OTHER), *([hand] if hand else []))
