"""What the dead volume of the fill tool (hose, gauge, valve body) takes from a charge.

All is isothermal bookkeeping of mass, m = rho(p, T) V, on the real gas of ``nitrogen``. The unit's
gas volume counts as fixed: rod fully out, oil incompressible. Pressures are absolute.
"""

from benchstation.physics import nitrogen
from benchstation.physics.air import STANDARD_PRESSURE_PA
from benchstation.physics.errors import require, require_positive


def vented_kg(
    pressure_pa: float,
    dead_volume_m3: float,
    temperature_k: float,
    ambient_pa: float = STANDARD_PRESSURE_PA,
) -> float:
    """Return the gas that a tool at this pressure lets go when it is taken off."""
    _require_dead(dead_volume_m3)
    full = nitrogen.density_kg_m3(pressure_pa, temperature_k)
    return dead_volume_m3 * (full - nitrogen.density_kg_m3(ambient_pa, temperature_k))


def pressure_after_joining_pa(
    pressure_pa: float,
    gas_volume_m3: float,
    dead_volume_m3: float,
    temperature_k: float,
    tool_pa: float = STANDARD_PRESSURE_PA,
) -> float:
    """Return what a unit shows once its gas has spread into a tool that stood at ``tool_pa``.

    rho = (rho(p) V + rho(p_tool) V_dead) / (V + V_dead). So checking a charge costs pressure each
    time: some 3 mL on 90 mL take 3 % of it.
    """
    require_positive("gas volume", gas_volume_m3, "m3")
    _require_dead(dead_volume_m3)
    held = gas_volume_m3 * nitrogen.density_kg_m3(pressure_pa, temperature_k)
    held += dead_volume_m3 * nitrogen.density_kg_m3(tool_pa, temperature_k)
    return nitrogen.pressure_pa(held / (gas_volume_m3 + dead_volume_m3), temperature_k)


def pressure_before_joining_pa(
    shown_pa: float,
    gas_volume_m3: float,
    dead_volume_m3: float,
    temperature_k: float,
    tool_pa: float = STANDARD_PRESSURE_PA,
) -> float:
    """Return what was in the unit before a tool was put on and showed this (the inverse)."""
    require_positive("gas volume", gas_volume_m3, "m3")
    _require_dead(dead_volume_m3)
    held = nitrogen.density_kg_m3(shown_pa, temperature_k) * (gas_volume_m3 + dead_volume_m3)
    held -= dead_volume_m3 * nitrogen.density_kg_m3(tool_pa, temperature_k)
    return nitrogen.pressure_pa(held / gas_volume_m3, temperature_k)


def _require_dead(dead_volume_m3: float) -> None:
    require("dead volume of the fill tool", dead_volume_m3, 0.0, 1e-3, "m3")
