"""The air at the bench as everything that is computed with it sees it."""

from dataclasses import dataclass

from benchstation.physics.air import air_density_kg_m3

LOWEST_K, HIGHEST_K = 253.0, 333.0
LOWEST_PA, HIGHEST_PA = 50e3, 110e3
"""What air at a bench can be; outside, a reading or a figure is refused."""


@dataclass(frozen=True, slots=True)
class Surroundings:
    """Air at the bench: temperature in K, absolute pressure in Pa, relative humidity 0..1.

    Each with its standard uncertainty: that of its source, grown by its age.
    """

    temperature_k: float
    pressure_pa: float
    humidity: float = 0.5
    u_temperature_k: float = 0.5
    u_pressure_pa: float = 150.0
    u_humidity: float = 0.15

    def air_density_kg_m3(self) -> float:
        """Return the density of the air, OIML R 111-1 E.3 simple form."""
        return air_density_kg_m3(self.temperature_k, self.pressure_pa, self.humidity)

    def u_density_rel(self) -> float:
        """Return the relative standard uncertainty of the air's density.

        The sensitivities are those of OIML R 111-1 E.3 at room temperature: about -1/T, 1/p and
        0.9 % for the whole range of humidity.
        """
        parts = (
            self.u_temperature_k / self.temperature_k,
            self.u_pressure_pa / self.pressure_pa,
            0.009 * self.u_humidity,
        )
        return float(sum(part**2 for part in parts) ** 0.5)
