"""What an uncertainty is made of, and what is not in it: terms for the panel of reasons."""

from collections.abc import Callable

from benchstation.domain.budget_rows import words_of
from benchstation.metrology.uncertainty import Budget
from benchstation.physics.air_in_oil import bubbles_m3, dissolved_kg
from benchstation.quantities.formatter import QuantityFormatter
from benchstation.quantities.notation import percent
from benchstation.screens.model.elements import TermGroup, TermView

LEAST_SHARE = 0.005
BUBBLES = 0.01


def budget_group(budget: Budget, shown: Callable[[float], str]) -> TermGroup:
    """Return the contributions to a standard uncertainty, the largest first, with their share."""
    rows = sorted(budget.rows(), key=lambda row: -row.share)
    return TermGroup(
        "Uncertainty by contribution",
        tuple(
            TermView(
                words_of(row.name).capitalize(),
                shown(row.u_result),
                f"{percent(row.share)} of u²",
            )
            for row in rows
            if row.share >= LEAST_SHARE
        ),
    )


def air_group(
    oil_m3: float, charge_pa: float, ambient_pa: float, words: QuantityFormatter
) -> TermGroup:
    """Return a note on the air in the oil, with its size; it is not in the budget."""
    poured, pressed = (
        bubbles_m3(oil_m3, BUBBLES, pressure, ambient_pa) for pressure in (ambient_pa, charge_pa)
    )
    return TermGroup(
        "Air in the oil, not in U",
        (
            TermView("Dissolved", words.mass(dissolved_kg(oil_m3), 3), "9 % by volume, weighed"),
            TermView(
                "1 % as bubbles",
                f"{words.volume(poured)} of room",
                f"{words.volume(pressed)} under charge; let oil stand before the pour",
            ),
        ),
    )
