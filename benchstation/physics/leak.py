"""Leak rate from a hold test by pressure change, and its unit factors.

Terms of EN 1779 / ISO 20484: the leakage rate q is the pV throughput, Pa m3/s, of the test gas at
its temperature. For a constant volume q = -V dp/dt with every pressure brought back to one
temperature as the real gas of ``nitrogen``; the ideal p2 T1/T2 leaves 3 to 10 % of what temperature
does as a leak that is none. In a damper the oil's expansion takes a share of the gas volume with
each kelvin on top. Pressures are absolute.
"""

import math
from dataclasses import dataclass
from typing import overload

import numpy as np
from numpy.typing import NDArray

from benchstation.physics import nitrogen
from benchstation.physics.errors import RangeError, require, require_positive

Array = NDArray[np.float64]

PA_M3_S_PER_MBAR_L_S = 0.1
PA_M3_S_PER_TORR_L_S = 101325.0 / 760.0 * 1e-3
PA_M3_S_PER_ATM_CM3_S = 0.101325
"""At the reference temperature of the atm cm3."""
PA_M3_S_PER_SCCM = 0.101325 / 60.0
"""Standard cubic centimetre per minute, gas counted at 0 degC and 101325 Pa."""
YEAR_S = 365.0 * 86400.0


@dataclass(frozen=True, slots=True)
class Leak:
    """A leak rate, Pa m3/s (positive: the chamber loses gas), with its standard uncertainty.

    ``dof`` are the degrees of freedom of ``u_pa_m3_s``; ``pressure_rate_pa_s`` is the
    temperature-corrected slope it rests on.
    """

    rate_pa_m3_s: float
    u_pa_m3_s: float
    dof: float
    pressure_rate_pa_s: float
    duration_s: float


def pressure_change_leak(
    t_s: Array,
    pressure_pa: Array,
    volume_m3: float,
    temperature_k: Array | float = 293.15,
    *,
    u_volume_rel: float = 0.0,
    u_drift_pa: float = 0.0,
) -> Leak:
    """Fit the temperature-corrected pressure of a hold by a straight line: q = -V * slope.

    Three readings or more, one-dimensional arrays of equal length, times increasing in s.
    ``temperature_k`` is one reading for all (no correction) or one per pressure; the corrected
    pressure is that at the first temperature. ``u_drift_pa`` is the standard uncertainty of what
    transducer and thermometer may drift over the hold, which no fit can see. The uncertainty of the
    slope is that of ordinary least squares (GUM H.3).
    """
    require_positive("volume under test", volume_m3, "m3")
    count = len(t_s)
    require("number of readings", count, 3, math.inf, "readings")
    temperature = np.broadcast_to(np.asarray(temperature_k, dtype=float), (count,))
    if not (np.all(np.isfinite(pressure_pa)) and np.all(np.isfinite(temperature))):
        raise RangeError("reading of the hold test", math.nan, 0.0, math.inf, "SI")
    corrected = at_temperature_pa(pressure_pa, temperature, float(temperature[0]))
    centred = t_s - np.mean(t_s)
    power = require_positive("spread of the times", float(centred @ centred), "s2")
    slope = float(centred @ (corrected - np.mean(corrected))) / power
    residual = corrected - np.mean(corrected) - slope * centred
    variance = float(residual @ residual) / (count - 2)
    duration = float(t_s[-1] - t_s[0])
    u_fit = math.sqrt(variance / power)
    u_slope = math.hypot(u_fit, u_drift_pa / duration)
    rate = -volume_m3 * slope
    u_rate = math.hypot(volume_m3 * u_slope, rate * u_volume_rel)
    fitted = volume_m3 * u_fit
    dof = (count - 2) * (u_rate / fitted) ** 4 if fitted > 0.0 else math.inf
    return Leak(rate, u_rate, dof, slope, duration)


@overload
def at_temperature_pa(
    pressure_pa: float, from_k: float, to_k: float, *, shrink_per_k: float = 0.0
) -> float: ...
@overload
def at_temperature_pa(
    pressure_pa: Array, from_k: Array, to_k: float, *, shrink_per_k: float = 0.0
) -> Array: ...
def at_temperature_pa(
    pressure_pa: float | Array,
    from_k: float | Array,
    to_k: float,
    *,
    shrink_per_k: float = 0.0,
) -> float | Array:
    """Return the absolute pressure of closed nitrogen once it is at another temperature.

    ``shrink_per_k`` is the part of its volume at ``to_k`` that the oil's expansion takes with each
    kelvin: ``V_oil a / V_gas``.
    """
    if np.all(from_k == to_k):
        return pressure_pa
    volume = 1.0 - shrink_per_k * (from_k - to_k)
    if isinstance(pressure_pa, float) and isinstance(from_k, float):
        return nitrogen.pressure_pa(nitrogen.density_kg_m3(pressure_pa, from_k) * volume, to_k)
    density = nitrogen.density_kg_m3(np.asarray(pressure_pa), np.asarray(from_k))
    return nitrogen.pressure_pa(density * volume, to_k)


def two_point_leak_pa_m3_s(
    p1_pa: float,
    p2_pa: float,
    duration_s: float,
    volume_m3: float,
    *,
    t1_k: float = 293.15,
    t2_k: float = 293.15,
    shrink_per_k: float = 0.0,
) -> float:
    """Return q = V (p1 - p2 at T1) / dt from the first and last reading of a hold, Pa m3/s.

    ``volume_m3`` is that at ``t1_k``; for ``shrink_per_k`` see :func:`at_temperature_pa`.
    """
    require_positive("duration of the hold", duration_s, "s")
    require_positive("volume under test", volume_m3, "m3")
    require_positive("first temperature", t1_k, "K")
    require_positive("last temperature", t2_k, "K")
    back = at_temperature_pa(p2_pa, t2_k, t1_k, shrink_per_k=shrink_per_k)
    return volume_m3 * (p1_pa - back) / duration_s


def pressure_loss_pa(rate_pa_m3_s: float, volume_m3: float, duration_s: float) -> float:
    """Return the pressure lost at a constant leak rate: dp = q t / V."""
    require_positive("volume", volume_m3, "m3")
    return rate_pa_m3_s * duration_s / volume_m3


def loss_per_year_pa(rate_pa_m3_s: float, volume_m3: float) -> float:
    """Return the pressure lost in 365 days at this rate if it stayed constant."""
    return pressure_loss_pa(rate_pa_m3_s, volume_m3, YEAR_S)


def shortest_hold_s(
    limit_pa_m3_s: float,
    volume_m3: float,
    u_pressure_pa: float,
    *,
    expected_pa_m3_s: float = 0.0,
    guard_factor: float = 1.645,
) -> float:
    """Return the shortest hold whose two readings prove a leak limit, s.

    The difference of two readings has u = sqrt(2) u_pressure, so u(q) = sqrt(2) u V / t; proof of
    conformity (ISO 14253-1) needs expected + guard_factor * u(q) <= limit. ``u_pressure_pa`` is the
    standard uncertainty of one reading over the hold, temperature included.
    """
    require_positive("volume under test", volume_m3, "m3")
    margin = require_positive("leak limit above the expected leak", limit_pa_m3_s, "Pa m3/s")
    margin = require_positive("leak limit above the expected leak", margin - expected_pa_m3_s, "SI")
    return guard_factor * math.sqrt(2.0) * u_pressure_pa * volume_m3 / margin
