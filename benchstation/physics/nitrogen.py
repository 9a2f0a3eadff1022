"""Nitrogen as a real gas: pressure, density, temperature, and what compression does to it.

The equation of state is the virial form truncated after the third coefficient,

    p = rho * R * T * (1 + B(T) * rho + C(T) * rho**2)

with B and C as polynomials in 300 K / T. Their coefficients are our own least-squares fit of the
compressibility given by the reference equation of Span et al., J. Phys. Chem. Ref. Data 29 (2000)
1361, as evaluated by CoolProp 8.0.0: 2300 states at 248 to 398 K and 0.5 to 62 bar with weight 1,
2300 at 400 to 700 K up to 120 bar with weight 0.3, 900 at 253 to 400 K and 62 to 100 bar with
weight 0.03. Largest residual in density: 0.005 % in the first set, 0.023 % in the second, 0.09 % in
the third.

States are accepted from 253.15 to 393.15 K and up to 60 bar absolute (0.02 % of the reference).
The end state of a compression may lie beyond, up to 700 K and 120 bar (0.1 %). Outside: RangeError.
All pressures are absolute. Arguments are floats or numpy arrays; floats in, float out.
"""

import math
from typing import Any, cast, overload

import numpy as np
from numpy.typing import NDArray

from benchstation.physics.errors import RangeError

Array = NDArray[np.float64]

R_N2 = 8.31451 / 28.01348e-3
"""Specific gas constant of nitrogen, J/(kg K), with the constants of Span et al. (2000)."""

LOW_K, HIGH_K, HIGH_PA = 253.149, 393.151, 60e5
"""Range of the states that are accepted: -20 to 120 degC, which floats may miss by a rounding."""
END_HIGH_K, END_HIGH_PA = 700.0, 120e5
"""Range of the end state of a compression."""

_B0, _B1, _B2, _B3 = 1.3497384e-03, -8.0250357e-04, -8.8680044e-04, 1.7512259e-04
_C0, _C1, _C2 = 1.7709109e-06, -6.1516276e-07, 6.9814031e-07
_THETA_K = 3364.011
"""Vibration temperature of the ideal-gas heat capacity in Span et al. (2000), K."""


def second_virial_m3_kg(temperature_k: float) -> float:
    """Give B of this fit at ``temperature_k``, m3/kg."""
    x = 300.0 / temperature_k
    return _B0 + x * (_B1 + x * (_B2 + x * _B3))


def third_virial_m6_kg2(temperature_k: float) -> float:
    """Give C of this fit at ``temperature_k``, m6/kg2."""
    x = 300.0 / temperature_k
    return _C0 + x * (_C1 + x * _C2)


def _pressure(density: Any, temperature: Any) -> Any:
    """Evaluate the equation without asking whether it holds. Scalars and arrays alike."""
    x = 300.0 / temperature
    b = _B0 + x * (_B1 + x * (_B2 + x * _B3))
    c = _C0 + x * (_C1 + x * _C2)
    return density * R_N2 * temperature * (1.0 + density * (b + density * c))


def _density(pressure: Any, temperature: Any) -> Any:
    """Solve the equation for the density: Newton from the second-virial guess, three rounds.

    Three rounds reach 1e-13 everywhere in range, so no test for convergence is needed.
    """
    x = 300.0 / temperature
    b = _B0 + x * (_B1 + x * (_B2 + x * _B3))
    c = _C0 + x * (_C1 + x * _C2)
    ideal = pressure / (R_N2 * temperature)
    rho = ideal / (1.0 + b * ideal)
    for _ in range(3):
        value = rho * (1.0 + rho * (b + rho * c)) - ideal
        rho = rho - value / (1.0 + rho * (2.0 * b + 3.0 * c * rho))
    return rho


def _require(quantity: str, given: Any, low: float, high: float, unit: str) -> None:
    """Refuse a value, or an array that holds one, outside [low, high]; NaN is outside."""
    if isinstance(given, float | int):
        if not low <= given <= high:
            raise RangeError(quantity, given, low, high, unit)
        return
    inside = (given >= low) & (given <= high)
    if not np.all(inside):
        raise RangeError(quantity, float(np.asarray(given)[~inside].flat[0]), low, high, unit)


