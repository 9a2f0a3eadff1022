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
STANDARD_K = 273.15
"""The temperature of the standard cubic centimetre: 0 degC."""
YEAR_S = 365.0 * 86400.0


@dataclass(frozen=True, slots=True)
class Drift:
    """What the unit's way to the room's temperature does to its pressure, Pa/s, and u.

    It is no leak, and as slow as one: what is not known of it stands in the leak's uncertainty.
    """

    rate_pa_s: float
    u_pa_s: float


STEADY = Drift(0.0, 0.0)


@dataclass(frozen=True, slots=True)
class Leak:
    """A leak rate, Pa m3/s (positive: the chamber loses gas), with its standard uncertainty.

    ``pressure_rate_pa_s`` is the slope it rests on, with the unit's ``drift`` taken out;
    ``u_scatter_pa_m3_s`` is its uncertainty without that of the drift. ``slow_pa_m3_s`` is how much
    of the rate a slow second part of the cooling could be: it never hides a leak, so it counts
    only against calling one.
    """

    rate_pa_m3_s: float
    u_pa_m3_s: float
    u_scatter_pa_m3_s: float
    slow_pa_m3_s: float
    pressure_rate_pa_s: float
    duration_s: float
    drift: Drift = STEADY


SHORTEST_TAU_S, LONGEST_TAU_S = 1.5, 40.0
"""What gas that was heated by its filling may take to cool at the wall of its tube."""
SLOW_SHARE, SLOW_TAUS_S = 0.04, (180.0, 400.0)
"""A second, slow part of the cooling that no record of a minute or two shows: our own bound."""
_TAUS, _ZOOMS, _LOG_RANGE = 24, 6, 12.0
_BLOCKS = 12


def closed_volume_leak(
    t_s: Array,
    pressure_pa: Array,
    volume_m3: float,
    *,
    noise_pa: float | None = None,
    resolution_pa: float = 0.0,
    drift: Drift = STEADY,
) -> Leak:
    """Return the leak of a volume from its pressure since the valve was closed: q = -V * slope.

    Ten readings or more (or means of equally many), times increasing in s. The gas may still cool
    at the wall: p(t) = c + s t + a exp(-t / tau) is solved for each tau of a grid, and s is the
    mean over the grid by likelihood (Student's, for a variance that is not known), so that what
    the readings cannot tell apart, a leak from the end of a cooling, stands in its uncertainty.
    Residuals that hang together, as where they follow no such curve, widen it by the scatter of
    their means over a twelfth of the record. Digits of ``resolution_pa`` that hide ``noise_pa``,
    the scatter of single readings, count as one rectangular error at either end.
    """
    require_positive("volume under test", volume_m3, "m3")
    count = len(t_s)
    require("number of readings", count, 10, math.inf, "readings")
    if not np.all(np.isfinite(pressure_pa)):
        raise RangeError("reading of the hold test", math.nan, 0.0, math.inf, "SI")
    t = t_s - t_s[0]
    duration = require_positive("length of the hold", float(t[-1]), "s")
    slope, u_slope, height = _slope(t, pressure_pa - np.mean(pressure_pa))
    noise = _scatter(pressure_pa) if noise_pa is None else noise_pa
    if noise < 0.5 * resolution_pa:
        u_slope = math.hypot(u_slope, resolution_pa / math.sqrt(6.0) / duration)
    u_all = math.hypot(u_slope, drift.u_pa_s)
    slope -= drift.rate_pa_s
    slow = max(SLOW_SHARE * height / tau * math.exp(-0.5 * duration / tau) for tau in SLOW_TAUS_S)
    return Leak(
        -volume_m3 * slope,
        volume_m3 * u_all,
        volume_m3 * u_slope,
        volume_m3 * slow,
        slope,
        duration,
        drift,
    )


def _scatter(values: Array) -> float:
    """Return the scatter from reading to reading, blind to a trend (von Neumann)."""
    return float(np.sqrt(np.mean(np.diff(values) ** 2) / 2.0))


