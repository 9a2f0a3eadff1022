"""What a change of volume does to nitrogen: slow, fast, or by the rule of thumb.

Slow is isothermal, fast is isentropic; both on the real gas of ``nitrogen``. The caloric side needs
one thing more than the equation of state: the ideal-gas heat capacity, taken as 5/2 R plus the one
vibration of the molecule (its temperature from Span et al., J. Phys. Chem. Ref. Data 29 (2000)
1361). Entropy and c_v follow from the virial terms by the usual thermodynamic relations, as in
Hirschfelder, Curtiss and Bird, Molecular Theory of Gases and Liquids, section 3.2.

``volume_ratio`` is V2/V1, below 1 for a compression, 0.05 to 20. Pressures are absolute. Arguments
are floats or arrays that broadcast; floats in, floats out. A start outside 253 to 393 K, or an end
beyond 700 K or 120 bar, raises RangeError.
"""

import math
from typing import Any, cast, overload

import numpy as np
from numpy.typing import NDArray

from benchstation.physics import nitrogen
from benchstation.physics.errors import require_all
from benchstation.physics.nitrogen import (
    END_HIGH_K,
    END_HIGH_PA,
    R_N2,
    all_below,
    raw_density,
    raw_pressure,
)

Array = NDArray[np.float64]
Either = float | Array

_THETA_K = 3364.011
"""Vibration temperature of the ideal-gas heat capacity in Span et al. (2000), K."""
_NEAR = 1e-10


def _functions(value: Any) -> Any:
    """Return the module whose log, exp and expm1 suit: ``math`` is ten times faster for a float."""
    return math if isinstance(value, float | int) else np


def entropy_over_r(temperature_k: Any, density_kg_m3: Any) -> Any:
    """Return the specific entropy over R but for a constant, 1.

    s/R = s_ideal(T)/R - ln rho - rho (B + T B') - rho**2 (C + T C')/2.
    """
    f = _functions(temperature_k)
    u = _THETA_K / temperature_k
    bt, ct = nitrogen.thermal_virials(temperature_k)
    ideal = 2.5 * f.log(temperature_k) + u / f.expm1(u) - f.log(-f.expm1(-u))
    density = _functions(density_kg_m3).log(density_kg_m3)
    return ideal - density - density_kg_m3 * (bt + 0.5 * density_kg_m3 * ct)


def isochoric_heat_capacity(temperature_k: Any, density_kg_m3: Any) -> Any:
    """Return c_v, J/(kg K): 2.5 R plus one vibration, less R rho (2 T B' + T**2 B'') and so on."""
    f = _functions(temperature_k)
    u = _THETA_K / temperature_k
    b, c = nitrogen.caloric_virials(temperature_k)
    vibration = u * u * f.exp(-u) / f.expm1(-u) ** 2
    return R_N2 * (2.5 + vibration - density_kg_m3 * (b + 0.5 * density_kg_m3 * c))


def stiffness_pa(temperature_k: Any, density_kg_m3: Any) -> Any:
    """Return the isothermal bulk modulus rho (dp/drho)_T, Pa: what a gas spring's rate rests on."""
    b, c = nitrogen.second_virial_m3_kg(temperature_k), nitrogen.third_virial_m6_kg2(temperature_k)
    elastic = 1.0 + density_kg_m3 * (2.0 * b + 3.0 * c * density_kg_m3)
    return density_kg_m3 * R_N2 * temperature_k * elastic


def heat_capacity_ratio_at(temperature_k: Any, density_kg_m3: Any) -> Any:
    """Return c_p/c_v = 1 + T (dp/dT)**2 / (rho**2 c_v (dp/drho)_T) of the real gas."""
    bt, ct = nitrogen.thermal_virials(temperature_k)
    thermal = R_N2 * (1.0 + density_kg_m3 * (bt + density_kg_m3 * ct))
    cv = isochoric_heat_capacity(temperature_k, density_kg_m3)
    stiffness = stiffness_pa(temperature_k, density_kg_m3)
    return 1.0 + temperature_k * density_kg_m3 * thermal * thermal / (cv * stiffness)


def heat_capacity_ratio(pressure_pa: float, temperature_k: float) -> float:
    """Return c_p/c_v at a pressure: 1.400 when thin, 1.47 at 40 bar and 20 degC."""
    rho = nitrogen.density_kg_m3(pressure_pa, temperature_k)
    return cast("float", heat_capacity_ratio_at(temperature_k, rho))


def raw_isentropic_end(p1_pa: Any, t1_k: Any, volume_ratio: Any) -> tuple[Any, Any]:
    """Return the end of a fast change of volume without asking whether the equation holds there."""
    rho1 = raw_density(p1_pa, t1_k)
    rho2 = rho1 / volume_ratio
    entropy = entropy_over_r(t1_k, rho1)
    t2 = t1_k * volume_ratio**-0.4
    for _ in range(30):
        gap = entropy - entropy_over_r(t2, rho2)
        step = gap * t2 * R_N2 / isochoric_heat_capacity(t2, rho2)
        t2 = t2 + step
        if all_below(step, _NEAR * t2):
            break
    return raw_pressure(rho2, t2), t2


