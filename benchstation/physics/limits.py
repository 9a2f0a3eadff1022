"""What a damper must keep to, hot and cold, and by how much it does: the margin of each limit."""

from collections.abc import Callable
from dataclasses import dataclass
from enum import Enum

from benchstation.physics import nitrogen
from benchstation.physics.air import STANDARD_PRESSURE_PA
from benchstation.physics.errors import RangeError, require, require_positive
from benchstation.physics.gas_spring import ChargedDamper


class Limit(Enum):
    """What can close an end of the window, in words."""

    HOT_PRESSURE = "gas pressure at fast full bump, hot, against the body's rating"
    ROD_SIDE = "rod-side pressure in rebound, hot, against the body's rating"
    GAS_ROOM = "floating piston's room to the gas end at full bump, hot"
    CLEARANCE = "floating piston's clearance to the main piston at full bump, cold"
    PISTON_TRAVEL = "floating piston's travel limit at full extension, cold"
    CAVITATION = "compression force before the rod side cavitates, cold"
    RETURN = "push force at full length, cold, that brings the rod out again"
    EQUATION = "range of the nitrogen equation, 60 bar absolute"


@dataclass(frozen=True, slots=True)
class DamperLimits:
    """What a damper must keep to. Limits left at None are not judged.

    ``min_floating_piston_room_m`` is kept free between floating piston and gas end, so that an
    overfilled unit cannot lock solid. ``max_floating_piston_room_m`` is the farthest the floating
    piston may stand from the gas end (end of the honed bore, a stop).
    ``max_rebound_force_n`` is the largest force that the damper's valves make in rebound, which the
    body bears on the rod side. ``min_compression_force_n`` must be reached before the rod side
    cavitates. ``min_push_force_n`` (seal friction and more) must push the rod out at full length.
    """

    body_rating_gauge_pa: float
    hot_limit_k: float = 373.15
    cold_limit_k: float = 253.15
    min_floating_piston_clearance_m: float = 0.0
    min_floating_piston_room_m: float = 0.0
    max_floating_piston_room_m: float | None = None
    min_compression_force_n: float | None = None
    min_push_force_n: float | None = None
    max_rebound_force_n: float | None = None

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
        if self.max_rebound_force_n is not None:
            require_positive("largest rebound force", self.max_rebound_force_n, "N")
        if self.min_push_force_n is not None:
            require("least push force", self.min_push_force_n, 0.0, 1e5, "N")


def cavitation_force_n(unit: ChargedDamper, temperature_k: float, travel_m: float = 0.0) -> float:
    """Return the largest compression force of the damper's valves before the rod side cavitates.

    In compression the gas holds the compression side near p_gas while the rod-side pressure falls;
    it cannot fall below vapour pressure, near zero absolute, so F = p_gas * (A_bore - A_rod). The
    gas force itself is not counted. Source: J. C. Dixon, The Shock Absorber Handbook, chapter on
    damper characteristics (single-tube gas-pressurised damper).
    """
    geometry = unit.geometry
    area = geometry.bore_area_m2 - geometry.rod_area_m2
    return unit.pressure_pa(temperature_k, travel_m) * area


def rod_side_pa(unit: ChargedDamper, temperature_k: float, force_n: float) -> float:
    """Return the absolute pressure on the rod side while the valves make a force in rebound.

    The compression side stays at the gas's pressure and the rod side rises above it by
    ``F / (A_bore - A_rod)``; the gas is taken as at full bump, from where a rebound begins. Source:
    J. C. Dixon, The Shock Absorber Handbook, chapter on damper characteristics.
    """
    geometry = unit.geometry
    area = geometry.bore_area_m2 - geometry.rod_area_m2
    return unit.full_bump_pa(temperature_k) + force_n / area


def push_force_cold_n(
    unit: ChargedDamper, limits: DamperLimits, ambient_pa: float = STANDARD_PRESSURE_PA
) -> float:
    """Return the force that pushes the rod out at full length and the cold limit."""
    return unit.geometry.push_force_n(unit.pressure_pa(limits.cold_limit_k), ambient_pa)


def limit_margins(
    unit: ChargedDamper, limits: DamperLimits, ambient_pa: float = STANDARD_PRESSURE_PA
) -> dict[Limit, float]:
    """Return each judged limit's margin in its SI unit (Pa, m, N); zero or more: it holds.

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
        **_rod_side(unit, limits, ambient_pa),
        Limit.GAS_ROOM: _room_m(unit, hot, stroke) - limits.min_floating_piston_room_m,
        Limit.CLEARANCE: unit.geometry.floating_piston_clearance_m(_gas(unit, cold, stroke), stroke)
        - limits.min_floating_piston_clearance_m,
    }
    if limits.max_floating_piston_room_m is not None:
        margins[Limit.PISTON_TRAVEL] = limits.max_floating_piston_room_m - _room_m(unit, cold, 0.0)
    if limits.min_compression_force_n is not None:
        force = cavitation_force_n(unit, cold)
        margins[Limit.CAVITATION] = force - limits.min_compression_force_n
    if limits.min_push_force_n is not None:
        push = push_force_cold_n(unit, limits, ambient_pa)
        margins[Limit.RETURN] = push - limits.min_push_force_n
    return margins


def _rod_side(unit: ChargedDamper, limits: DamperLimits, ambient_pa: float) -> dict[Limit, float]:
    if limits.max_rebound_force_n is None:
        return {}
    try:
        highest = rod_side_pa(unit, limits.hot_limit_k, limits.max_rebound_force_n)
    except RangeError:
        return {Limit.ROD_SIDE: -float("inf")}
    return {Limit.ROD_SIDE: limits.body_rating_gauge_pa - (highest - ambient_pa)}


def _gas(unit: ChargedDamper, temperature_k: float, travel_m: float) -> float:
    """Return the gas volume; negative, like the margin there, where the oil leaves none."""
    return unit.geometry.gas_volume_m3(
        unit.oil_volume_m3,
        temperature_k,
        reference_k=unit.reference_k,
        oil_alpha_per_k=unit.oil_alpha_at(temperature_k),
        travel_m=travel_m,
    )


def _room_m(unit: ChargedDamper, temperature_k: float, travel_m: float) -> float:
    return unit.geometry.floating_piston_room_m(_gas(unit, temperature_k, travel_m))


MORE_OIL_HURTS = (
    Limit.HOT_PRESSURE,
    Limit.ROD_SIDE,
    Limit.GAS_ROOM,
    Limit.CAVITATION,
    Limit.RETURN,
)
"""What fails with too much oil: shrinking cold oil takes the charge's pressure with it."""


def edge_of(
    margins: Callable[[float], dict[Limit, float]], limit: Limit, good: float, bad: float
) -> float:
    """Return the last value, from ``good`` towards ``bad``, at which a limit holds.

    Its margin changes sign at most once on the way. Bisected to 1e-10 of the range; ``bad`` itself
    if it holds there too, ``good`` if it holds nowhere.
    """
    if margins(bad)[limit] >= 0.0:
        return bad
    for _ in range(34):
        middle = 0.5 * (good + bad)
        if margins(middle)[limit] >= 0.0:
            good = middle
        else:
            bad = middle
    return good