def _slope(t: Array, p: Array) -> tuple[float, float, float]:
    """Return the slope beside an exponential of any tau of the range, its u, and its height."""
    low, high = SHORTEST_TAU_S, LONGEST_TAU_S
    for _ in range(_ZOOMS):
        taus = np.geomspace(low, high, _TAUS)
        fits = [_beside(t, p, float(tau)) for tau in taus]
        logs = np.array([fit.log_likelihood for fit in fits])
        likely = np.flatnonzero(logs > logs.max() - _LOG_RANGE)
        if len(likely) > _TAUS // 3:
            break
        low, high = taus[max(likely[0] - 1, 0)], taus[min(likely[-1] + 1, _TAUS - 1)]
    best = int(np.argmax(logs))
    share = np.exp(logs - logs[best])
    share /= share.sum()
    slopes = np.array([fit.slope for fit in fits])
    slope = float(share @ slopes)
    own = float(share @ np.array([fit.variance for fit in fits]))
    spread = float(share @ (slopes - slope) ** 2)
    u = math.sqrt((own + spread) * _hang_together(fits[best].residual))
    return slope, u, abs(fits[best].height)


@dataclass(frozen=True, slots=True)
class _Fit:
    slope: float
    height: float
    variance: float
    log_likelihood: float
    residual: Array


def _beside(t: Array, p: Array, tau: float) -> _Fit:
    """Fit a line beside an exponential of this tau by least squares."""
    count = len(t)
    basis = np.column_stack((np.ones(count), t, np.exp(-t / tau)))
    scale = np.linalg.norm(basis, axis=0)
    basis /= scale
    inverse = np.linalg.pinv(basis.T @ basis)
    weights = inverse @ (basis.T @ p)
    residual = p - basis @ weights
    left = max(float(residual @ residual), 1e-12)
    return _Fit(
        float(weights[1] / scale[1]),
        float(weights[2] / scale[2]),
        float(inverse[1, 1]) / float(scale[1]) ** 2 * left / (count - 3),
        -0.5 * (count - 4) * math.log(left),
        residual,
    )


def _hang_together(residual: Array) -> float:
    """Return by how much the means of parts scatter more than independent readings would, >= 1."""
    size = len(residual) // _BLOCKS
    if size < 2:
        return 1.0
    means = residual[: size * _BLOCKS].reshape(_BLOCKS, size).mean(axis=1)
    alone = float(residual @ residual) / len(residual) / size
    return max(1.0, float(means @ means) / _BLOCKS / alone) if alone > 0.0 else 1.0


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


def at_standard_temperature_pa_m3_s(rate_pa_m3_s: float, gas_k: float) -> float:
    """Return the throughput at 0 degC of the gas that leaks at a rate at its own temperature.

    A throughput pV is an amount of gas only beside its temperature: n = pV / RT, as an ideal gas.
    """
    require_positive("temperature of the gas", gas_k, "K")
    return rate_pa_m3_s * STANDARD_K / gas_k


def loss_rate_pa_s(rate_pa_m3_s: float, volume_m3: float) -> float:
    """Return how fast a volume loses pressure at a leak rate: dp/dt = q / V."""
    require_positive("volume", volume_m3, "m3")
    return rate_pa_m3_s / volume_m3


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


def hold_u_pa_s(
    seconds: float,
    *,
    each_s: float,
    noise_pa: float,
    resolution_pa: float,
    drift: Drift = STEADY,
) -> float:
    """Return the standard uncertainty of a hold's slope that can be expected before it begins.

    That of a straight line through ``seconds / each_s`` readings, u = s sqrt(12 / n) / t, doubled
    for the cooling that is told apart from it; the digits and the drift as in
    :func:`closed_volume_leak`.
    """
    require_positive("length of the hold", seconds, "s")
    require_positive("time between readings", each_s, "s")
    count = max(3.0, seconds / each_s)
    fitted = 2.0 * noise_pa * math.sqrt(12.0 / count) / seconds
    digits = resolution_pa / math.sqrt(6.0) / seconds if noise_pa < 0.5 * resolution_pa else 0.0
    return math.hypot(fitted, digits, drift.u_pa_s)
