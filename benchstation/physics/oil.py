"""Density of a lubricating oil with temperature.

Published source: ASTM D1250-04 / API MPMS chapter 11.1 / ISO 91, generalised lubricating oils.
With the density at the base temperature rho_b and dT = T - T_b

    rho(T) = rho_b * exp(-a * dT * (1 + 0.8 * a * dT)),   a = K0 / rho_b**2 + K1 / rho_b

K0 = 0 and K1 = 0.6278 kg/m3/K at the 15 degC base; K1 = 0.34878 kg/m3/degF at the 60 degF base
(both bases give the same oil to 1e-5). Pressure is taken as atmospheric.
"""

import math
from dataclasses import dataclass

from benchstation.physics.errors import require

BASE_15C_K = 288.15
"""15 degC, the base of the density on an oil's certificate (ISO 3675, ISO 12185)."""
K1_15C = 0.6278
"""Lubricating-oil constant at the 15 degC base, kg/m3/K; K0 is zero."""

GENERAL_EXPANSION_U_REL = 0.025
"""Relative standard uncertainty of the generalised coefficient for one oil. From memory: the
standard states 0.35 % (95 %) of volume at 250 degF, 106 K above its base, which is 2.3 %."""

RHO15_LOW, RHO15_HIGH = 800.0, 1164.0
"""Density at base, kg/m3, for which the lubricating-oil group is tabulated (800.9 to 1163.5)."""
OIL_LOW_K, OIL_HIGH_K = 223.149, 423.151
"""-50 to 150 degC, the temperature range of the procedure."""


def expansion_per_k(rho15_kg_m3: float) -> float:
    """Return the coefficient ``a`` at 15 degC, 1/K, of an oil of this density at 15 degC."""
    require("oil density at 15 degC", rho15_kg_m3, RHO15_LOW, RHO15_HIGH, "kg/m3")
    return K1_15C / rho15_kg_m3


def volume_correction(alpha_per_k: float, delta_k: float) -> float:
    """Return rho(T)/rho(base), the volume correction factor, for ``delta_k`` above the base."""
    step = alpha_per_k * delta_k
    return math.exp(-step * (1.0 + 0.8 * step))


def density_kg_m3(rho15_kg_m3: float, temperature_k: float) -> float:
    """Return the density at ``temperature_k`` of an oil whose density at 15 degC is known.

    Valid for 800 to 1164 kg/m3 and -50 to 150 degC; raises RangeError outside.
    """
    require("oil temperature", temperature_k, OIL_LOW_K, OIL_HIGH_K, "K")
    alpha = expansion_per_k(rho15_kg_m3)
    return rho15_kg_m3 * volume_correction(alpha, temperature_k - BASE_15C_K)


def density_at_15_kg_m3(observed_kg_m3: float, temperature_k: float) -> float:
    """Return the density at 15 degC of an oil seen to have ``observed_kg_m3`` at ``temperature_k``.

    Inverse of :func:`density_kg_m3`, solved by Newton's method to 1e-9 kg/m3. The reading must be
    free of the hydrometer's own glass expansion (ISO 3675 hydrometers read true at 15 degC only).
    """
    require("oil temperature", temperature_k, OIL_LOW_K, OIL_HIGH_K, "K")
    require("observed oil density", observed_kg_m3, 650.0, 1250.0, "kg/m3")
    delta = temperature_k - BASE_15C_K
    rho15 = observed_kg_m3
    for _ in range(50):
        step = K1_15C * delta / rho15
        value = rho15 * math.exp(-step * (1.0 + 0.8 * step))
        slope = value / rho15 * (1.0 + step + 1.6 * step * step)
        change = (value - observed_kg_m3) / slope
        rho15 -= change
        if abs(change) < 1e-9:
            break
    return require("oil density at 15 degC", rho15, RHO15_LOW, RHO15_HIGH, "kg/m3")


@dataclass(frozen=True, slots=True)
class Oil:
    """One oil lot: its density at 15 degC and how the density changes with temperature.

    ``alpha_per_k`` is the lot's own coefficient at 15 degC (used in place of the generalised one);
    None takes the generalised coefficient. ``u_rel`` is the relative standard uncertainty of the
    density at 15 degC, ``u_alpha_per_k`` that of the coefficient (None: that of the generalised
    one), ``covariance_per_k`` the covariance of ln(rho15) with it: a density measured at 20 degC
    needs no coefficient there. Raises RangeError for values no such oil has.
    """

    rho15_kg_m3: float
    alpha_per_k: float | None = None
    u_rel: float = 0.0
    u_alpha_per_k: float | None = None
    covariance_per_k: float = 0.0

    def __post_init__(self) -> None:
        require("oil density at 15 degC", self.rho15_kg_m3, RHO15_LOW, RHO15_HIGH, "kg/m3")
        require("relative uncertainty of the oil density", self.u_rel, 0.0, 0.1, "1")
        if self.alpha_per_k is not None:
            require("expansion coefficient of the oil", self.alpha_per_k, 3e-4, 1.5e-3, "1/K")

    @property
    def alpha15_per_k(self) -> float:
        """Return the coefficient in force at 15 degC, 1/K: the lot's own or the general one."""
        if self.alpha_per_k is not None:
            return self.alpha_per_k
        return expansion_per_k(self.rho15_kg_m3)

    @property
    def u_alpha15_per_k(self) -> float:
        """Return the standard uncertainty of the coefficient in force, 1/K."""
        if self.u_alpha_per_k is not None:
            return self.u_alpha_per_k
        return GENERAL_EXPANSION_U_REL * self.alpha15_per_k

    def u_rel_at(self, temperature_k: float) -> float:
        """Return the relative standard uncertainty of the density at ``temperature_k``.

        By the law of propagation (JCGM 100:2008 5.2.2), with d = T - 15 degC:
        u**2 = u15**2 + g**2 u(a)**2 - 2 g u(ln rho15, a),  g = d (1 + 1.6 a d).
        """
        require("oil temperature", temperature_k, OIL_LOW_K, OIL_HIGH_K, "K")
        g = self.lever_k(temperature_k)
        by_alpha = (g * self.u_alpha15_per_k) ** 2
        return math.sqrt(max(self.u_rel**2 + by_alpha - 2.0 * g * self.covariance_per_k, 0.0))

    def lever_k(self, temperature_k: float) -> float:
        """Return g = d(a d (1 + 0.8 a d))/da: how the coefficient moves ln rho at a temperature."""
        delta = temperature_k - BASE_15C_K
        return delta * (1.0 + 1.6 * self.alpha15_per_k * delta)

    def density(self, temperature_k: float) -> float:
        """Return the density, kg/m3, at ``temperature_k`` (-50 to 150 degC)."""
        require("oil temperature", temperature_k, OIL_LOW_K, OIL_HIGH_K, "K")
        return self.rho15_kg_m3 * volume_correction(self.alpha15_per_k, temperature_k - BASE_15C_K)

    def mean_expansion_per_k(self, from_k: float, to_k: float) -> float:
        """Return ``a`` of V(to) = V(from) * (1 + a * (to - from)), exact between these two, 1/K.

        For from = to it is the local coefficient -(1/rho) drho/dT.
        """
        delta = to_k - from_k
        if abs(delta) < 1e-6:
            alpha = self.alpha15_per_k
            return alpha * (1.0 + 1.6 * alpha * (from_k - BASE_15C_K))
        return (self.density(from_k) / self.density(to_k) - 1.0) / delta
