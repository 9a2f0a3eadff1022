"""Nitrogen as a real gas: pressure, density and temperature, each from the other two.

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

from typing import Any, cast, overload

import numpy as np
from numpy.typing import NDArray

from benchstation.physics.errors import require_all

Array = NDArray[np.float64]

R_N2 = 8.31451 / 28.01348e-3
"""Specific gas constant of nitrogen, J/(kg K), with the constants of Span et al. (2000)."""

LOW_K, HIGH_K, HIGH_PA = 253.149, 393.151, 60e5
"""Range of the states that are accepted: -20 to 120 degC, which floats may miss by a rounding."""
END_HIGH_K, END_HIGH_PA = 700.0, 120e5
"""Range of the end state of a compression."""

_B0, _B1, _B2, _B3 = 1.3497384e-03, -8.0250357e-04, -8.8680044e-04, 1.7512259e-04
_C0, _C1, _C2 = 1.7709109e-06, -6.1516276e-07, 6.9814031e-07


def second_virial_m3_kg(temperature_k: float) -> float:
    """Return B of this fit at ``temperature_k``, m3/kg."""
    x = 300.0 / temperature_k
    return _B0 + x * (_B1 + x * (_B2 + x * _B3))


def third_virial_m6_kg2(temperature_k: float) -> float:
    """Return C of this fit at ``temperature_k``, m6/kg2."""
    x = 300.0 / temperature_k
    return _C0 + x * (_C1 + x * _C2)


def thermal_virials(temperature_k: Any) -> tuple[Any, Any]:
    """Return B + T B' (m3/kg) and C + T C' (m6/kg2): each term in x**n times (1 - n)."""
    x = 300.0 / temperature_k
    return _B0 - x * x * (_B2 + 2.0 * x * _B3), _C0 - x * x * _C2


def caloric_virials(temperature_k: Any) -> tuple[Any, Any]:
    """Return 2 T B' + T**2 B'' and the same of C: each term in x**n times n * (n - 1)."""
    x = 300.0 / temperature_k
    return x * x * (2.0 * _B2 + 6.0 * x * _B3), 2.0 * x * x * _C2


def raw_pressure(density: Any, temperature: Any) -> Any:
    """Evaluate the equation without asking whether it holds. Scalars and arrays alike."""
    x = 300.0 / temperature
    b = _B0 + x * (_B1 + x * (_B2 + x * _B3))
    c = _C0 + x * (_C1 + x * _C2)
    return density * R_N2 * temperature * (1.0 + density * (b + density * c))


def raw_density(pressure: Any, temperature: Any) -> Any:
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


def all_below(values: Any, bound: Any) -> bool:
    """Return True when every magnitude lies below the bound; quick for plain floats."""
    below = abs(values) < bound
    return below if isinstance(below, bool) else bool(np.all(below))


def _require_state(pressure: Any, temperature: Any) -> None:
    require_all("nitrogen temperature", temperature, LOW_K, HIGH_K, "K")
    require_all("nitrogen pressure (absolute)", pressure, 0.0, HIGH_PA, "Pa")


@overload
def density_kg_m3(pressure_pa: float, temperature_k: float) -> float: ...
@overload
def density_kg_m3(pressure_pa: Array, temperature_k: float | Array) -> Array: ...
@overload
def density_kg_m3(pressure_pa: float, temperature_k: Array) -> Array: ...
def density_kg_m3(pressure_pa: float | Array, temperature_k: float | Array) -> float | Array:
    """Return the density at an absolute pressure and a temperature (arrays broadcast)."""
    _require_state(pressure_pa, temperature_k)
    return cast("float | Array", raw_density(pressure_pa, temperature_k))


@overload
def pressure_pa(density_kg_m3: float, temperature_k: float) -> float: ...
@overload
def pressure_pa(density_kg_m3: Array, temperature_k: float | Array) -> Array: ...
@overload
def pressure_pa(density_kg_m3: float, temperature_k: Array) -> Array: ...
def pressure_pa(density_kg_m3: float | Array, temperature_k: float | Array) -> float | Array:
    """Return the absolute pressure at a density and a temperature (arrays broadcast)."""
    require_all("nitrogen density", density_kg_m3, 0.0, 200.0, "kg/m3")
    pressure = raw_pressure(density_kg_m3, temperature_k)
    _require_state(pressure, temperature_k)
    return cast("float | Array", pressure)


@overload
def wide_pressure_pa(density_kg_m3: float, temperature_k: float) -> float: ...
@overload
def wide_pressure_pa(density_kg_m3: Array, temperature_k: float | Array) -> Array: ...
@overload
def wide_pressure_pa(density_kg_m3: float, temperature_k: Array) -> Array: ...
def wide_pressure_pa(density_kg_m3: float | Array, temperature_k: float | Array) -> float | Array:
    """Return the absolute pressure of a state that a compression ends in: up to 120 bar, 700 K."""
    require_all("nitrogen density", density_kg_m3, 0.0, 200.0, "kg/m3")
    require_all("nitrogen temperature", temperature_k, LOW_K, END_HIGH_K, "K")
    pressure = raw_pressure(density_kg_m3, temperature_k)
    require_all("nitrogen pressure (absolute)", pressure, 0.0, END_HIGH_PA, "Pa")
    return cast("float | Array", pressure)


@overload
def temperature_k(pressure_pa: float, density_kg_m3: float) -> float: ...
@overload
def temperature_k(pressure_pa: Array, density_kg_m3: float | Array) -> Array: ...
@overload
def temperature_k(pressure_pa: float, density_kg_m3: Array) -> Array: ...
def temperature_k(pressure_pa: float | Array, density_kg_m3: float | Array) -> float | Array:
    """Return the temperature at an absolute pressure and a density (arrays broadcast).

    Newton with dp/dT = rho R (1 + rho (B + T B') + rho**2 (C + T C')) from the ideal gas; to
    1e-9 K.
    """
    require_all("nitrogen density", density_kg_m3, 1e-3, 200.0, "kg/m3")
    temperature: Any = pressure_pa / (R_N2 * density_kg_m3)
    require_all("nitrogen temperature", temperature, 150.0, 1000.0, "K")
    for _ in range(30):
        bt, ct = thermal_virials(temperature)
        slope = density_kg_m3 * R_N2 * (1.0 + density_kg_m3 * (bt + density_kg_m3 * ct))
        step = (pressure_pa - raw_pressure(density_kg_m3, temperature)) / slope
        temperature = temperature + step
        if all_below(step, 1e-6):
            break  # the step after this one would be below 1e-9 K
    _require_state(pressure_pa, temperature)
    return cast("float | Array", temperature)
