"""The temperature of the unit on the bench."""

from dataclasses import replace
from datetime import timedelta

from benchstation.bench.session import BenchSession
from benchstation.domain.body_temperature import (
    BodySource,
    BodyTemperature,
    in_room_since,
    time_constant_of,
)


def unit_temperature(session: BenchSession) -> BodyTemperature:
    """Return the temperature of the unit at hand: not known, and taken for that of the room."""
    now = session.clock.utc()
    body = time_constant_of(session.unit().specification)
    found = in_room_since(now - timedelta(days=1), now, air=session.air(), body=body)
    return replace(found, source=BodySource.NOT_KNOWN, at=None)
