"""The unit's own temperature: measured at its body, or by how long it has been in this room."""

import math
from dataclasses import dataclass
from datetime import datetime
from enum import StrEnum

from benchstation.domain.specification import Specification
from benchstation.domain.surroundings import Surroundings
from benchstation.physics.body_temperature import (
    TimeConstant,
    body_time_constant,
    lag_u_k,
    offset_after,
    offset_of_stay,
)

UNEVEN_K = 0.1
"""What gas, oil and wall of a unit at rest may differ by, one standard deviation."""
CONTACT_SHARE = 0.05
"""A probe on a surface shows too little of the difference to the air; one standard deviation."""
BOUND_K = 40.0
"""A unit comes into the room at most so much warmer or colder: off a vehicle, out of a washer."""


class BodySource(StrEnum):
    """What a unit's temperature rests on."""

    MEASURED = "measured"
    IN_ROOM = "in this room since"
    NOT_KNOWN = "not known"


@dataclass(frozen=True, slots=True)
class BodyTemperature:
    """A unit's temperature now; ``at`` is when it was measured, or since when it is in the room.

    ``offset_k`` is what it is above the air, with its own uncertainty: what is still to fade.
    """

    temperature_k: float
    u_k: float
    source: BodySource
    at: datetime | None
    offset_k: float
    u_offset_k: float
    body: TimeConstant
    drift_k_s: float = 0.0

    def change(self, seconds: float) -> tuple[float, float]:
        """Return how its temperature will change in the next seconds, K, and the uncertainty.

        What the whole scale of temperature is off by does not enter; the room's drift does.
        """
        mean, spread = self.body.left(seconds)
        fading = math.hypot((1.0 - mean), spread) * self.u_offset_k
        drift = self.drift_k_s * seconds * (1.0 - mean) / math.sqrt(3.0)
        u = math.hypot(fading, self.offset_k * spread, drift)
        return -self.offset_k * (1.0 - mean), u


def time_constant_of(specification: Specification) -> TimeConstant:
    """Return how slowly a unit of this specification follows the room."""
    fill = specification.oil
    return body_time_constant(
        specification.geometry.model(),
        oil_kg=fill.volume * fill.typical_rho15,
        metal_kg=fill.unit_mass,
    )


def measured(
    value_k: float,
    u_k: float,
    at: datetime,
    now: datetime,
    *,
    air: Surroundings,
    body: TimeConstant,
    drift_k_s: float = 0.0,
) -> BodyTemperature:
    """Return the temperature now of a unit that was measured at ``at`` and lay in this air since.

    ``T = f T_measured + (1 - f) T_air`` with ``f = exp(-t / tau)``: the older the measurement, the
    more the air's own uncertainty counts.
    """
    seconds = max(0.0, (now - at).total_seconds())
    offset = value_k - air.temperature_k
    u_value = math.hypot(u_k, CONTACT_SHARE * offset, UNEVEN_K)
    mean, spread = body.left(seconds)
    left = offset_after(offset, math.hypot(u_value, air.u_temperature_k), seconds, body)
    lag = lag_u_k(drift_k_s, seconds, body)
    u = math.hypot(
        math.hypot(mean, spread) * u_value,
        (1.0 - mean) * air.u_temperature_k,
        offset * spread,
        lag,
    )
    return BodyTemperature(
        air.temperature_k + left.offset_k,
        u,
        BodySource.MEASURED,
        at,
        left.offset_k,
        math.hypot(left.u_k, lag),
        body,
        drift_k_s,
    )


def in_room_since(
    since: datetime,
    now: datetime,
    *,
    air: Surroundings,
    body: TimeConstant,
    bound_k: float = BOUND_K,
    drift_k_s: float = 0.0,
) -> BodyTemperature:
    """Return the temperature of a unit of which only this is known: here since then."""
    seconds = max(0.0, (now - since).total_seconds())
    left = offset_of_stay(bound_k, seconds, body)
    u_offset = math.hypot(left.u_k, lag_u_k(drift_k_s, seconds, body), UNEVEN_K)
    u = math.hypot(air.u_temperature_k, u_offset)
    return BodyTemperature(
        air.temperature_k, u, BodySource.IN_ROOM, since, 0.0, u_offset, body, drift_k_s
    )


def not_known(
    *, air: Surroundings, body: TimeConstant, bound_k: float = BOUND_K
) -> BodyTemperature:
    """Return the temperature of a unit of which nobody said anything: anywhere about the room."""
    u_offset = bound_k / math.sqrt(3.0)
    u = math.hypot(air.u_temperature_k, u_offset)
    return BodyTemperature(air.temperature_k, u, BodySource.NOT_KNOWN, None, 0.0, u_offset, body)
