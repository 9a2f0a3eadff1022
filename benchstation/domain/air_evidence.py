"""The bench's air as evidence: from what, how old, how sure, and when it does not count any more.

The set-up's value is none. An altitude stands for the barometer as an estimate: the standard
atmosphere (ISO 2533) and the weather, which moves the pressure of a place by about 12 hPa (one
standard deviation; 10 to 15 hPa in temperate latitudes).
"""

import math
from dataclasses import dataclass
from datetime import datetime
from enum import StrEnum

from benchstation.domain.recorded_parts import Condition
from benchstation.domain.surroundings import HIGHEST_K, HIGHEST_PA, LOWEST_K, LOWEST_PA
from benchstation.quantities.notation import fixed

WEATHER_PA = 1200.0
SET_UP_K, SET_UP_PA, SET_UP_HUMIDITY = 5.0, 3000.0, 0.2
"""How far the set-up's own figures may be off, one standard deviation."""


class AirQuantity(StrEnum):
    """What is known of the air."""

    TEMPERATURE = "air temperature"
    PRESSURE = "barometer"
    HUMIDITY = "humidity"


class AirSource(StrEnum):
    """What a figure rests on."""

    INSTRUMENT = "instrument"
    TYPED = "typed"
    ALTITUDE = "altitude"
    SET_UP = "set-up"


PLAUSIBLE = {
    AirQuantity.TEMPERATURE: (LOWEST_K, HIGHEST_K),
    AirQuantity.PRESSURE: (LOWEST_PA, HIGHEST_PA),
    AirQuantity.HUMIDITY: (0.0, 1.0),
}
"""What air at a bench can be, SI."""


@dataclass(frozen=True, slots=True)
class AirLimits:
    """How long a figure counts, and how fast the room and the weather may move meanwhile."""

    temperature_holds_s: float = 3600.0
    barometer_holds_s: float = 4 * 3600.0
    room_drift_k_s: float = 2.0 / 3600.0
    weather_pa_s: float = 100.0 / 3600.0
    humidity_s: float = 0.1 / 3600.0

    def holds_s(self, quantity: AirQuantity) -> float:
        """Return for how long a figure counts as evidence, s."""
        if quantity is AirQuantity.TEMPERATURE:
            return self.temperature_holds_s
        return self.barometer_holds_s

    def drift(self, quantity: AirQuantity) -> float:
        """Return how fast it may change, SI a second."""
        return {
            AirQuantity.TEMPERATURE: self.room_drift_k_s,
            AirQuantity.PRESSURE: self.weather_pa_s,
            AirQuantity.HUMIDITY: self.humidity_s,
        }[quantity]


@dataclass(frozen=True, slots=True)
class AirEvidence:
    """One figure of the air, SI, with its standard uncertainty as it was read at ``at``.

    ``unfit`` says why its instrument may give no quality result; empty: nothing against it.
    """

    quantity: AirQuantity
    value: float
    u: float
    source: AirSource
    name: str = ""
    """The instrument's title, or what a person read it on."""
    at: datetime | None = None
    person: str = ""
    instrument_id: str = ""
    calibration: str = ""
    unfit: str = ""

    def age_s(self, now: datetime) -> float | None:
        """Return how old it is; ``None`` for what was never read."""
        return None if self.at is None else max(0.0, (now - self.at).total_seconds())

    def u_now(self, now: datetime, limits: AirLimits) -> float:
        """Return its standard uncertainty now: what may have changed since is rectangular."""
        age = self.age_s(now)
        return math.hypot(self.u, limits.drift(self.quantity) * (age or 0.0) / math.sqrt(3.0))

    def why_not(self, now: datetime, limits: AirLimits) -> str:
        """Return why nothing may be captured that rests on it; empty: nothing against it."""
        if self.source is AirSource.ALTITUDE:
            return ""
        age = self.age_s(now)
        if self.source is AirSource.SET_UP or age is None:
            return f"the {self.quantity} was not read"
        holds = limits.holds_s(self.quantity)
        if age > holds:
            return f"the {self.quantity} is {in_words(age)} old; it counts for {in_words(holds)}"
        return self.unfit

    def condition(self, now: datetime, limits: AirLimits) -> Condition:
        """Return it as a result's record keeps it."""
        return Condition(
            self.quantity.value,
            self.value,
            self.u_now(now, limits),
            self.source.value,
            self.name,
            self.age_s(now),
            self.person,
            self.instrument_id,
            self.calibration,
        )


def plausible(quantity: AirQuantity, value: float) -> bool:
    """Return True when air at a bench can be so."""
    low, high = PLAUSIBLE[quantity]
    return low <= value <= high


def in_words(seconds: float) -> str:
    """Return an age in words."""
    minutes = int(seconds // 60)
    if minutes < 1:
        return f"{fixed(seconds, 0)} s"
    if minutes < 60:
        return f"{minutes} min"
    hours, rest = divmod(minutes, 60)
    if hours >= 48:
        return f"{hours // 24} days"
    return f"{hours} h {rest} min" if rest else f"{hours} h"
