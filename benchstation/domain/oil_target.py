"""The oil target: every term from the specified volume to the scale's display."""

from dataclasses import dataclass


@dataclass(frozen=True, slots=True)
class OilTarget:
    """Every term from the specified volume to the scale's display.

    ``mass_kg`` is true mass of the net fill; ``net_shown_kg`` is what a scale adjusted with
    conventional-mass weights shows for it; ``pour_shown_kg`` adds the bleed allowance.
    """

    volume_m3: float
    allowance_m3: float
    basis: str
    basis_k: float
    rho15_kg_m3: float
    rho_kg_m3: float
    rho_bench_kg_m3: float
    mass_kg: float
    buoyancy: float
    net_shown_kg: float
    pour_shown_kg: float
    tolerance_kg: float
    jug_volume_m3: float
    """What a measuring jug would read at the bench's temperature."""
    as_poured_difference_kg: float
    """What would be missing if the bench's temperature were (wrongly) used."""

    def net_volume_ref_m3(self, net_shown_kg: float) -> float:
        """Return the volume at the basis temperature of a net mass shown by the scale."""
        return net_shown_kg / self.buoyancy / self.rho_kg_m3

    def shown_kg(self, volume_ref_m3: float) -> float:
        """Return what the scale shows for a volume at the basis temperature."""
        return volume_ref_m3 * self.rho_kg_m3 * self.buoyancy
