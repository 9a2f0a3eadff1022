"""Values as text in one person's units."""

import math
from dataclasses import dataclass

from benchstation.units import Dimension, Shown, UnitSystem, shown, shown_amount


@dataclass(frozen=True, slots=True)
class Words:
    """Turns SI values into text; pressures here are gauge and say so where asked."""

    system: UnitSystem

    def mass(self, kg: float, decimals: int | None = None) -> str:
        """Give a mass."""
        return str(self.mass_shown(kg, decimals))

    def mass_shown(self, kg: float, decimals: int | None = None) -> Shown:
        """Give a mass as number and unit."""
        return shown(kg, Dimension.MASS, self.system, decimals=decimals)

    def amount(self, kg: float) -> str:
        """Give how much there is of something, which may be many times a fill."""
        return str(shown_amount(kg, self.system))

    def rough_mass(self, kg: float) -> str:
        """Give about what mass it is: to a gram, or to a tenth of an ounce."""
        return self.mass(kg, 0 if self.system is UnitSystem.METRIC else 1)

    def volume(self, m3: float) -> str:
        """Give a volume."""
        return str(shown(m3, Dimension.VOLUME, self.system))

    def length(self, m: float) -> str:
        """Give a length."""
        return str(shown(m, Dimension.LENGTH, self.system))

    def pressure(self, pa: float, decimals: int | None = None) -> str:
        """Give a pressure difference."""
        return str(self.pressure_shown(pa, decimals))

    def pressure_shown(self, pa: float, decimals: int | None = None) -> Shown:
        """Give a pressure as number and unit."""
        return shown(pa, Dimension.PRESSURE, self.system, decimals=decimals)

    def gauge(self, pa: float, decimals: int | None = None) -> str:
        """Give a gauge pressure and say that it is one."""
        return f"{self.pressure(pa, decimals)} gauge"

    def barometer(self, pa: float) -> str:
        """Give the ambient pressure, in the unit that weather reports use."""
        if self.system is UnitSystem.INCH_POUND:
            return f"{pa / 3386.389:.2f} inHg"
        return f"{pa / 100:.0f} hPa"

    def temperature(self, k: float) -> str:
        """Give a temperature."""
        return str(shown(k, Dimension.TEMPERATURE, self.system))

    def density(self, kg_m3: float) -> str:
        """Give a density."""
        return str(shown(kg_m3, Dimension.DENSITY, self.system))

    def force(self, n: float) -> str:
        """Give a force."""
        return str(shown(n, Dimension.FORCE, self.system))

    def leak(self, pa_m3_s: float) -> str:
        """Give a leak rate."""
        return str(shown(pa_m3_s, Dimension.LEAK, self.system))

    def flow(self, kg_s: float) -> str:
        """Give a mass flow."""
        return str(shown(kg_s, Dimension.FLOW, self.system))


METRIC = Words(UnitSystem.METRIC)


def seconds(value: float) -> str:
    """Give a waiting time in words."""
    if not math.isfinite(value):
        return "a while"
    return f"{value:.0f} s" if value < 120 else f"{value / 60:.0f} min"
