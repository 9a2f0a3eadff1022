"""Every weighing of the unit at hand: how it was weighed, from which lot, and whether it counts."""

from benchstation.bench.capture.oil import PourStatus
from benchstation.bench.capture.weighing import Weighing
from benchstation.domain.oil_balance import SIGNS, Purpose
from benchstation.domain.rebuild import Rebuild
from benchstation.domain.scale_alive import touched
from benchstation.quantities.formatter import QuantityFormatter
from benchstation.screens.bench.weigh_words import NOUN
from benchstation.screens.model.elements import TermGroup, TermView


def weighings_group(
    rebuild: Rebuild,
    weighing: Weighing,
    still: PourStatus,
    words: QuantityFormatter,
    scale: tuple[TermView, ...] = (),
) -> tuple[TermGroup, ...]:
    """Return the weighing at hand with its ``scale``, and all captured ones in their order."""
    plan = weighing.plan
    now = f"{NOUN[plan.purpose]}, {plan.method.value}"
    terms = [TermView("Now", now, f"from {plan.lot}" if plan.lot else ""), *scale]
    counting = rebuild.counting
    for captured in (c.event for c in rebuild.captures):
        purpose = Purpose(captured.purpose)
        counts = captured in counting
        sign = "-" if SIGNS.get(purpose, 1) < 0 and counts else ""
        source = [captured.method, captured.oil_lot if purpose is not Purpose.BEFORE else ""]
        if not counts and purpose is not Purpose.BEFORE:
            source.append("weighed again since")
        if captured.by_hand:
            source.append(f"read on {captured.by_hand.instrument}")
        source.append(touched(captured.alive))
        terms.append(
            TermView(
                NOUN[purpose].capitalize(),
                f"{sign}{words.mass(captured.shown_kg, 2)}",
                ", ".join(part for part in source if part),
            )
        )
    if still.others:
        density = words.density(still.own.rho_kg_m3)
        basis = words.temperature(still.own.basis_k)
        missing = still.own.net_volume_ref_m3(abs(still.goal_kg))
        word = "Missing" if still.goal_kg * SIGNS[plan.purpose] > 0 else "Too much"
        terms += [
            TermView(word, words.volume(missing), "fill, less what each lot is by its density"),
            TermView(f"Density {basis}", density, plan.lot or "of the oil in the unit"),
            TermView("This weighing to", words.mass(still.goal_kg, 2), strong=True),
        ]
    return (TermGroup("Weighings", tuple(terms)),)
