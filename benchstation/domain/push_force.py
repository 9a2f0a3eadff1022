"""The push force that a unit should have: of its own fill and charge, here and now."""

from benchstation.domain.inputs.given import PushForce
from benchstation.domain.rebuild import Rebuild
from benchstation.domain.specification import StepKind
from benchstation.domain.surroundings import Surroundings
from benchstation.physics import nitrogen
from benchstation.physics.damper import ChargedDamper
from benchstation.physics.oil import Oil


def push_force(rebuild: Rebuild, oil: Oil, around: Surroundings) -> PushForce | None:
    """Return ``F = (p_gas - p_ambient) * A_rod``, rod out, for this fill and charge, here and now.

    The gas is what the settled charge put in at the unit's temperature then; ``around`` has that
    of now. ``None`` before a charge.
    """
    judged, charge = rebuild.oil_judged(StepKind.BLEED), rebuild.charge
    if judged is None or charge is None:
        return None
    density = nitrogen.density_kg_m3(charge.settled_gauge_pa + charge.ambient_pa, charge.bench_k)
    reference = rebuild.specification.oil.reference_temperature
    geometry = rebuild.specification.geometry.model()
    unit = ChargedDamper(
        geometry,
        judged.net_volume_ref_m3,
        density * charge.gas_volume_m3,
        oil.mean_expansion_per_k(reference, around.temperature_k),
        reference,
        oil,
    )
    gas_pa = unit.pressure_pa(around.temperature_k)
    force = geometry.push_force_n(gas_pa, around.pressure_pa)
    return PushForce(force, gas_pa, around.pressure_pa, around.temperature_k, geometry.rod_area_m2)
