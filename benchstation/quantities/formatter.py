"""Values as text in one person's units."""

import math
import re
from dataclasses import dataclass, replace
from datetime import UTC, date, datetime, timedelta

from benchstation.quantities.notation import first_power, powered
from benchstation.quantities.units import (
    Dimension,
    Shown,
    UnitSystem,
    display_unit,
    little,
    shown,
    shown_amount,
    shown_barometer,
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

    def mass_difference(self, kg: float, decimals: int | None = None) -> Shown:
        """Return a mass difference with its sign."""
        return signed(self.mass_shown(kg, decimals))

    def judged_mass(self, kg: float, expanded_kg: float, k: float) -> str:
        """Return a mass with its expanded uncertainty beside it."""
        return self._judged(kg, expanded_kg, k, Dimension.MASS)

    def amount(self, kg: float) -> str:
        """Return how much there is of something, which may be many times a fill."""
        return str(shown_amount(kg, self.system))

    def rough_mass(self, kg: float) -> str:
        """Return about what mass it is: to a gram, or to a tenth of an ounce."""
        return self.mass(kg, 0 if self.system is UnitSystem.METRIC else 1)

    def volume(self, m3: float) -> str:
        """Return a volume."""
        return str(shown(m3, Dimension.VOLUME, self.system))

    @property
    def little_oil(self) -> tuple[float, str]:
        """Return a little oil to tell its consequence by, m3, and in words."""
        return little(Dimension.VOLUME, self.system)

    def little_of(self, m3: float) -> str:
        """Return a round volume: to a mL, or to a tenth of a fluid ounce."""
        decimals = 1 if self.system is UnitSystem.INCH_POUND else 0
        return str(shown(m3, Dimension.VOLUME, self.system, decimals=decimals))

    @property
    def oil_base(self) -> str:
        """Return the temperature that densities of oil are stated at: 15 degC is 59 degF."""
        return "59 °F" if self.system is UnitSystem.INCH_POUND else "15 °C"

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

    def judged_gauge(self, pa: float, expanded_pa: float, k: float) -> str:
        """Return a gauge pressure with its expanded uncertainty beside it."""
        return f"{self._judged(pa, expanded_pa, k, Dimension.PRESSURE)} gauge"

    def barometer(self, pa: float) -> str:
        """Return the ambient pressure, in the unit that weather reports use."""
        return str(self.barometer_shown(pa))

    def barometer_shown(self, pa: float, decimals: int | None = None) -> Shown:
        """Return the ambient pressure as number and unit."""
        return shown_barometer(pa, self.system, decimals=decimals)

    def temperature(self, k: float) -> str:
        """Return a temperature."""
        return str(self.temperature_shown(k))

    def temperature_shown(self, k: float, decimals: int | None = None) -> Shown:
        """Return a temperature as number and unit."""
        return shown(k, Dimension.TEMPERATURE, self.system, decimals=decimals)

    def temperature_difference(self, k: float, decimals: int | None = None) -> str:
        """Return a difference of temperatures, or how far one may be off."""
        return str(shown(k, Dimension.TEMPERATURE_DIFFERENCE, self.system, decimals=decimals))

    def humidity_shown(self, share: float, decimals: int | None = None) -> Shown:
        """Return a relative humidity as number and unit."""
        number = shown(share, Dimension.HUMIDITY, self.system, decimals=decimals)
        return replace(number, unit="% RH")

    def density(self, kg_m3: float) -> str:
        """Return a density."""
        return str(shown(kg_m3, Dimension.DENSITY, self.system))

    def force(self, n: float) -> str:
        """Return a force."""
        return str(shown(n, Dimension.FORCE, self.system))

    def expansion(self, per_k: float) -> str:
        """Return an expansion coefficient."""
        return f"{powered(per_k)} 1/K"

    def leak(self, pa_m3_s: float, expanded_pa_m3_s: float = 0.0) -> str:
        """Return leak rate, with its expanded uncertainty if there is one; see :func:`powered`."""
        unit = display_unit(Dimension.LEAK, self.system)
        value, expanded = (
            to_display(v, Dimension.LEAK, self.system) for v in (pa_m3_s, expanded_pa_m3_s)
        )
        return f"{powered(value, expanded)} {unit}"

    def loss_rate(self, pa_s: float, like_pa_s: float | None = None) -> str:
        """Return how fast pressure is lost: by the year, the day or the hour, as people see it.

        ``like_pa_s`` is a rate that it is compared with: it is then told by the same time.
        """
        size = abs(pa_s if like_pa_s is None else like_pa_s)
        for words, length_s in (("a year", 31_536_000.0), ("a day", 86_400.0)):
            if size * length_s < 5e5:
                return f"{self.pressure(pa_s * length_s, 2)} {words}"
        return f"{self.pressure(pa_s * 3600.0, 2)} an hour"

    def flow(self, kg_s: float) -> str:
        """Return a mass flow."""
        return str(shown(kg_s, Dimension.FLOW, self.system))

    def uncertainty(self, value: float, dimension: Dimension) -> str:
        """Return a standard uncertainty or a scatter, to two significant digits."""
        return str(shown(value, dimension, self.system, decimals=self._decimals(value, dimension)))

    def _judged(self, value: float, expanded: float, k: float, dimension: Dimension) -> str:
        decimals = self._decimals(expanded, dimension)
        number = shown(value, dimension, self.system, decimals=decimals)
        u = shown(expanded, dimension, self.system, decimals=decimals)
        return f"({number.number} ± {u.number}) {number.unit} (U, k = {k:.2f})"

    def _decimals(self, expanded: float, dimension: Dimension) -> int | None:
        """Return the decimals that leave U two significant digits, and the value no more."""
        place = first_power(to_display(expanded, dimension, self.system), 2)
        return None if place is None else max(0, 1 - place)


CLOCK_ALONE = timedelta(hours=20)
"""So long ago a time of day names one moment, also where a day has 23 hours."""
METRIC = QuantityFormatter(UnitSystem.METRIC)


def seconds(value: float) -> str:
    """Return a waiting time in words."""
    if not math.isfinite(value):
        return "a while"
    return f"{value:.0f} s" if value < 120 else f"{value / 60:.0f} min"


def span(seconds_: float) -> str:
    """Return a longer time in words: minutes, hours, days or years."""
    if seconds_ < 2 * 3600:
        return seconds(seconds_)
    hours = seconds_ / 3600
    if hours < 72:
        return f"{hours:.0f} h"
    days = hours / 24
    if days < 360:
        return f"{days:.1f} d" if days < 20 else f"{days:.0f} d"
    years = f"{days / 365:.1f}".removesuffix(".0")
    return "1 year" if years == "1" else f"{years} years"


def signed(difference: Shown) -> Shown:
    """Return a difference whose sign is always written; one that rounds to nothing has none."""
    above = difference.value > 0 and any(c in "123456789" for c in difference.number)
    return replace(difference, number=f"+{difference.number}") if above else difference


def local_time(utc: datetime, *, seconds: bool = False) -> str:
    """Return a day and time as the people of this place read it, with their zone named."""
    return f"{local_day(utc)} {local_clock(utc, seconds=seconds)}"


def lately(utc: datetime, now: datetime, *, seconds: bool = False) -> str:
    """Return the local time of day, and its day where the last such time is another one."""
    recent = timedelta() <= now - utc < CLOCK_ALONE
    return local_clock(utc, seconds=seconds) if recent else local_time(utc, seconds=seconds)


def local_clock(utc: datetime, *, seconds: bool = True) -> str:
    """Return the local time of day, with the zone named."""
    local = utc.astimezone()
    return f"{local:{'%H:%M:%S' if seconds else '%H:%M'}} {_zone(local)}"


def local_day(utc: datetime) -> str:
    """Return the local day."""
    return day_of(utc).isoformat()


def day_of(utc: datetime) -> date:
    """Return the day of a moment as people of this place count days.

    The last day of use on a label, and that of a certificate, ends at midnight by the wall.
    """
    return utc.astimezone().date()


def local_month(utc: datetime) -> str:
    """Return the local month, in digits: names of months would follow the system's language."""
    return f"{utc.astimezone():%Y-%m}"


def file_stamp(utc: datetime) -> str:
    """Return a day and time for a file's name, the same in every zone."""
    return f"{utc.astimezone(UTC):%Y%m%d-%H%M%S}"


def _zone(local: datetime) -> str:
    """Return the zone's short name, or its offset where the system has a long name or none."""
    name = local.tzname() or ""
    return name if re.fullmatch(r"[A-Z]{2,5}", name) else f"UTC{local:%z}"
