"""The charge window: the least and the most charge for which every limit of a damper holds.

For a given oil fill. More charge raises every pressure, so the rating closes the upper end, and the
limits that need pressure (cavitation, the rod's return) the lower one. Limits of position do not
depend on the charge: where the fill breaks one, no charge mends it.
"""

from dataclasses import dataclass

from benchstation.physics import nitrogen
from benchstation.physics.air import STANDARD_PRESSURE_PA
from benchstation.physics.errors import require
from benchstation.physics.gas_spring import REFERENCE_K, charged_to_specification
from benchstation.physics.geometry import DamperGeometry
from benchstation.physics.limits import (
    DamperLimits,
    Limit,
    edge_of,
    limit_margins,
    push_force_cold_n,
)
from benchstation.physics.oil import Oil


@dataclass(frozen=True, slots=True)
class ChargeWindow:
    """Least and most charge, gauge at the reference temperature, and what closes the ends.

    ``broken`` are the limits of position that this fill breaks at any charge. Empty when there is
    one, or when ``least_gauge_pa`` lies above ``most_gauge_pa``.
    """

    least_gauge_pa: float
    most_gauge_pa: float
    least_closed_by: Limit
    most_closed_by: Limit
    broken: tuple[Limit, ...] = ()

    @property
    def is_empty(self) -> bool:
        """Return True when no charge at all keeps every limit."""
        return bool(self.broken) or self.least_gauge_pa > self.most_gauge_pa

    def contains(self, charge_gauge_pa: float) -> bool:
        """Return True when this charge keeps every limit."""
        return not self.broken and self.least_gauge_pa <= charge_gauge_pa <= self.most_gauge_pa


_RAISED_BY_CHARGE = (Limit.CAVITATION, Limit.RETURN)
_CLOSED_BY = (Limit.HOT_PRESSURE, Limit.ROD_SIDE)


def charge_window(
    geometry: DamperGeometry,
    limits: DamperLimits,
    *,
    oil_volume_m3: float,
    oil_alpha_per_k: float,
    reference_k: float = REFERENCE_K,
    reference_ambient_pa: float = STANDARD_PRESSURE_PA,
    oil: Oil | None = None,
) -> ChargeWindow:
    """Return the interval of charge in which every limit holds with this much oil.

    The rod must come out at full length even where no push force is specified: the lower end is
    never below that. The upper end is never above the range of the nitrogen equation. Raises
    RangeError if the oil does not fit the body.
    """
    require("reference temperature", reference_k, limits.cold_limit_k, limits.hot_limit_k, "K")
    high = nitrogen.HIGH_PA - reference_ambient_pa

    def margins(charge_gauge_pa: float) -> dict[Limit, float]:
        unit = charged_to_specification(
            geometry,
            charge_gauge_pa=charge_gauge_pa,
            oil_volume_m3=oil_volume_m3,
            oil_alpha_per_k=oil_alpha_per_k,
            reference_k=reference_k,
            reference_ambient_pa=reference_ambient_pa,
            oil=oil,
        )
        push = push_force_cold_n(unit, limits, reference_ambient_pa)
        least = limits.min_push_force_n or 0.0
        return limit_margins(unit, limits, reference_ambient_pa) | {Limit.RETURN: push - least}

    judged = margins(0.0)
    lower = {
        limit: edge_of(margins, limit, high, 0.0) for limit in judged if limit in _RAISED_BY_CHARGE
    }
    least_by = max(lower, key=lambda limit: lower[limit])
    upper = {limit: edge_of(margins, limit, 0.0, high) for limit in judged if limit in _CLOSED_BY}
    most_by = min(upper, key=lambda limit: upper[limit])
    most = upper[most_by]
    if most >= high:
        most_by = Limit.EQUATION
    ruled_by_charge = (*_RAISED_BY_CHARGE, *_CLOSED_BY)
    broken = (n for n, margin in judged.items() if n not in ruled_by_charge and margin < 0.0)
    return ChargeWindow(lower[least_by], most, least_by, most_by, tuple(broken))
