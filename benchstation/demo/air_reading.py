"""The demonstration's person reads thermometer and barometer, and says how long a unit is here."""

from benchstation.bench.session import BenchSession
from benchstation.demo.world import World
from benchstation.domain.air_evidence import AirQuantity

HERE_FOR = "16 h"
"""The demonstration's units stand in the room overnight before they are worked on."""
READ_AGAIN = 0.8
"""A figure that has reached this share of the time that it counts for is read anew."""


def air_form(air_k: float, air_pa: float) -> dict[str, str]:
    """Return what a person reads off the wall, as typed."""
    return {
        "air": f"{air_k - 273.15:.1f} °C",
        "air_on": "wall thermometer",
        "air_u": "0.6 K",
        "barometer": f"{air_pa / 100:.1f} hPa",
        "barometer_on": "wall barometer",
        "barometer_u": "1 hPa",
    }


def read_air(session: BenchSession, world: World, here_for: str = HERE_FOR) -> None:
    """Type what the wall shows where no instrument reads it and the last figure is old."""
    now, known, typed = (
        session.moment(),
        session.known_air,
        air_form(world.model.air_k, world.model.air_pa),
    )
    for quantity, name in ((AirQuantity.TEMPERATURE, "air"), (AirQuantity.PRESSURE, "barometer")):
        evidence = known.evidence(quantity, session.instruments, now)
        age = evidence.age_s(now.utc)
        young = age is not None and age < READ_AGAIN * known.limits.holds_s(quantity)
        if young and not evidence.unfit:
            for field in (name, f"{name}_on", f"{name}_u"):
                del typed[field]
    if here_for and session.rebuild is not None and session.rebuild.in_room is None:
        typed["since"] = here_for
    if typed:
        session.act("note_air", typed)
