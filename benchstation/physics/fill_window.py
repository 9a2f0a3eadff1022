"""The fill window: the least and the most oil for which every limit of a damper holds.

Each limit is a margin that is zero or more when it holds and that only falls, or only rises, as oil
is added while the specified charge pressure is kept. So each closes one end of the window, found
by bisection; the window's ends are named by the limit that closes them.
"""

from collections.abc import Callable
from dataclasses import dataclass
from enum import Enum

from benchstation.physics import nitrogen
from benchstation.physics.air import STANDARD_PRESSURE_PA
from benchstation.physics.errors import RangeError, require, require_positive
from benchstation.physics.gas_spring import REFERENCE_K, ChargedDamper, charged_to_specification
from benchstation.physics.geometry import DamperGeometry


class Limit(Enum):
    """What can close an end of the window, in words."""

    HOT_PRESSURE = "gas pressure at fast full bump, hot, against the body's rating"
    GAS_ROOM = "floating piston's room to the gas end at full bump, hot"
    CLEARANCE = "floating piston's clearance to the main piston at full bump, cold"
    PISTON_TRAVEL = "floating piston's travel limit at full extension, cold"
    CAVITATION = "compression force before the rod side cavitates, cold"


@dataclass(frozen=True, slots=True)
class DamperLimits:
    """What a damper must keep to. Limits left at None are not judged.

    ``min_floating_piston_room_m`` is kept free between floating piston and gas end, so that an
    overfilled unit cannot lock solid. ``max_floating_piston_room_m`` is the farthest the floating
    piston may stand from the gas end (end of the honed bore, a stop).
    ``min_compression_force_n`` must be reached before the rod side cavitates.
    """

    body_rating_gauge_pa: float
    hot_limit_k: float = 373.15
    cold_limit_k: float = 253.15
    min_floating_piston_clearance_m: float = 0.0
    min_floating_piston_room_m: float = 0.0
    max_floating_piston_room_m: float | None = None
    min_compression_force_n: float | None = None

    def __post_init__(self) -> None:
        rating_high = nitrogen.END_HIGH_PA - STANDARD_PRESSURE_PA
        require("body rating (gauge)", self.body_rating_gauge_pa, 1e4, rating_high, "Pa")
        require("cold limit", self.cold_limit_k, nitrogen.LOW_K, nitrogen.HIGH_K, "K")
        require("hot limit", self.hot_limit_k, self.cold_limit_k, nitrogen.HIGH_K, "K")
        require("least floating-piston clearance", self.min_floating_piston_clearance_m, 0, 1, "m")
        require("least floating-piston room", self.min_floating_piston_room_m, 0, 1, "m")
        if self.max_floating_piston_room_m is not None:
            require_positive("floating-piston travel", self.max_floating_piston_room_m, "m")
        if self.min_compression_force_n is not None:
            require_positive("least compression force", self.min_compression_force_n, "N")


def cavitation_force_n(unit: ChargedDamper, temperature_k: float, travel_m: float = 0.0) -> float:
    """Give the largest compression force of the damper's valves before the rod side cavitates.

    In compression the gas holds the compression side near p_gas while the rod-side pressure falls;
    it cannot fall below vapour pressure, near zero absolute, so F = p_gas * (A_bore - A_rod). The
    gas force itself is not counted. Source: J. C. Dixon, The Shock Absorber Handbook, chapter on
    damper characteristics (single-tube gas-pressurised damper).
    """
    geometry = unit.geometry
    area = geometry.bore_area_m2 - geometry.rod_area_m2
    return unit.pressure_pa(temperature_k, travel_m) * area


def limit_margins(
    unit: ChargedDamper, limits: DamperLimits, ambient_pa: float = STANDARD_PRESSURE_PA
) -> dict[Limit, float]:
    """Give each judged limit's margin in its SI unit (Pa, m, N); zero or more: it holds.

    A unit so full that the gas leaves the range of its equation, or has no room at all, has a
    margin of minus infinity in pressure.
    """
    stroke, hot, cold = unit.geometry.stroke_m, limits.hot_limit_k, limits.cold_limit_k
    try:
        bump = unit.fast_pressure_pa(hot, stroke) - ambient_pa
        pressure_margin = limits.body_rating_gauge_pa - bump
    except RangeError:
        pressure_margin = -float("inf")
    margins = {
        Limit.HOT_PRESSURE: pressure_margin,
        Limit.GAS_ROOM: _room_m(unit, hot, stroke) - limits.min_floating_piston_room_m,
        Limit.CLEARANCE: unit.geometry.floating_piston_clearance_m(_gas(unit, cold, stroke), stroke)
        - limits.min_floating_piston_clearance_m,
    }
    if limits.max_floating_piston_room_m is not None:
        margins[Limit.PISTON_TRAVEL] = limits.max_floating_piston_room_m - _room_m(unit, cold, 0.0)
    if limits.min_compression_force_n is not None:
        force = cavitation_force_n(unit, cold)
        margins[Limit.CAVITATION] = force - limits.min_compression_force_n
    return margins


def _gas(unit: ChargedDamper, temperature_k: float, travel_m: float) -> float:
    """Gas volume, negative where the oil leaves none: a position's margin is then negative too."""
    return unit.geometry.gas_volume_m3(
        unit.oil_volume_m3,
        temperature_k,
        reference_k=unit.reference_k,
        oil_alpha_per_k=unit.oil_alpha_per_k,
        travel_m=travel_m,
    )


def _room_m(unit: ChargedDamper, temperature_k: float, travel_m: float) -> float:
    return unit.geometry.floating_piston_room_m(_gas(unit, temperature_k, travel_m))


_MORE_OIL_HURTS = (Limit.HOT_PRESSURE, Limit.GAS_ROOM, Limit.CAVITATION)


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
        """Whether no fill at all keeps every limit."""
        return self.least_m3 > self.most_m3

    def contains(self, oil_volume_m3: float) -> bool:
        """Whether this much oil keeps every limit."""
        return self.least_m3 <= oil_volume_m3 <= self.most_m3


def fill_window(
    geometry: DamperGeometry,
    limits: DamperLimits,
    *,
    charge_gauge_pa: float,
    oil_alpha_per_k: float,
    reference_k: float = REFERENCE_K,
    reference_ambient_pa: float = STANDARD_PRESSURE_PA,
) -> FillWindow:
    """Give the interval of oil volume, at ``reference_k``, in which every limit holds.

    The charge pressure at the reference temperature is the specified one at every fill.
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
        )
        return limit_margins(unit, limits, reference_ambient_pa)

    low, high = 1e-4 * geometry.free_volume_m3, (1.0 - 1e-4) * geometry.free_volume_m3
    least, most = 0.0, high
    least_by: Limit | None = None
    most_by: Limit | None = None
    for limit in margins(low):
        edge = _crossing(margins, limit, low, high)
        if limit not in _MORE_OIL_HURTS and edge > least:
            least, least_by = edge, limit
        if limit in _MORE_OIL_HURTS and edge < most:
            most, most_by = edge, limit
    return FillWindow(least, most, least_by, most_by)


def _crossing(
    margins: Callable[[float], dict[Limit, float]], limit: Limit, low: float, high: float
) -> float:
    """Bisect to 1e-10 of the range for the last fill at which a monotone margin still holds."""
    hurts = limit in _MORE_OIL_HURTS
    if margins(high if hurts else low)[limit] >= 0.0:
        return high if hurts else low
    for _ in range(34):
        middle = 0.5 * (low + high)
        if (margins(middle)[limit] >= 0.0) == hurts:
            low = middle
        else:
            high = middle
    return low if hurts else high
