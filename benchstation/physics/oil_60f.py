"""Density of an oil whose base is 60 degF, by the full procedure of ASTM D1250-04 / API MPMS 11.1.

Published source: API MPMS 11.1-2004 (ASTM D1250-04), 11.1.6.1: temperatures are brought to
IPTS-68, the base density shifted for it, then CTL = exp(-a60 * dt * (1 + 0.8 * a60 * (dt + d60)))
with a60 = (K0/rho* + K1)/rho* + K2. Lubricating oils: K0 = 0, K1 = 0.34878 kg/m3/degF, K2 = 0.
"""

import math

from benchstation.physics.errors import require
from benchstation.physics.oil import OIL_HIGH_K, OIL_LOW_K, RHO15_HIGH, RHO15_LOW

K1_60F = 0.34878
"""Lubricating-oil constant at the 60 degF base, kg/m3/degF."""
_T60_68F = 60.0068749
_D60F = 0.01374979547
_A = (-0.148759, -0.267408, 1.080760, 1.269056, -4.089591, -1.871251, 7.438081, -3.536296)
BASE_60F_K = (60.0 + 459.67) / 1.8
"""60 degF in kelvin, 15.56 degC."""


def fahrenheit_68(fahrenheit_90: float) -> float:
    """Return the IPTS-68 temperature of an ITS-90 one, both degF."""
    celsius = (fahrenheit_90 - 32.0) / 1.8
    tau = celsius / 630.0
    shift = 0.0
    for coefficient in reversed(_A):
        shift = (coefficient + shift) * tau
    return 1.8 * (celsius - shift) + 32.0


def density_68_kg_m3(
    rho60_kg_m3: float, k0: float = 0.0, k1: float = K1_60F, k2: float = 0.0
) -> float:
    """Return rho*, the base density shifted from 60 degF ITS-90 to 60 degF IPTS-68."""
    a = 0.5 * _D60F * ((k0 / rho60_kg_m3 + k1) / rho60_kg_m3 + k2)
    b = (2.0 * k0 + k1 * rho60_kg_m3) / (k0 + (k1 + k2 * rho60_kg_m3) * rho60_kg_m3)
    growth = math.expm1(a * (1.0 + 0.8 * a))
    return rho60_kg_m3 * (1.0 + growth / (1.0 + a * (1.0 + 1.6 * a) * b))


def alpha60_per_f(
    rho60_kg_m3: float, k0: float = 0.0, k1: float = K1_60F, k2: float = 0.0
) -> float:
    """Return the expansion coefficient at 60 degF, 1/degF."""
    shifted = density_68_kg_m3(rho60_kg_m3, k0, k1, k2)
    return (k0 / shifted + k1) / shifted + k2


def volume_correction_60f(
    rho60_kg_m3: float,
    temperature_k: float,
    k0: float = 0.0,
    k1: float = K1_60F,
    k2: float = 0.0,
) -> float:
    """Return CTL = rho(T)/rho(60 degF), not rounded. Other K are other groups of the procedure."""
    require("oil temperature", temperature_k, OIL_LOW_K, OIL_HIGH_K, "K")
    require("oil density at 60 degF", rho60_kg_m3, 470.0, RHO15_HIGH, "kg/m3")
    alpha = alpha60_per_f(rho60_kg_m3, k0, k1, k2)
    delta = fahrenheit_68(1.8 * temperature_k - 459.67) - _T60_68F
    return math.exp(-alpha * delta * (1.0 + 0.8 * alpha * (delta + _D60F)))


def density_from_60f_kg_m3(rho60_kg_m3: float, temperature_k: float) -> float:
    """Return the density at ``temperature_k`` of a lubricating oil known at 60 degF."""
    require("oil density at 60 degF", rho60_kg_m3, RHO15_LOW, RHO15_HIGH, "kg/m3")
    return rho60_kg_m3 * volume_correction_60f(rho60_kg_m3, temperature_k)


def density_at_60f_kg_m3(observed_kg_m3: float, temperature_k: float) -> float:
    """Return the 60 degF density of a lubricating oil observed at ``temperature_k`` (inverse).

    Fixed-point steps; each shrinks the error by better than ten times. To 1e-9 kg/m3.
    """
    require("observed oil density", observed_kg_m3, 650.0, 1250.0, "kg/m3")
    rho60 = observed_kg_m3
    for _ in range(60):
        previous = rho60
        rho60 = observed_kg_m3 / volume_correction_60f(rho60, temperature_k)
        if abs(rho60 - previous) < 1e-9:
            break
    return require("oil density at 60 degF", rho60, RHO15_LOW, RHO15_HIGH, "kg/m3")


def rho15_from_60f_kg_m3(rho60_kg_m3: float) -> float:
    """Return the density at 15 degC of a lubricating oil known at 60 degF."""
    return density_from_60f_kg_m3(rho60_kg_m3, 288.15)
