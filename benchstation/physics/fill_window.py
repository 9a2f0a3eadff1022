"""The fill window: the least and the most oil for which every limit of a damper holds.

Each limit is a margin that is zero or more when it holds and that only falls, or only rises, as oil
is added while the specified charge pressure is kept. So each closes one end of the window, found
by bisection; the window's ends are named by the limit that closes them.
"""

from dataclasses import dataclass
from functools import lru_cache

from benchstation.physics.air import STANDARD_PRESSURE_PA
from benchstation.physics.errors import require
from benchstation.physics.gas_spring import REFERENCE_K, charged_to_specification
from benchstation.physics.geometry import DamperGeometry
from benchstation.physics.limits import MORE_OIL_HURTS, DamperLimits, Limit, edge_of, limit_margins
from benchstation.physics.oil import Oil


@dataclass(frozen=True, slots=True)
class FillWindow:
    """Least and most oil at the reference temperature, and the limits that close the ends.

    Empty (no fill keeps all limits) when ``least_m3`` is above ``most_m3``.
    """

    least_m3: float
    most_m3: float
    least_closed_by: Limit | None
    most_closed_by: Limit | None

    @property
    def is_empty(self) -> bool:
        """Return True when no fill at all keeps every limit."""
        return self.least_m3 > self.most_m3

    def contains(self, oil_volume_m3: float) -> bool:
        """Return True when this much oil keeps every limit."""
        return self.least_m3 <= oil_volume_m3 <= self.most_m3


@lru_cache(maxsize=64)
def fill_window(
    geometry: DamperGeometry,
    limits: DamperLimits,
    *,
    charge_gauge_pa: float,
    oil_alpha_per_k: float,
    reference_k: float = REFERENCE_K,
    reference_ambient_pa: float = STANDARD_PRESSURE_PA,
    oil: Oil | None = None,
) -> FillWindow:
    """Return the interval of oil volume, at ``reference_k``, in which every limit holds.

    The charge pressure at the reference temperature is the specified one at every fill. The answers
    to the last questions are kept: a screen asks the same again and again.
    """
    require("reference temperature", reference_k, limits.cold_limit_k, limits.hot_limit_k, "K")

    def margins(oil_volume_m3: float) -> dict[Limit, float]:
        unit = charged_to_specification(
            geometry,
            charge_gauge_pa=charge_gauge_pa,
            oil_volume_m3=oil_volume_m3,
            oil_alpha_per_k=oil_alpha_per_k,
            reference_k=reference_k,
            reference_ambient_pa=reference_ambient_pa,
            oil=oil,
        )
        return limit_margins(unit, limits, reference_ambient_pa)

    low, high = 1e-4 * geometry.free_volume_m3, (1.0 - 1e-4) * geometry.free_volume_m3
    least, most = 0.0, high
    least_by: Limit | None = None
    most_by: Limit | None = None
    for limit in margins(low):
        hurts = limit in MORE_OIL_HURTS
        good, bad = (low, high) if hurts else (high, low)
        edge = edge_of(margins, limit, good, bad)
        if not hurts and edge > max(least, low):
            least, least_by = edge, limit
        if hurts and edge < most:
            most, most_by = edge, limit
    return FillWindow(least, most, least_by, most_by)
