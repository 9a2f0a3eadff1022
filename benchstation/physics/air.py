"""Air density, air buoyancy in weighing, and the barometer from altitude.

Published sources: OIML R 111-1 annex E.3 (simple air density); Picard, Davis, Glaser and Fujii,
Metrologia 45 (2008) 149, "CIPM-2007"; OIML D 28 (conventional mass: 8000 kg/m3 in air of 1.2
kg/m3); NIST SOP 2 (the buoyancy factor); ISO 2533 / ICAO standard atmosphere.
"""

import math

from benchstation.physics.errors import require

CONVENTIONAL_DENSITY = 8000.0
"""Density of the weights a scale is adjusted with, kg/m3 (OIML D 28)."""
CONVENTIONAL_AIR = 1.2
"""Reference air density of conventional mass, kg/m3 (OIML D 28)."""
STANDARD_PRESSURE_PA = 101325.0
"""Pressure of the standard atmosphere at altitude zero, Pa (ISO 2533)."""

_T0_K, _LAPSE_K_M, _G0, _R_AIR = 288.15, 0.0065, 9.80665, 287.05287
_EXPONENT = _G0 / (_R_AIR * _LAPSE_K_M)
_ALTITUDE_LOW, _ALTITUDE_HIGH = -1000.0, 11000.0


def _require_air(temperature_k: float, pressure_pa: float, relative_humidity: float) -> None:
    require("air temperature", temperature_k, 253.0, 333.0, "K")
    require("air pressure", pressure_pa, 50e3, 110e3, "Pa")
    require("relative humidity", relative_humidity, 0.0, 1.0, "1")


def air_density_kg_m3(temperature_k: float, pressure_pa: float, relative_humidity: float) -> float:
    """Return the density of moist air by the simple form of OIML R 111-1 E.3.

    rho = (0.34848 p - 0.009 h exp(0.061 t)) / (273.15 + t), p in hPa, h in %, t in degC. OIML gives
    2e-4 relative for 10 to 30 degC, 900 to 1100 hPa and h below 80 %. Accepted here are -20
    to 60 degC, 500 to 1100 hPa and 0 <= relative_humidity <= 1: within 0.3 % of CIPM-2007 up to 40
    degC and above 800 hPa; 1.8 % at 50 and 6 % at 60 degC in wet, thin air, which moves a weighing
    of oil by 2e-5 and 8e-5 of it.
    Raises RangeError outside.
    """
    _require_air(temperature_k, pressure_pa, relative_humidity)
    celsius = temperature_k - 273.15
    vapour = 0.009 * relative_humidity * 100.0 * math.exp(0.061 * celsius)
    return (0.34848 * pressure_pa / 100.0 - vapour) / temperature_k


def cipm_2007(
    temperature_k: float,
    pressure_pa: float,
    relative_humidity: float,
    co2_mole_fraction: float = 0.0004,
) -> float:
    """Return the density of moist air, kg/m3, by the CIPM-2007 equation (Picard et al. 2008).

    Its authors give 600 to 1100 hPa and 15 to 27 degC; wider input is accepted as in
    :func:`air_density_kg_m3`. Raises RangeError outside.
    """
    _require_air(temperature_k, pressure_pa, relative_humidity)
    require("mole fraction of carbon dioxide", co2_mole_fraction, 0.0, 0.01, "1")
    celsius = temperature_k - 273.15
    water = relative_humidity * _enhancement(celsius, pressure_pa)
    water *= saturation_pressure_pa(temperature_k) / pressure_pa
    molar = 28.96546e-3 + 12.011e-3 * (co2_mole_fraction - 0.0004)
    lighter = 1.0 - 18.01528e-3 / molar
    z = _compressibility(temperature_k, pressure_pa, water)
    return pressure_pa * molar / (z * 8.314472 * temperature_k) * (1.0 - lighter * water)


def saturation_pressure_pa(temperature_k: float) -> float:
    """Return the saturation pressure of water vapour as CIPM-2007 takes it, Pa."""
    return math.exp(
        1.2378847e-5 * temperature_k**2
        - 1.9121316e-2 * temperature_k
        + 33.93711047
        - 6.3431645e3 / temperature_k
    )


def _enhancement(celsius: float, pressure_pa: float) -> float:
    return 1.00062 + 3.14e-8 * pressure_pa + 5.6e-7 * celsius**2


def _compressibility(temperature_k: float, pressure_pa: float, water: float) -> float:
    t = temperature_k - 273.15
    ratio = pressure_pa / temperature_k
    first = 1.58123e-6 - 2.9331e-8 * t + 1.1043e-10 * t * t
    first += (5.707e-6 - 2.051e-8 * t) * water + (1.9898e-4 - 2.376e-6 * t) * water**2
    return 1.0 - ratio * first + ratio**2 * (1.83e-11 - 0.765e-8 * water**2)


def buoyancy_factor(rho_oil_kg_m3: float, rho_air_kg_m3: float = CONVENTIONAL_AIR) -> float:
    """Return W/m: what a scale shows for each kilogram of true mass of this density.

    W/m = (1 - rho_air/rho_oil) / (1 - rho_air/8000) for a scale adjusted with conventional mass
    (OIML D 28, NIST SOP 2): about 0.9988 for oil. NIST SOP 2 tabulates its inverse.
    """
    require("density of what is weighed", rho_oil_kg_m3, 100.0, 25e3, "kg/m3")
    require("air density", rho_air_kg_m3, 0.0, 1.6, "kg/m3")
    return (1.0 - rho_air_kg_m3 / rho_oil_kg_m3) / (1.0 - rho_air_kg_m3 / CONVENTIONAL_DENSITY)


def indicated_mass_kg(
    true_mass_kg: float, rho_oil_kg_m3: float, rho_air_kg_m3: float = CONVENTIONAL_AIR
) -> float:
    """Return what the scale shows for a true mass (see :func:`buoyancy_factor`)."""
    return true_mass_kg * buoyancy_factor(rho_oil_kg_m3, rho_air_kg_m3)


def true_mass_kg(
    indicated_kg: float, rho_oil_kg_m3: float, rho_air_kg_m3: float = CONVENTIONAL_AIR
) -> float:
    """Return the true mass of what the scale shows (inverse of :func:`indicated_mass_kg`)."""
    return indicated_kg / buoyancy_factor(rho_oil_kg_m3, rho_air_kg_m3)


def pressure_at_altitude_pa(altitude_m: float) -> float:
    """Return the pressure of the standard atmosphere (ISO 2533) at a geopotential altitude.

    p = 101325 (1 - 0.0065 H / 288.15)**5.25588, H from -1000 to 11000 m; RangeError outside.
    Weather moves the true pressure by some 3 %: enter or read the barometer where it matters.
    """
    require("altitude", altitude_m, _ALTITUDE_LOW, _ALTITUDE_HIGH, "m")
    ratio = 1.0 - _LAPSE_K_M * altitude_m / _T0_K
    return STANDARD_PRESSURE_PA * math.pow(ratio, _EXPONENT)


def altitude_of_pressure_m(pressure_pa: float) -> float:
    """Return the geopotential altitude whose standard pressure this is (inverse, ISO 2533)."""
    require("air pressure", pressure_pa, 22.6e3, 114e3, "Pa")
    ratio = math.pow(pressure_pa / STANDARD_PRESSURE_PA, 1.0 / _EXPONENT)
    return _T0_K / _LAPSE_K_M * (1.0 - ratio)