@overload
def isentropic_end(p1_pa: float, t1_k: float, volume_ratio: float) -> tuple[float, float]: ...
@overload
def isentropic_end(p1_pa: Array, t1_k: Either, volume_ratio: Either) -> tuple[Array, Array]: ...
@overload
def isentropic_end(p1_pa: float, t1_k: Either, volume_ratio: Array) -> tuple[Array, Array]: ...
def isentropic_end(p1_pa: Either, t1_k: Either, volume_ratio: Either) -> tuple[Either, Either]:
    """Return pressure and temperature after a fast change of volume without heat, (Pa, K).

    Entropy is held; Newton on T2 with ds/dT = c_v/T. A gamma of 1.4 would be 3.8 % low at a ratio
    of 0.3 from 10 bar.
    """
    _require_start(p1_pa, t1_k, volume_ratio, END_HIGH_PA)
    p2, t2 = raw_isentropic_end(p1_pa, t1_k, volume_ratio)
    require_all("nitrogen temperature after compression", t2, 190.0, END_HIGH_K, "K")
    require_all("nitrogen pressure after compression", p2, 0.0, END_HIGH_PA, "Pa")
    return p2, t2


@overload
def isentropic_pressure_pa(p1_pa: float, t1_k: float, volume_ratio: float) -> float: ...
@overload
def isentropic_pressure_pa(p1_pa: Array, t1_k: Either, volume_ratio: Either) -> Array: ...
@overload
def isentropic_pressure_pa(p1_pa: float, t1_k: Either, volume_ratio: Array) -> Array: ...
def isentropic_pressure_pa(p1_pa: Any, t1_k: Any, volume_ratio: Any) -> Either:
    """Return the pressure of :func:`isentropic_end`."""
    return cast("Either", isentropic_end(p1_pa, t1_k, volume_ratio)[0])


@overload
def isothermal_pressure_pa(p1_pa: float, t1_k: float, volume_ratio: float) -> float: ...
@overload
def isothermal_pressure_pa(p1_pa: Array, t1_k: Either, volume_ratio: Either) -> Array: ...
@overload
def isothermal_pressure_pa(p1_pa: float, t1_k: Either, volume_ratio: Array) -> Array: ...
def isothermal_pressure_pa(p1_pa: Either, t1_k: Either, volume_ratio: Either) -> Either:
    """Return the pressure after a slow change of volume at constant temperature."""
    _require_start(p1_pa, t1_k, volume_ratio, nitrogen.HIGH_PA)
    p2 = raw_pressure(raw_density(p1_pa, t1_k) / volume_ratio, t1_k)
    require_all("nitrogen pressure after compression", p2, 0.0, END_HIGH_PA, "Pa")
    return cast("Either", p2)


@overload
def polytropic_pressure_pa(p1_pa: float, exponent: float, volume_ratio: float) -> float: ...
@overload
def polytropic_pressure_pa(p1_pa: Array, exponent: float, volume_ratio: Either) -> Array: ...
@overload
def polytropic_pressure_pa(p1_pa: float, exponent: float, volume_ratio: Array) -> Array: ...
def polytropic_pressure_pa(p1_pa: Either, exponent: float, volume_ratio: Either) -> Either:
    """Return p1 * (V1/V2)**n: the defining equation of a polytropic change, real gas or ideal.

    n = 1 is slow in an ideal gas, 1.4 fast; between them lies a compression with some heat lost.
    For a real gas n is what a measurement gave. Any textbook of thermodynamics (Cengel and Boles).
    """
    require_all("volume ratio", volume_ratio, 0.05, 20.0, "1")
    require_all("polytropic exponent", exponent, 1.0, 1.7, "1")
    return p1_pa * volume_ratio**-exponent


def polytropic_end(
    p1_pa: float, t1_k: float, exponent: float, volume_ratio: float
) -> tuple[float, float]:
    """Return pressure and temperature after a polytropic change, (Pa, K).

    The pressure is p1 (V1/V2)**n; the temperature is the one the real gas has at it and at the
    density that follows.
    """
    _require_start(p1_pa, t1_k, volume_ratio, nitrogen.HIGH_PA)
    p2 = polytropic_pressure_pa(p1_pa, exponent, volume_ratio)
    return p2, nitrogen.temperature_k(p2, raw_density(p1_pa, t1_k) / volume_ratio)


def _require_start(p1_pa: Any, t1_k: Any, volume_ratio: Any, high_pa: float) -> None:
    require_all("volume ratio", volume_ratio, 0.05, 20.0, "1")
    require_all("nitrogen temperature", t1_k, nitrogen.LOW_K, nitrogen.HIGH_K, "K")
    require_all("nitrogen pressure (absolute)", p1_pa, 0.0, high_pa, "Pa")