def _require_state(pressure: Any, temperature: Any) -> None:
    _require("nitrogen temperature", temperature, LOW_K, HIGH_K, "K")
    _require("nitrogen pressure (absolute)", pressure, 0.0, HIGH_PA, "Pa")


@overload
def density_kg_m3(pressure_pa: float, temperature_k: float) -> float: ...
@overload
def density_kg_m3(pressure_pa: Array, temperature_k: float | Array) -> Array: ...
@overload
def density_kg_m3(pressure_pa: float, temperature_k: Array) -> Array: ...
def density_kg_m3(pressure_pa: float | Array, temperature_k: float | Array) -> float | Array:
    """Give the density at an absolute pressure and a temperature (arrays broadcast)."""
    _require_state(pressure_pa, temperature_k)
    return cast("float | Array", _density(pressure_pa, temperature_k))


@overload
def pressure_pa(density_kg_m3: float, temperature_k: float) -> float: ...
@overload
def pressure_pa(density_kg_m3: Array, temperature_k: float | Array) -> Array: ...
@overload
def pressure_pa(density_kg_m3: float, temperature_k: Array) -> Array: ...
def pressure_pa(density_kg_m3: float | Array, temperature_k: float | Array) -> float | Array:
    """Give the absolute pressure at a density and a temperature (arrays broadcast)."""
    _require("nitrogen density", density_kg_m3, 0.0, 200.0, "kg/m3")
    pressure = _pressure(density_kg_m3, temperature_k)
    _require_state(pressure, temperature_k)
    return cast("float | Array", pressure)


def wide_pressure_pa(density_kg_m3: float, temperature_k: float) -> float:
    """Give the absolute pressure of a state that a compression ends in: up to 120 bar, 700 K."""
    _require("nitrogen density", density_kg_m3, 0.0, 200.0, "kg/m3")
    _require("nitrogen temperature", temperature_k, LOW_K, END_HIGH_K, "K")
    pressure: float = _pressure(density_kg_m3, temperature_k)
    _require("nitrogen pressure (absolute)", pressure, 0.0, END_HIGH_PA, "Pa")
    return pressure


def temperature_k(pressure_pa: float, density_kg_m3: float) -> float:
    """Give the temperature at an absolute pressure and a density.

    Solved by fixed-point steps on Z, which contract by better than a tenth each; to 1e-10 K.
    """
    _require("nitrogen density", density_kg_m3, 1e-3, 200.0, "kg/m3")
    temperature = pressure_pa / (R_N2 * density_kg_m3)
    for _ in range(60):
        _require("nitrogen temperature", temperature, 150.0, 1000.0, "K")
        step = temperature * (pressure_pa / _pressure(density_kg_m3, temperature) - 1.0)
        temperature += step
        if abs(step) < 1e-10:
            break
    _require_state(pressure_pa, temperature)
    return temperature


def _entropy_over_r(temperature: float, density: float) -> float:
    """Entropy over R but for a constant: ideal gas with one vibration, less the virial part."""
    u = _THETA_K / temperature
    x = 300.0 / temperature
    # B + T B' and C + T C' of the polynomials: the term in x**n is multiplied by (1 - n).
    b = _B0 - x * x * (_B2 + 2.0 * x * _B3)
    c = _C0 - x * x * _C2
    ideal = 2.5 * math.log(temperature) + u / math.expm1(u) - math.log(-math.expm1(-u))
    return ideal - math.log(density) - density * (b + 0.5 * density * c)


