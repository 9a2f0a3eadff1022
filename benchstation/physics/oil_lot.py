"""A lot of oil by the route on which its density is known, and how sure the density is then.

Routes: a certificate at 15 degC, a hydrometer reading at a known temperature, a certificate with
the lot's own expansion, or two measured densities. All end in one :class:`~.oil.Oil` and the
covariance of ln(rho15) and the expansion coefficient a, by the law of propagation (GUM, JCGM
100:2008, 5.1 and 5.2). With d = T - 15 degC,

    ln rho(T) = ln rho15 - a d (1 + 0.8 a d)                       (ASTM D1250-04, ISO 91)
    u(ln rho)**2 = u(ln rho15)**2 + g**2 u(a)**2 - 2 g u(ln rho15, a),   g = d (1 + 1.6 a d)

so the covariance takes care of what cancels: a hydrometer's own temperature needs no coefficient.
"""

import math
from dataclasses import dataclass
from enum import Enum

from benchstation.physics.errors import require
from benchstation.physics.oil import (
    BASE_15C_K,
    GENERAL_EXPANSION_U_REL,
    OIL_HIGH_K,
    OIL_LOW_K,
    Oil,
    density_at_15_kg_m3,
)


class DensityRoute(Enum):
    """How a lot's density is known, in words."""

    CERTIFICATE = "certificate at 15 °C, generalised expansion"
    HYDROMETER = "reading at a known temperature, generalised expansion"
    OWN_EXPANSION = "certificate at 15 °C, the lot's own expansion"
    TWO_DENSITIES = "two measured densities"


@dataclass(frozen=True, slots=True)
class OilLot:
    """An oil whose uncertainties are those of the route on which its density is known."""

    oil: Oil
    route: DensityRoute

    def density(self, temperature_k: float) -> float:
        """Return the density, kg/m3, at ``temperature_k`` (-50 to 150 degC)."""
        return self.oil.density(temperature_k)

    def u_rel(self, temperature_k: float) -> float:
        """Return the relative standard uncertainty of the density at ``temperature_k``."""
        return self.oil.u_rel_at(temperature_k)

    def u_density_kg_m3(self, temperature_k: float) -> float:
        """Return the standard uncertainty of the density at ``temperature_k``, kg/m3."""
        return self.u_rel(temperature_k) * self.density(temperature_k)


def _reading_variance(
    oil: Oil, temperature_k: float, u_density_kg_m3: float, u_temperature_k: float
) -> float:
    """Return the variance of ln rho of one reading: of the instrument, and of its temperature."""
    delta = temperature_k - BASE_15C_K
    slope = oil.alpha15_per_k * (1.0 + 1.6 * oil.alpha15_per_k * delta)
    by_instrument = u_density_kg_m3 / oil.density(temperature_k)
    return by_instrument**2 + (slope * u_temperature_k) ** 2


def _require_u(u_density_kg_m3: float, u_temperature_k: float = 0.0) -> None:
    require("uncertainty of the density", u_density_kg_m3, 0.0, 50.0, "kg/m3")
    require("uncertainty of the temperature", u_temperature_k, 0.0, 10.0, "K")


def certificate_lot(
    rho15_kg_m3: float,
    u_rho15_kg_m3: float,
    *,
    u_expansion_rel: float = GENERAL_EXPANSION_U_REL,
) -> OilLot:
    """Return the lot of a certificate at 15 degC (ISO 3675, ISO 12185), generalised expansion."""
    _require_u(u_rho15_kg_m3)
    u_alpha = Oil(rho15_kg_m3).alpha15_per_k * u_expansion_rel
    oil = Oil(rho15_kg_m3, None, u_rho15_kg_m3 / rho15_kg_m3, u_alpha)
    return OilLot(oil, DensityRoute.CERTIFICATE)


def hydrometer_lot(
    observed_kg_m3: float,
    temperature_k: float,
    u_observed_kg_m3: float,
    u_temperature_k: float,
    *,
    u_expansion_rel: float = GENERAL_EXPANSION_U_REL,
) -> OilLot:
    """Return the lot of one reading at a temperature, brought to 15 degC by the standard."""
    _require_u(u_observed_kg_m3, u_temperature_k)
    plain = Oil(density_at_15_kg_m3(observed_kg_m3, temperature_k))
    reading = _reading_variance(plain, temperature_k, u_observed_kg_m3, u_temperature_k)
    g, u_alpha = plain.lever_k(temperature_k), plain.alpha15_per_k * u_expansion_rel
    u_rel = math.hypot(math.sqrt(reading), g * u_alpha)
    oil = Oil(plain.rho15_kg_m3, None, u_rel, u_alpha, g * u_alpha**2)
    return OilLot(oil, DensityRoute.HYDROMETER)


def own_expansion_lot(
    rho15_kg_m3: float, u_rho15_kg_m3: float, alpha_per_k: float, u_alpha_per_k: float
) -> OilLot:
    """Return the lot of a certificate that states the lot's own coefficient at 15 degC."""
    _require_u(u_rho15_kg_m3)
    require("uncertainty of the expansion coefficient", u_alpha_per_k, 0.0, alpha_per_k, "1/K")
    oil = Oil(rho15_kg_m3, alpha_per_k, u_rho15_kg_m3 / rho15_kg_m3, u_alpha_per_k)
    return OilLot(oil, DensityRoute.OWN_EXPANSION)


def two_density_lot(
    first_kg_m3: float,
    first_k: float,
    second_kg_m3: float,
    second_k: float,
    *,
    u_density_kg_m3: float = 0.0,
    u_temperature_k: float = 0.0,
) -> OilLot:
    """Return the lot of two measured densities: density at 15 degC and own expansion from both.

    From both points, with q = ln(rho1/rho2)/(d2 - d1): a (1 + 0.8 a (d1 + d2)) = q, so
    a = 2 q / (1 + sqrt(1 + 3.2 q (d1 + d2))). The temperatures must be 5 K apart or more; 20 K
    and more make a good coefficient. Errors of the two readings count as independent.
    """
    _require_u(u_density_kg_m3, u_temperature_k)
    for temperature in (first_k, second_k):
        require("oil temperature", temperature, OIL_LOW_K, OIL_HIGH_K, "K")
    require("distance of the two temperatures", abs(second_k - first_k), 5.0, 200.0, "K")
    for density in (first_kg_m3, second_kg_m3):
        require("measured oil density", density, 650.0, 1250.0, "kg/m3")
    d1, d2 = first_k - BASE_15C_K, second_k - BASE_15C_K
    q = math.log(first_kg_m3 / second_kg_m3) / (d2 - d1)
    require("expansion coefficient from the two densities", q, 3e-4, 1.5e-3, "1/K")
    alpha = 2.0 * q / (1.0 + math.sqrt(1.0 + 3.2 * q * (d1 + d2)))
    rho15 = first_kg_m3 * math.exp(alpha * d1 * (1.0 + 0.8 * alpha * d1))
    plain = Oil(rho15, alpha)
    v1 = _reading_variance(plain, first_k, u_density_kg_m3, u_temperature_k)
    v2 = _reading_variance(plain, second_k, u_density_kg_m3, u_temperature_k)
    g1, g2 = plain.lever_k(first_k), plain.lever_k(second_k)
    square = (g2 - g1) ** 2
    variance15 = (g2 * g2 * v1 + g1 * g1 * v2) / square
    u_alpha, covariance = math.sqrt((v1 + v2) / square), (g2 * v1 + g1 * v2) / square
    oil = Oil(rho15, alpha, math.sqrt(variance15), u_alpha, covariance)
    return OilLot(oil, DensityRoute.TWO_DENSITIES)
