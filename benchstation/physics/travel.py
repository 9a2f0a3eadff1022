"""Gas pressure, gas force and its rate over the whole travel of the rod, slow and fast.

    p(x) of the chamber that the rod leaves, V(x) = V(0) - A_rod x
    F(x) = (p(x) - p_ambient) A_rod
    dF/dx = A_rod**2 K / V(x),   K = rho (dp/drho)_T slow, and c_p/c_v times that fast

The rate is the definition of the bulk modulus K put into dF/dx = -A_rod**2 dp/dV, c_p/c_v the ratio
of the adiabatic to the isothermal bulk modulus (any textbook of thermodynamics, Cengel and Boles).
"""

from dataclasses import dataclass

import numpy as np
from numpy.typing import NDArray

from benchstation.physics import compression, nitrogen
from benchstation.physics.air import STANDARD_PRESSURE_PA
from benchstation.physics.errors import require
from benchstation.physics.gas_spring import ChargedDamper

Array = NDArray[np.float64]


@dataclass(frozen=True, slots=True)
class TravelCurve:
    """Curves over ``travel_m``, all of one length; absolute pressures.

    NaN from where the oil leaves the gas no room, or the gas leaves the range of its equation.
    """

    temperature_k: float
    travel_m: Array
    slow_pa: Array
    fast_pa: Array
    slow_force_n: Array
    fast_force_n: Array
    slow_rate_n_m: Array
    fast_rate_n_m: Array
    floating_piston_room_m: Array
    floating_piston_clearance_m: Array


def over_travel(
    unit: ChargedDamper,
    temperature_k: float,
    *,
    points: int = 61,
    ambient_pa: float = STANDARD_PRESSURE_PA,
) -> TravelCurve:
    """Return the curves of one unit at one starting temperature, from fully out to full bump.

    Raises RangeError when the unit is out of range before it moves.
    """
    require("number of points", points, 2, 100_000, "points")
    geometry = unit.geometry
    start = unit.pressure_pa(temperature_k)
    whole = unit.gas_volume_m3(temperature_k)
    travel = np.linspace(0.0, geometry.stroke_m, points)
    volume = whole - geometry.rod_area_m2 * travel
    room = np.where(volume > 0.05 * whole, volume, np.nan)
    density = unit.amount_kg / room
    slow = nitrogen.raw_pressure(density, temperature_k)
    fast, hot = compression.raw_isentropic_end(start, temperature_k, room / whole)
    slow_k = compression.stiffness_pa(temperature_k, density)
    fast_k = compression.stiffness_pa(hot, density)
    fast_k = fast_k * compression.heat_capacity_ratio_at(hot, density)
    area = geometry.rod_area_m2
    slow = np.where(slow <= nitrogen.END_HIGH_PA, slow, np.nan)
    fast = np.where((fast <= nitrogen.END_HIGH_PA) & (hot <= nitrogen.END_HIGH_K), fast, np.nan)
    free = np.where(volume > 0.0, volume, np.nan)
    face = (free - geometry.gas_recess_m3) / geometry.bore_area_m2
    end = geometry.internal_length_m - geometry.piston_depth_m
    return TravelCurve(
        temperature_k,
        travel,
        slow,
        fast,
        (slow - ambient_pa) * area,
        (fast - ambient_pa) * area,
        np.where(np.isnan(slow), np.nan, area**2 * slow_k / room),
        np.where(np.isnan(fast), np.nan, area**2 * fast_k / room),
        face,
        end - travel - face - geometry.floating_piston_thickness_m,
    )
