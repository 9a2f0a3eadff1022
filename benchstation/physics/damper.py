"""The damper in one import: its inside, the gas in it, and the fill that keeps its limits."""

from benchstation.physics.fill_window import (
    DamperLimits,
    FillWindow,
    Limit,
    cavitation_force_n,
    fill_window,
    limit_margins,
)
from benchstation.physics.gas_spring import (
    REFERENCE_K,
    ChargedDamper,
    ChargeTarget,
    charge_target_pa,
    charged_to_specification,
)
from benchstation.physics.geometry import DamperGeometry

__all__ = [
    "REFERENCE_K",
    "ChargeTarget",
    "ChargedDamper",
    "DamperGeometry",
    "DamperLimits",
    "FillWindow",
    "Limit",
    "cavitation_force_n",
    "charge_target_pa",
    "charged_to_specification",
    "fill_window",
    "limit_margins",
]
