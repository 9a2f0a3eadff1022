"""The damper in one import: its inside, the gas in it, and the fill that keeps its limits."""

from benchstation.physics.charge_window import ChargeWindow, charge_window
from benchstation.physics.fill_window import FillWindow, fill_window
from benchstation.physics.gas_spring import (
    REFERENCE_K,
    ChargedDamper,
    ChargeTarget,
    charge_target_pa,
    charged_to_specification,
)
from benchstation.physics.geometry import DamperGeometry
from benchstation.physics.limits import DamperLimits, Limit, cavitation_force_n, limit_margins

__all__ = [
    "REFERENCE_K",
    "ChargeTarget",
    "ChargeWindow",
    "ChargedDamper",
    "DamperGeometry",
    "DamperLimits",
    "FillWindow",
    "Limit",
    "cavitation_force_n",
    "charge_target_pa",
    "charge_window",
    "charged_to_specification",
    "fill_window",
    "limit_margins",
]
