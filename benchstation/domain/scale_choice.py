"""Which of several scales a weighing is made on: it must bear the load, and the finest is taken."""

from collections.abc import Sequence
from dataclasses import dataclass
from enum import StrEnum

from benchstation.domain.oil_balance import Purpose
from benchstation.domain.specification import Method, OilFill

VESSEL_KG = 0.5
"""No jug or tray that takes one fill is taken to be heavier."""
FULLER = 1.5
"""A jug holds more than one fill, by so much at most."""


class Against(StrEnum):
    """Why a scale is not taken; on record as this code."""

    NO_READING = "no reading"
    UNFIT = "unfit"
    TOO_SMALL = "too small"


class Why(StrEnum):
    """Why a scale is taken; on record as this code."""

    FINEST = "finest"
    ONLY = "only"
    BEFORE = "before"
    """The unit was weighed on it before the pour."""
    CHOSEN = "chosen"
    """A person chose it."""


@dataclass(frozen=True, slots=True)
class Candidate:
    """A scale as it is now: the most it bears, and its standard uncertainty of one weighing, kg."""

    id: str
    high_kg: float | None
    u_kg: float
    unusable: Against | None = None

    def against(self, load_kg: float) -> Against | None:
        """Return what speaks against weighing this load on it; ``None``: nothing."""
        if self.unusable is not None:
            return self.unusable
        if self.high_kg is not None and load_kg > self.high_kg:
            return Against.TOO_SMALL
        return None


def load_kg(fill: OilFill, purpose: Purpose, method: Method, unit_kg: float | None) -> float:
    """Return about what will stand on the scale: vessel or unit, with its oil.

    ``unit_kg`` is the unit's own mass; where nobody has stated it the oil alone counts.
    """
    oil = (fill.volume + fill.bleed_allowance) * fill.typical_rho15
    if not purpose.adds:
        return VESSEL_KG + oil
    return VESSEL_KG + FULLER * oil if method is Method.LOSS else (unit_kg or 0.0) + oil


def choose(candidates: Sequence[Candidate], load: float, bound: str = "") -> tuple[str, Why] | None:
    """Return the scale to be taken for a load and why; ``None`` where none will do.

    ``bound`` is one that is kept if it will do, such as the one that weighed the unit before.
    """
    fit = [one for one in candidates if one.against(load) is None]
    if any(one.id == bound for one in fit):
        return bound, Why.BEFORE
    if not fit:
        return None
    finest = min(fit, key=lambda one: one.u_kg)
    return finest.id, Why.FINEST if len(fit) > 1 else Why.ONLY
