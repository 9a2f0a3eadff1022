"""Bottle arithmetic: how many fills a nitrogen bottle still gives at this charge.

Mass balance of real gas: a fill draws m = (V_gas + V_dead) (rho(p_target) - rho(p_ambient)), and
the bottle must still stand above the target, and above what the regulator needs on top, when the
fill ends. So k fills are possible while m_bottle - k m >= V_bottle rho(p_needed). The bottle comes
back to the bench's temperature between fills. Source: conservation of mass with the equations of
state of ``nitrogen`` and ``bottle_gas``.
"""

import math
from dataclasses import dataclass

from benchstation.physics import nitrogen
from benchstation.physics.air import STANDARD_PRESSURE_PA
from benchstation.physics.bottle_gas import HIGH_PA, bottle_density_kg_m3, bottle_pressure_pa
from benchstation.physics.errors import require, require_positive


@dataclass(frozen=True, slots=True)
class Bottle:
    """A bottle of nitrogen: its water capacity, what its gauge shows, its temperature."""

    volume_m3: float
    gauge_pa: float
    temperature_k: float = 293.15
    ambient_pa: float = STANDARD_PRESSURE_PA

    def __post_init__(self) -> None:
        require("volume of the bottle", self.volume_m3, 1e-5, 1.0, "m3")
        require("ambient pressure", self.ambient_pa, 50e3, 115e3, "Pa")
        require("bottle pressure (gauge)", self.gauge_pa, 0.0, HIGH_PA - self.ambient_pa, "Pa")

    @property
    def content_kg(self) -> float:
        """Return the nitrogen in the bottle."""
        pressure = self.gauge_pa + self.ambient_pa
        return self.volume_m3 * bottle_density_kg_m3(pressure, self.temperature_k)

    def gauge_with_pa(self, content_kg: float) -> float:
        """Return what its gauge shows with this much nitrogen in it."""
        density = content_kg / self.volume_m3
        return bottle_pressure_pa(density, self.temperature_k) - self.ambient_pa


def fill_kg(
    target_gauge_pa: float,
    gas_volume_m3: float,
    *,
    dead_volume_m3: float = 0.0,
    temperature_k: float = 293.15,
    ambient_pa: float = STANDARD_PRESSURE_PA,
) -> float:
    """Return nitrogen that one fill draws, unit and tool from ambient pressure to the target."""
    require_positive("gas volume", gas_volume_m3, "m3")
    require("dead volume of the fill tool", dead_volume_m3, 0.0, 1e-3, "m3")
    require_positive("target (gauge)", target_gauge_pa, "Pa")
    full = nitrogen.density_kg_m3(target_gauge_pa + ambient_pa, temperature_k)
    empty = nitrogen.density_kg_m3(ambient_pa, temperature_k)
    return (gas_volume_m3 + dead_volume_m3) * (full - empty)


@dataclass(frozen=True, slots=True)
class BottleForecast:
    """What a bottle still gives, gauge pressures.

    ``last_fill_from_pa`` is where the bottle stands before the last fill that still reaches the
    target, ``after_last_pa`` after it (both NaN when there is none). ``change_below_pa`` is the
    least from which one fill reaches the target: below it, change the bottle.
    """

    fills_left: int
    drawn_per_fill_kg: float
    drop_per_fill_pa: float
    last_fill_from_pa: float
    after_last_pa: float
    change_below_pa: float


def bottle_forecast(
    bottle: Bottle,
    target_gauge_pa: float,
    gas_volume_m3: float,
    *,
    dead_volume_m3: float = 0.0,
    regulator_drop_pa: float = 0.0,
) -> BottleForecast:
    """Return fills left at this target. Raises RangeError for a bottle or target out of range."""
    require("pressure that the regulator needs", regulator_drop_pa, 0.0, 100e5, "Pa")
    drawn = fill_kg(
        target_gauge_pa,
        gas_volume_m3,
        dead_volume_m3=dead_volume_m3,
        temperature_k=bottle.temperature_k,
        ambient_pa=bottle.ambient_pa,
    )
    needed = target_gauge_pa + regulator_drop_pa + bottle.ambient_pa
    kept = bottle.volume_m3 * bottle_density_kg_m3(needed, bottle.temperature_k)
    have = bottle.content_kg
    fills = max(0, math.floor((have - kept) / drawn + 1e-9))
    before = bottle.gauge_with_pa(have - (fills - 1) * drawn) if fills else math.nan
    after = bottle.gauge_with_pa(have - fills * drawn) if fills else math.nan
    lower = max(have - drawn, 0.0)
    return BottleForecast(
        fills_left=fills,
        drawn_per_fill_kg=drawn,
        drop_per_fill_pa=bottle.gauge_pa - bottle.gauge_with_pa(lower),
        last_fill_from_pa=before,
        after_last_pa=after,
        change_below_pa=bottle.gauge_with_pa(kept + drawn),
    )
