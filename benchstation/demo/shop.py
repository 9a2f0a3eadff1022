"""The demo shop: a mountain-rescue vehicle workshop that does not exist."""

from collections.abc import Iterator
from datetime import UTC, date, datetime, timedelta
from functools import cache
from importlib.resources import files

from benchstation.bench.shop import Shop, shop_from
from benchstation.bench.staff import badge_events
from benchstation.demo.materials import received
from benchstation.domain.events import (
    Event,
    InstrumentRegistered,
    OilLotReceived,
    PersonEnrolled,
    SpecificationApproved,
)
from benchstation.domain.form_fields import SIGNATURE
from benchstation.domain.people import hash_pin
from benchstation.domain.specification import Specification, specification_from_toml
from benchstation.domain.surroundings import Surroundings
from benchstation.store.engine import Store
from sample_devices.bench_model import LINE_VOLUME_M3

NAME = "Mountain rescue workshop (demonstration)"
BENCH = "bench-2"
PIN = "246810"
"""Everyone's PIN in the demonstration; the sign-in form says so."""
KNOWN_COST = 2**8
"""Of the hashes here: what the form says needs no slow one."""

RATINGS = {
    "fill hose": 35e5,
    "fill tool": 60e5,
    "gauge range": 40e5,
    "regulator outlet": 50e5,
}
BADGES = {
    "kofler": "rescue-kofler",
    "wieland": "rescue-wieland",
    "oberhauser": "rescue-oberhauser",
    "anders": "rescue-anders",
}
"""What a scanner would type of each one's badge."""
SIGNED = {SIGNATURE: PIN}
"""What signs for everyone there."""
HINT = f"in the demonstration: PIN {PIN} for everyone, or a badge, such as {BADGES['oberhauser']}"
"""Stands under the sign-in form."""
AIR = Surroundings(294.55, 100_900.0, 0.45)

TECHNICIANS = ("kofler", "wieland")
LEAD, QA = "oberhauser", "anders"
_PEOPLE = (
    ("kofler", "Mira Kofler", ("technician",)),
    ("wieland", "Jonas Wieland", ("technician",)),
    ("oberhauser", "Selma Oberhauser", ("technician", "lead")),
    ("anders", "Teo Anders", ("qa",)),
)
LOT_OF = {
    "mr-46-front": "L-0417",
    "mr-46-rear": "L-0417",
    "carrier-50": "L-0432",
    "sledge-36": "L-0440",
    "stretcher-36": "L-0440",
}
"""The oil lot that each family gets."""


def specifications() -> dict[str, Specification]:
    """Read the families' specifications, each by the text it is written as."""
    folder = files("resources") / "demo" / "specifications"
    names = sorted(f.name for f in folder.iterdir() if f.name.endswith(".toml"))
    texts = {name: (folder / name).read_text("utf-8") for name in names}
    return {text: specification_from_toml(text, where=name) for name, text in texts.items()}


def instruments(today: date) -> dict[str, InstrumentRegistered]:
    """Return scale and gauge with calibrations in force on ``today``."""
    done, until = today - timedelta(days=200), today + timedelta(days=165)
    scale = InstrumentRegistered(
        "scale-1",
        "scale",
        "Bench scale, 6 kg",
        "scale-status-first",
        "S-20418",
        gain=1.00004,
        offset=0.0,
        u_calibration=3e-5,
        calibrated_on=done.isoformat(),
        calibrated_until=until.isoformat(),
        certificate="C-7731",
    )
    gauge = InstrumentRegistered(
        "gauge-1",
        "gauge",
        "Charge gauge, 40 bar",
        "gauge-value-unit",
        "G-0093",
        gain=1.0002,
        offset=-400.0,
        u_calibration=3000.0,
        calibrated_on=done.isoformat(),
        calibrated_until=until.isoformat(),
        certificate="C-7740",
    )
    return {"scale": scale, "gauge": gauge}


def air_instruments(today: date) -> list[InstrumentRegistered]:
    """Return the thermometer and the barometer on the wall, for a bench that reads them live."""
    done, until = today - timedelta(days=100), today + timedelta(days=265)
    dates = (done.isoformat(), until.isoformat())
    return [
        InstrumentRegistered(
            "thermometer-1", "thermometer", "Wall thermometer", "thermometer-value-unit", "T-311",
            1.0, 0.0, 0.15, *dates, "C-7802",
        ),
        InstrumentRegistered(
            "barometer-1", "barometer", "Wall barometer", "barometer-value-unit", "B-058",
            1.0, 0.0, 50.0, *dates, "C-7803",
        ),
    ]  # fmt: skip


def _lots() -> Iterator[OilLotReceived]:
    certificate = "supplier's certificate, 15 °C (ISO 12185)"
    yield OilLotReceived("L-0417", "ISO VG 15 damper oil", 851.3, 3e-4, source=certificate)
    yield OilLotReceived("L-0421", "ISO VG 15 damper oil", 853.9, 3e-4, source=certificate)
    yield OilLotReceived("L-0432", "ISO VG 22 damper oil", 866.1, 3e-4, source=certificate)
    yield OilLotReceived(
        "L-0440",
        "Winter damper oil, synthetic",
        828.4,
        4e-4,
        alpha_per_k=7.9e-4,
        source="two hydrometer readings, 12 °C and 31 °C",
    )


@cache
def _badges() -> tuple[Event, ...]:
    return tuple(badge_events(BADGES.items(), "", KNOWN_COST))


def founding_events(today: date) -> list[Event]:
    """Return what the shop's journal begins with: people, oils, specifications, instruments."""
    pin_hash, families = hash_pin(PIN, KNOWN_COST), specifications()
    events: list[Event] = [
        PersonEnrolled(key, name, roles, pin_hash) for key, name, roles in _PEOPLE
    ]
    events += _badges()
    events += _lots()
    for text, s in families.items():
        events.append(
            SpecificationApproved(
                s.id, s.revision, s.family, s.title, s.content(), s.sha256(), text
            )
        )
    events += instruments(today).values()
    events += received(families.values(), today)
    return events


def found(store: Store, utc: datetime | None = None) -> None:
    """Write the shop's master data into an empty store."""
    when = utc or datetime.now(UTC)
    store.append(founding_events(when.date()), person=LEAD, utc=when)


def demo_shop(store: Store) -> Shop:
    """Read the shop back from its store."""
    return shop_from(store, NAME, store.bench, RATINGS, LINE_VOLUME_M3)
