"""Every weighing of the unit at hand: how it was weighed, from which lot, and whether it counts."""

from benchstation.bench_view import TermGroup, TermView
from benchstation.rebuild.oil_balance import SIGNS, Purpose
from benchstation.rebuild.rebuild import Rebuild
from benchstation.station.oil import Standing
from benchstation.station.views.weigh_words import NOUN
from benchstation.station.weighing import Weighing
from benchstation.words import Words


def weighings_group(
    rebuild: Rebuild, weighing: Weighing, still: Standing, words: Words
) -> tuple[TermGroup, ...]:
    """Give the weighing at hand, and all captured ones in their order."""
    plan = weighing.plan
    now = f"{NOUN[plan.purpose]}, {plan.method.value}"
    terms = [TermView("Now", now, f"from {plan.lot}" if plan.lot else "")]
    counting = rebuild.counting
    for captured in (c.event for c in rebuild.captures):
        purpose = Purpose(captured.purpose)
        counts = captured in counting
        sign = "-" if SIGNS.get(purpose, 1) < 0 and counts else ""
        source = [captured.method, captured.oil_lot if purpose is not Purpose.BEFORE else ""]
        if not counts and purpose is not Purpose.BEFORE:
            source.append("weighed again since")
        if captured.by_hand:
            source.append(f"read on {captured.by_hand['instrument']}")
        terms.append(
            TermView(
                NOUN[purpose].capitalize(),
                f"{sign}{words.mass(captured.shown_kg, 2)}",
                ", ".join(part for part in source if part),
            )
        )
    if still.others:
        name = "This weighing to"
        terms.append(TermView(name, words.mass(still.goal_kg, 2), "what is missing", strong=True))
    return (TermGroup("Weighings", tuple(terms)),)
