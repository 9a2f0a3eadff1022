"""How a unit's body comes to the room's temperature, by lumped heat capacity.

``T(t) = T_room + (T_0 - T_room) exp(-t / tau)`` with ``tau = C / (h A)``: the body is much better a
conductor than the air around it (Biot number below 0.1; Bergman, Lavine, Incropera and DeWitt,
Fundamentals of Heat and Mass Transfer, chapter 5). ``h`` is natural convection at a horizontal
cylinder (Churchill and Chu, Int. J. Heat Mass Transfer 18 (1975) 1049) and radiation to the walls.
Viscosity and conductivity of air are those of ISO 2533.

What is not known of a body, such as its wall, paint and the draught, makes ``tau`` uncertain by
about a third. It is carried as the logarithm's standard deviation, so that no ``tau`` is negative.
"""

import math
from dataclasses import dataclass

from benchstation.physics.air import STANDARD_PRESSURE_PA
from benchstation.physics.errors import require, require_positive
from benchstation.physics.geometry import DamperGeometry

LOW_K, HIGH_K = 233.15, 423.15
"""Range of a body's and the room's temperature, K: the air's properties are good well beyond."""

_STEFAN_BOLTZMANN = 5.670374419e-8  # W/(m2 K4), CODATA 2018
_G0, _R_AIR, _CP_AIR = 9.80665, 287.05287, 1006.0

_WALL_M, _RELATIVE_U_WALL = 3e-3, 0.3
_METAL_J_M3K = 3.1e6  # between aluminium (2.4e6) and steel (3.7e6): Bergman et al., table A.1
_METAL_J_KGK, _OIL_J_KGK = 560.0, 1900.0  # steel 434 to 490, aluminium 880 to 900; A.1 and A.5
_RELATIVE_U_METAL = 0.15
_EMISSIVITY, _U_EMISSIVITY = 0.55, 0.23  # from bright metal, 0.1, to paint, 0.95: rectangular
_RELATIVE_U_CONVECTION = 0.3  # the correlation, draughts, how the unit lies
_USUAL_OFFSET_K = 5.0

_NODES = (-math.sqrt(3.0), 0.0, math.sqrt(3.0))
_WEIGHTS = (1.0 / 6.0, 2.0 / 3.0, 1.0 / 6.0)


@dataclass(frozen=True, slots=True)
class TimeConstant:
    """How slowly a body follows its room; ``u_rel`` is the standard uncertainty of ln(tau)."""

    tau_s: float
    u_rel: float

    @property
    def u_s(self) -> float:
        """Return its standard uncertainty in seconds, for a reader."""
        return self.tau_s * self.u_rel

    def left(self, seconds: float) -> tuple[float, float]:
        """Return mean and standard deviation of ``exp(-t / tau)`` over the uncertainty of tau."""
        require("time in the room", seconds, 0.0, math.inf, "s")
        parts = [math.exp(-seconds / (self.tau_s * math.exp(self.u_rel * n))) for n in _NODES]
        mean = 1.0 - sum(w * (1.0 - p) for w, p in zip(_WEIGHTS, parts, strict=True))
        variance = sum(w * (p - mean) ** 2 for w, p in zip(_WEIGHTS, parts, strict=True))
        return mean, math.sqrt(variance)


@dataclass(frozen=True, slots=True)
class Offset:
    """How far a body is from its room, with its standard uncertainty, K."""

    offset_k: float
    u_k: float


def nusselt_horizontal_cylinder(rayleigh: float, prandtl: float) -> float:
    """Return Nu of natural convection at a horizontal cylinder, Churchill and Chu 1975.

    ``Nu = (0.60 + 0.387 Ra^(1/6) / (1 + (0.559/Pr)^(9/16))^(8/27))^2``, Ra up to 1e12, both by the
    diameter.
    """
    require("Rayleigh number", rayleigh, 0.0, 1e12, "1")
    require("Prandtl number", prandtl, 0.1, 1e4, "1")
    spread = (1.0 + (0.559 / prandtl) ** (9.0 / 16.0)) ** (8.0 / 27.0)
    return float((0.60 + 0.387 * rayleigh ** (1.0 / 6.0) / spread) ** 2)


def air_viscosity_pa_s(temperature_k: float) -> float:
    """Return the dynamic viscosity of air, ISO 2533: ``1.458e-6 T^1.5 / (T + 110.4)``."""
    require("air temperature", temperature_k, LOW_K, HIGH_K, "K")
    return 1.458e-6 * math.pow(temperature_k, 1.5) / (temperature_k + 110.4)


def air_conductivity_w_mk(temperature_k: float) -> float:
    """Return the conductivity of air, ISO 2533: ``2.648151e-3 T^1.5 / (T + 245.4 10^(-12/T))``."""
    require("air temperature", temperature_k, LOW_K, HIGH_K, "K")
    below = temperature_k + 245.4 * math.pow(10.0, -12.0 / temperature_k)
    return 2.648151e-3 * math.pow(temperature_k, 1.5) / below


