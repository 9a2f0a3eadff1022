"""How large the faults are and when they come, and what instruments they meet."""

from dataclasses import dataclass

from benchstation.demo.world import World


@dataclass(frozen=True, slots=True)
class FaultSizes:
    """The size and the moment of each fault, SI; of the instruments what they show."""

    too_much_kg: float = 0.006
    too_little_kg: float = 0.015
    scale_pulled_at: float = 0.6
    """Share of the pour at which the scale's plug is pulled."""
    false_empty_kg: float = 0.04
    """What is in the unit when the tare is lost."""
    scale_gain: float = 1.02
    gauge_pulled_at: float = 0.4
    """Share of the charge at which the gauge's plug is pulled."""
    limit_share: float = 1.06
    """Where the regulator stands, of the limit."""
    zero_pa: float = -0.6e5
    hangs_below_pa: float = 6e3
    """How near to its target the gauge hangs."""
    hung_share: float = 1.7
    """What is let in beside the gauge that hangs, of the target."""
    hot_k: float = 12.0
    room_k_s: float = -2.0 / 3600.0
    away_s: float = 7200.0
    leak_pa_m3_s: float = 8e-3
    slow_leak_pa_m3_s: float = 3e-4
    slow_share: float = 0.2
    slow_s: float = 30.0
    scale_noise_kg: float = 1.5e-5
    gauge_decimals: int = 3

    def fit(self, world: World) -> None:
        """Put these instruments on the bench."""
        world.scale.noise_kg = self.scale_noise_kg
        world.gauge.decimals = self.gauge_decimals


AS_LISTED = FaultSizes()