def isochoric_heat_capacity(temperature_k: float, density_kg_m3: float) -> float:
    """Give c_v, J/(kg K): ideal gas 2.5 R plus one vibration, less R rho (T**2 B)'' and so on."""
    u = _THETA_K / temperature_k
    x = 300.0 / temperature_k
    # 2 T B' + T**2 B'': the term in x**n is multiplied by n * (n - 1).
    b = x * x * (2.0 * _B2 + 6.0 * x * _B3)
    c = x * x * 2.0 * _C2
    vibration = u * u * math.exp(-u) / math.expm1(-u) ** 2
    return R_N2 * (2.5 + vibration - density_kg_m3 * (b + 0.5 * density_kg_m3 * c))


def heat_capacity_ratio(pressure_pa: float, temperature_k: float) -> float:
    """Give c_p/c_v of the real gas: 1.400 when thin, 1.47 at 40 bar and 20 degC."""
    rho = density_kg_m3(pressure_pa, temperature_k)
    x = 300.0 / temperature_k
    b, c = second_virial_m3_kg(temperature_k), third_virial_m6_kg2(temperature_k)
    bt = _B0 - x * x * (_B2 + 2.0 * x * _B3)
    ct = _C0 - x * x * _C2
    thermal = 1.0 + rho * (bt + rho * ct)
    elastic = 1.0 + rho * (2.0 * b + 3.0 * c * rho)
    cv = isochoric_heat_capacity(temperature_k, rho)
    return 1.0 + R_N2 * thermal * thermal / (elastic * cv)


def isentropic_end(p1_pa: float, t1_k: float, volume_ratio: float) -> tuple[float, float]:
    """Give pressure and temperature after a fast change of volume without heat, (Pa, K).

    ``volume_ratio`` is V2/V1 (below 1: compression). Entropy is held; Newton on T2 with ds/dT =
    c_v/T. A gamma of 1.4 would be 3.8 % low at a ratio of 0.3 from 10 bar. Raises RangeError when
    start or end lies outside the ranges in the module's docstring.
    """
    _require("volume ratio", volume_ratio, 0.05, 20.0, "1")
    _require("nitrogen temperature", t1_k, LOW_K, HIGH_K, "K")
    _require("nitrogen pressure (absolute)", p1_pa, 0.0, END_HIGH_PA, "Pa")
    rho1 = _density(p1_pa, t1_k)
    rho2 = rho1 / volume_ratio
    entropy = _entropy_over_r(t1_k, rho1)
    t2 = t1_k * math.pow(volume_ratio, -0.4)
    for _ in range(30):
        gap = entropy - _entropy_over_r(t2, rho2)
        step = gap * t2 * R_N2 / isochoric_heat_capacity(t2, rho2)
        t2 += step
        if abs(step) < 1e-9 * t2:
            break
    p2 = _pressure(rho2, t2)
    _require("nitrogen temperature after compression", t2, LOW_K - 60.0, END_HIGH_K, "K")
    _require("nitrogen pressure after compression", p2, 0.0, END_HIGH_PA, "Pa")
    return p2, t2


def isentropic_pressure_pa(p1_pa: float, t1_k: float, volume_ratio: float) -> float:
    """Give the pressure of :func:`isentropic_end`."""
    return isentropic_end(p1_pa, t1_k, volume_ratio)[0]


def isothermal_pressure_pa(p1_pa: float, t1_k: float, volume_ratio: float) -> float:
    """Give the pressure after a slow change of volume at constant temperature, V2/V1 given."""
    _require("volume ratio", volume_ratio, 0.05, 20.0, "1")
    _require_state(p1_pa, t1_k)
    p2: float = _pressure(_density(p1_pa, t1_k) / volume_ratio, t1_k)
    _require("nitrogen pressure after compression", p2, 0.0, END_HIGH_PA, "Pa")
    return p2


def polytropic_pressure_pa(p1_pa: float, exponent: float, volume_ratio: float) -> float:
    """Give p1 * (V1/V2)**n, the ideal-gas rule of thumb for a compression with some heat lost."""
    _require("volume ratio", volume_ratio, 0.05, 20.0, "1")
    _require("polytropic exponent", exponent, 1.0, 1.7, "1")
    return p1_pa * math.pow(volume_ratio, -exponent)