def convection_w_m2k(
    diameter_m: float,
    surface_k: float,
    air_k: float,
    pressure_pa: float = STANDARD_PRESSURE_PA,
) -> float:
    """Return the coefficient of natural convection at a horizontal cylinder, W/(m2 K)."""
    require_positive("diameter", diameter_m, "m")
    require("surface temperature", surface_k, LOW_K, HIGH_K, "K")
    film_k = 0.5 * (surface_k + air_k)
    viscosity, conductivity = air_viscosity_pa_s(film_k), air_conductivity_w_mk(film_k)
    density = pressure_pa / (_R_AIR * film_k)
    prandtl = viscosity * _CP_AIR / conductivity
    grashof = _G0 * abs(surface_k - air_k) / film_k * diameter_m**3 * (density / viscosity) ** 2
    return nusselt_horizontal_cylinder(grashof * prandtl, prandtl) * conductivity / diameter_m


def radiation_w_m2k(surface_k: float, room_k: float, emissivity: float) -> float:
    """Return the coefficient of radiation to the walls of a room, W/(m2 K).

    ``h = e s (T_s + T_r) (T_s^2 + T_r^2)``, a small body in a large room.
    """
    require("emissivity", emissivity, 0.0, 1.0, "1")
    both = (surface_k + room_k) * (surface_k**2 + room_k**2)
    return emissivity * _STEFAN_BOLTZMANN * both


def body_time_constant(
    geometry: DamperGeometry, *, oil_kg: float, metal_kg: float | None = None
) -> TimeConstant:
    """Return the time constant of a unit lying in a room, about 20 degC.

    Without ``metal_kg`` the metal is estimated from the geometry and a wall of 3 mm.
    """
    outer = geometry.bore_m + 2.0 * _WALL_M
    length = geometry.internal_length_m + geometry.guide_depth_m
    rod_m = length
    surface = math.pi * outer * length + 0.5 * math.pi * outer**2
    surface += math.pi * geometry.rod_diameter_m * geometry.stroke_m
    if metal_kg is None:
        tube = 0.25 * math.pi * (outer**2 - geometry.bore_m**2) * length
        inside = geometry.hardware_volume_m3 + geometry.rod_area_m2 * rod_m
        inside += geometry.bore_area_m2 * geometry.floating_piston_thickness_m
        metal = (tube + inside) * _METAL_J_M3K
        u_metal = math.hypot(_RELATIVE_U_METAL, _RELATIVE_U_WALL)
    else:
        metal = require_positive("mass of the metal", metal_kg, "kg") * _METAL_J_KGK
        u_metal = _RELATIVE_U_METAL
    require("mass of the oil", oil_kg, 0.0, 50.0, "kg")
    capacity = metal + oil_kg * _OIL_J_KGK
    room_k = 293.15
    convection = convection_w_m2k(outer, room_k + _USUAL_OFFSET_K, room_k)
    radiation = radiation_w_m2k(room_k, room_k, _EMISSIVITY)
    h = convection + radiation
    u_h = math.hypot(_RELATIVE_U_CONVECTION * convection, _U_EMISSIVITY / _EMISSIVITY * radiation)
    u_rel = math.hypot(u_metal * metal / capacity, u_h / h)
    return TimeConstant(capacity / (h * surface), u_rel)


def offset_after(offset_k: float, u_offset_k: float, seconds: float, body: TimeConstant) -> Offset:
    """Return what is left of an offset that was measured so long ago."""
    mean, spread = body.left(seconds)
    fading = math.hypot(mean, spread) * u_offset_k
    return Offset(offset_k * mean, math.hypot(fading, offset_k * spread))


def offset_of_stay(bound_k: float, seconds: float, body: TimeConstant) -> Offset:
    """Return the offset of a body of which it is known only how long it has been in the room.

    It came in at most ``bound_k`` warmer or colder, anywhere in between (rectangular).
    """
    require("bound of the offset", bound_k, 0.0, 200.0, "K")
    mean, spread = body.left(seconds)
    return Offset(0.0, bound_k / math.sqrt(3.0) * math.hypot(mean, spread))


def lag_u_k(drift_k_s: float, seconds: float, body: TimeConstant) -> float:
    """Return the standard uncertainty of a body's lag in a room that drifts by up to this rate.

    A body follows a steady drift ``r`` late by ``r tau (1 - exp(-t / tau))``; the rate is anywhere
    within its bound (rectangular).
    """
    require("drift of the room", drift_k_s, 0.0, 1.0, "K/s")
    mean, _ = body.left(seconds)
    return drift_k_s * body.tau_s * (1.0 - mean) / math.sqrt(3.0)
