"""The temperature of a unit on the bench, of its body and not of the room's air, from its facts."""

import math
from dataclasses import replace
from datetime import datetime

from benchstation.domain.body_temperature import (
    BodySource,
    BodyTemperature,
    in_room_since,
    measured,
    not_known,
    time_constant_of,
)
from benchstation.domain.rebuild import Rebuild
from benchstation.domain.record import stamp
from benchstation.domain.recorded_parts import Condition
from benchstation.domain.surroundings import Surroundings

UNIT_TEMPERATURE = "unit temperature"
AGREE = 2.0
"""So many standard uncertainties may lie between a measurement and what a stay says."""


def unit_temperature(
    rebuild: Rebuild, air: Surroundings, now: datetime, drift_k_s: float
) -> BodyTemperature:
    """Return the unit's temperature now, from whichever is known best: a measurement or a stay.

    A stay that a measurement contradicts does not count: somebody has warmed the unit since.
    """
    body = time_constant_of(rebuild.specification)
    read, stay = rebuild.body_measured, rebuild.in_room
    seen = stayed = None
    if read is not None:
        event = read.event
        seen = measured(
            event.value_k, event.u_k, read.utc, now, air=air, body=body, drift_k_s=drift_k_s
        )
    if stay is not None:
        stayed = in_room_since(
            stay.since, now, air=air, body=body, bound_k=stay.bound_k, drift_k_s=drift_k_s
        )
    if seen is None or stayed is None:
        return seen or stayed or not_known(air=air, body=body)
    agree = abs(seen.offset_k) <= AGREE * math.hypot(seen.u_offset_k, stayed.u_offset_k)
    return stayed if agree and stayed.u_k < seen.u_k else seen


def around_unit(body: BodyTemperature, air: Surroundings) -> Surroundings:
    """Return what the unit's gas is surrounded by: its own temperature, the air's pressure."""
    return replace(air, temperature_k=body.temperature_k, u_temperature_k=body.u_k)


def condition_of(rebuild: Rebuild, body: BodyTemperature, now: datetime) -> Condition:
    """Return the unit's temperature as a result's record keeps it."""
    age = (now - body.at).total_seconds() if body.at else None
    found = Condition(UNIT_TEMPERATURE, body.temperature_k, body.u_k, body.source.value, "", age)
    read, stay = rebuild.body_measured, rebuild.in_room
    if body.source is BodySource.MEASURED and read is not None:
        event = read.event
        return replace(
            found,
            name=event.source,
            person=read.person,
            instrument_id=event.instrument_id,
            calibration=event.calibration,
        )
    if body.source is BodySource.IN_ROOM and stay is not None:
        return replace(found, name=stamp(stay.since), person=stay.person)
    return found
