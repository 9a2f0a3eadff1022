"""What a graduated cylinder or jug reads now, and what eyeing a fill by it would cost.

A cylinder holds its marked volume at 20 degC (ISO 4787). At another temperature the glass has
grown too: V(T) = V_read (1 + gamma (T - 20 degC)); for borosilicate glass 3.3 gamma is three times
its linear 3.3e-6 1/K (ISO 3585).
"""

from benchstation.physics.errors import require, require_positive
from benchstation.physics.oil import Oil

CALIBRATED_K = 293.15
"""20 degC, the temperature at which volumetric glassware is true (ISO 4787)."""
BOROSILICATE_PER_K = 9.9e-6
"""Cubic expansion of borosilicate glass 3.3, 1/K (ISO 3585)."""


def cylinder_reading_m3(
    mass_kg: float,
    density_kg_m3: float,
    temperature_k: float,
    *,
    expansion_per_k: float = BOROSILICATE_PER_K,
) -> float:
    """Return the reading for a mass of oil: m / rho(T) / (1 + gamma (T - 20 degC)).

    ``density_kg_m3`` is the oil's at ``temperature_k``, 230 to 420 K. Raises RangeError.
    """
    require("mass in the cylinder", mass_kg, 0.0, 100.0, "kg")
    require_positive("oil density", density_kg_m3, "kg/m3")
    return mass_kg / density_kg_m3 / _growth(temperature_k, expansion_per_k)


def mass_of_reading_kg(
    reading_m3: float,
    density_kg_m3: float,
    temperature_k: float,
    *,
    expansion_per_k: float = BOROSILICATE_PER_K,
) -> float:
    """Return the mass that a reading stands for (inverse of :func:`cylinder_reading_m3`)."""
    require("reading of the cylinder", reading_m3, 0.0, 0.1, "m3")
    require_positive("oil density", density_kg_m3, "kg/m3")
    return reading_m3 * density_kg_m3 * _growth(temperature_k, expansion_per_k)


def as_poured_difference_kg(
    volume_m3: float, oil: Oil, reference_k: float, temperature_k: float
) -> float:
    """Return the mass missing (negative) when a volume at ``reference_k`` is poured by eye now.

    V (rho(T) - rho(T_ref)): 20 K cost 1.5 % of the fill.
    """
    require("volume of oil", volume_m3, 0.0, 0.1, "m3")
    return volume_m3 * (oil.density(temperature_k) - oil.density(reference_k))


def _growth(temperature_k: float, expansion_per_k: float) -> float:
    require("temperature of the cylinder", temperature_k, 230.0, 420.0, "K")
    require("cubic expansion of the cylinder", expansion_per_k, 0.0, 1e-3, "1/K")
    return 1.0 + expansion_per_k * (temperature_k - CALIBRATED_K)
