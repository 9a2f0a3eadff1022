"""What a sealed unit lost between two days, by its mass or by its pressure.

By mass: what a scale shows is ``W (1 - rho_a / 8000) = m - V rho_a`` (OIML D 28), so the air of
both days counts: 20 hPa on a unit of a litre are 24 mg, a hundredth of a charge. By pressure: every
reading is brought to the temperature of the first, and what the fill tool took is added again.
"""

from dataclasses import dataclass

from benchstation.physics import nitrogen
from benchstation.physics.errors import require_positive
from benchstation.physics.geometry import DamperGeometry
from benchstation.physics.leak import at_temperature_pa

WEIGHTS_KG_M3 = 8000.0
"""Density that a scale's calibration weights count as (OIML D 28)."""
_LIGHTEST_KG_M3, _HEAVIEST_KG_M3 = 2700.0, 7850.0
"""Aluminium and steel: a unit's metal is anything between."""


@dataclass(frozen=True, slots=True)
class Volume:
    """A volume with its standard uncertainty, m3."""

    m3: float
    u_m3: float


def outer_volume(geometry: DamperGeometry, metal_kg: float) -> Volume:
    """Return how much air a unit displaces: its bore, and its metal as aluminium to steel."""
    low, high = 1.0 / _HEAVIEST_KG_M3, 1.0 / _LIGHTEST_KG_M3
    metal = max(metal_kg, 0.0)
    return Volume(
        geometry.tube_volume_m3 + 0.5 * (low + high) * metal,
        0.5 * (high - low) / 3**0.5 * metal,
    )


def mass_in_vacuum_kg(shown_kg: float, air_kg_m3: float, volume_m3: float) -> float:
    """Return the mass of what a scale shows in this air."""
    return shown_kg * (1.0 - air_kg_m3 / WEIGHTS_KG_M3) + volume_m3 * air_kg_m3


def rate_of_mass_pa_m3_s(
    loss_kg: float, seconds: float, pressure_pa: float, temperature_k: float
) -> float:
    """Return the leak rate of a loss of nitrogen: q = m / t * p / rho, at the unit's pressure."""
    require_positive("time between both readings", seconds, "s")
    density = nitrogen.density_kg_m3(pressure_pa, temperature_k)
    return loss_kg / seconds * pressure_pa / density


def lost_pressure_pa(
    first_pa: float, first_k: float, second_pa: float, second_k: float, shrink_per_k: float
) -> float:
    """Return what was lost at the first temperature; see :func:`at_temperature_pa`."""
    return first_pa - at_temperature_pa(second_pa, second_k, first_k, shrink_per_k=shrink_per_k)
