"""Nitrogen in a bottle: the equation of ``nitrogen`` with two terms more, up to 310 bar.

    p = rho R T (1 + B rho + C rho**2 + D rho**3 + E rho**4)

B and C as in ``nitrogen``; D and E, linear in 300 K / T, are our own least-squares fit of what the
reference equation of Span et al., J. Phys. Chem. Ref. Data 29 (2000) 1361, as evaluated by CoolProp
8.0.0, leaves over: 2911 states at 243 to 343 K and 1 to 315 bar, largest residual 0.06 % in Z.
Valid from 253 to 338 K and up to 310 bar absolute; RangeError outside. A bottle's gauge is no
better than a percent, so this is ample; below 60 bar ``nitrogen`` is better.
"""

from benchstation.physics import nitrogen
from benchstation.physics.errors import require

LOW_K, HIGH_K, HIGH_PA = 253.149, 338.151, 310e5
"""Range of a bottle: -20 to 65 degC, up to a 300 bar bottle that has warmed a little."""

_D0, _D1 = 2.4220681e-10, -3.7904355e-10
_E0, _E1 = 6.8847369e-12, -2.3919376e-12


def _z_and_slope(density: float, temperature_k: float) -> tuple[float, float]:
    """Return Z and d(rho Z)/drho."""
    x = 300.0 / temperature_k
    b, c = nitrogen.second_virial_m3_kg(temperature_k), nitrogen.third_virial_m6_kg2(temperature_k)
    d, e = _D0 + x * _D1, _E0 + x * _E1
    z = 1.0 + density * (b + density * (c + density * (d + density * e)))
    slope = density * (2.0 * b + density * (3.0 * c + density * (4.0 * d + density * 5.0 * e)))
    return z, 1.0 + slope


def bottle_density_kg_m3(pressure_pa: float, temperature_k: float) -> float:
    """Return the density at an absolute pressure and a temperature, by Newton to 1e-9 kg/m3."""
    require("bottle temperature", temperature_k, LOW_K, HIGH_K, "K")
    require("bottle pressure (absolute)", pressure_pa, 0.0, HIGH_PA, "Pa")
    ideal = pressure_pa / (nitrogen.R_N2 * temperature_k)
    density = ideal
    for _ in range(40):
        z, slope = _z_and_slope(density, temperature_k)
        step = (density * z - ideal) / slope
        density -= step
        if abs(step) < 1e-9:
            break
    return density


def bottle_pressure_pa(density_kg_m3: float, temperature_k: float) -> float:
    """Return the absolute pressure at a density and a temperature."""
    require("bottle temperature", temperature_k, LOW_K, HIGH_K, "K")
    require("bottle density", density_kg_m3, 0.0, 420.0, "kg/m3")
    z, _ = _z_and_slope(density_kg_m3, temperature_k)
    pressure = density_kg_m3 * nitrogen.R_N2 * temperature_k * z
    return require("bottle pressure (absolute)", pressure, 0.0, HIGH_PA, "Pa")
