"""Values as text in one person's units."""

import math
from dataclasses import dataclass

from benchstation.quantities.units import (
    NO_VALUE,
    Dimension,
    Shown,
    UnitSystem,
    display_unit,
    shown,
    shown_amount,
    to_display,
)


@dataclass(frozen=True, slots=True)
class QuantityFormatter:
    """Turns SI values into text; pressures here are gauge and say so where asked."""

    system: UnitSystem

    def mass(self, kg: float, decimals: int | None = None) -> str:
        """Return a mass."""
        return str(self.mass_shown(kg, decimals))

    def mass_shown(self, kg: float, decimals: int | None = None) -> Shown:
        """Return a mass as number and unit."""
        return shown(kg, Dimension.MASS, self.system, decimals=decimals)

    def amount(self, kg: float) -> str:
        """Return how much there is of something, which may be many times a fill."""
        return str(shown_amount(kg, self.system))

    def rough_mass(self, kg: float) -> str:
        """Return about what mass it is: to a gram, or to a tenth of an ounce."""
        return self.mass(kg, 0 if self.system is UnitSystem.METRIC else 1)

    def volume(self, m3: float) -> str:
        """Return a volume."""
        return str(shown(m3, Dimension.VOLUME, self.system))

    def length(self, m: float) -> str:
        """Return a length."""
        return str(shown(m, Dimension.LENGTH, self.system))

    def pressure(self, pa: float, decimals: int | None = None) -> str:
        """Return a pressure difference."""
        return str(self.pressure_shown(pa, decimals))

    def pressure_shown(self, pa: float, decimals: int | None = None) -> Shown:
        """Return a pressure as number and unit."""
        return shown(pa, Dimension.PRESSURE, self.system, decimals=decimals)

    def gauge(self, pa: float, decimals: int | None = None) -> str:
        """Return a gauge pressure and say that it is one."""
        return f"{self.pressure(pa, decimals)} gauge"

    def barometer(self, pa: float) -> str:
        """Return the ambient pressure, in the unit that weather reports use."""
        return str(self.barometer_shown(pa))

    def barometer_shown(self, pa: float) -> Shown:
        """Return the ambient pressure as number and unit."""
        inch_pound = self.system is UnitSystem.INCH_POUND
        factor, unit, decimals = (3386.389, "inHg", 2) if inch_pound else (100.0, "hPa", 0)
        value = pa / factor
        return Shown(f"{value:.{decimals}f}" if math.isfinite(value) else NO_VALUE, unit, value)

    def temperature(self, k: float) -> str:
        """Return a temperature."""
        return str(self.temperature_shown(k))

    def temperature_shown(self, k: float) -> Shown:
        """Return a temperature as number and unit."""
        return shown(k, Dimension.TEMPERATURE, self.system)

    def density(self, kg_m3: float) -> str:
        """Return a density."""
        return str(shown(kg_m3, Dimension.DENSITY, self.system))

    def force(self, n: float) -> str:
        """Return a force."""
        return str(shown(n, Dimension.FORCE, self.system))

    def leak(self, pa_m3_s: float, expanded_pa_m3_s: float = 0.0) -> str:
        """Return leak rate, with its expanded uncertainty if there is one; see :func:`powered`."""
        unit = display_unit(Dimension.LEAK, self.system)
        value, expanded = (
            to_display(v, Dimension.LEAK, self.system) for v in (pa_m3_s, expanded_pa_m3_s)
        )
        return f"{powered(value, expanded)} {unit}"

    def flow(self, kg_s: float) -> str:
        """Return a mass flow."""
        return str(shown(kg_s, Dimension.FLOW, self.system))


METRIC = QuantityFormatter(UnitSystem.METRIC)


def seconds(value: float) -> str:
    """Return a waiting time in words."""
    if not math.isfinite(value):
        return "a while"
    return f"{value:.0f} s" if value < 120 else f"{value / 60:.0f} min"


def powered(value: float, expanded: float = 0.0) -> str:
    """Return a number of any size in powers of a thousand, as (-0.02 ± 0.30) × 10^-3.

    The uncertainty has two significant digits and the value ends at its last place (JCGM 100:2008,
    7.2.6). Without one, which 0 says, the value has three significant digits.
    """
    if not (math.isfinite(value) and math.isfinite(expanded)):
        return NO_VALUE
    digits = (_exponent(value, 3), _exponent(expanded, 2))
    largest = max((d for d in digits if d is not None), default=0)
    power = 3 * (largest // 3)
    place = digits[1] - 1 if digits[1] is not None else (digits[0] or 0) - 2
    if power < place:
        # "300" does not say which of its digits count; "0.30" does.
        power += 3
    decimals = power - place

    def scaled(number: float) -> str:
        # "z" keeps a value that rounds to nothing from showing as -0.0.
        return f"{number / 10.0**power:z.{decimals}f}"

    times = f" × 10^{power}" if power else ""
    if not expanded:
        return f"{scaled(value)}{times}"
    return f"({scaled(value)} ± {scaled(expanded)}){times}"


def _exponent(value: float, digits: int) -> int | None:
    """Return the power of ten of the first digit, once rounded; ``None`` for nothing."""
    return int(f"{value:.{digits - 1}e}".partition("e")[2]) if value else None
