"""The unit as it stands at the bench, for the one drawing that goes with it from step to step."""

from dataclasses import dataclass

from benchstation.screens.model.specifications import DrawingView

NITROGEN, FLOATING, OIL, BEHIND = "nitrogen", "floating piston", "oil", "oil behind the piston"
PISTON, ROD, BODY = "main piston", "rod", "body"
WHOLE = "whole unit"
"""Lit where a step is about no part of its own."""
OPEN, SHUT = "open, slowly", "shut"


@dataclass(frozen=True, slots=True)
class LiveDamperView:
    """The drawing, what of it this step is about, and how full it is; shares are 0 to 1."""

    drawing: DrawingView
    lit: str
    """The part that this step is about; empty for none."""
    oil: float
    gas: float
    lit_words: str
    """What stands at the lit part: a level, a pressure or a dimension."""
    valve: str = ""
    """How the bottle's valve should be, where there is a line to the unit."""
    measured: bool = False
    """True where the lit part's place is measured: it gets arrow and dimension."""
    rests_on: str = ""
    """What the floating piston's place in the drawing rests on."""
