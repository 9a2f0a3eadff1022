"""The demo shop's past: filed units made by the bench's own code from stepped virtual devices."""

import os
import random
import shutil
from collections.abc import Callable
from datetime import UTC, date, datetime, timedelta
from pathlib import Path

import platformdirs

from benchstation import __version__
from benchstation.bench.assembly import bench_from
from benchstation.bench.shop import Shop
from benchstation.bench.virtual import know_source
from benchstation.clock import StepClock
from benchstation.demo import shop as demo
from benchstation.demo.materials import kit_events
from benchstation.demo.technician import Plan, Technician
from benchstation.demo.world import SteppedLine, make_world
from benchstation.domain.events import UnitDisposed
from benchstation.domain.surroundings import Surroundings
from benchstation.domain.virtual_words import DEMONSTRATION
from benchstation.store.engine import Store, open_store

MADE_AS = 6
"""Raised whenever the past is made of something else: an older one is made anew."""
UNITS = 300
UNITS_A_DAY = 5
UNITS_A_KIT = 25
SEED = 20_260
STEP_S = 0.1
STEPS_RESTED = 5
"""While the hand rests the bench looks twice a second at what came."""
FIRST_HOUR = 7
LONGEST_KEPT_DAYS = 30
CAREFUL_SHARE = 0.985
POLISHED_EACH = 17
POSITIONS = ("front left", "front right", "rear left", "rear right")
_MIX = ("mr-46-front",) * 4 + ("mr-46-rear",) * 3 + ("carrier-50",) * 2 + ("sledge-36",)
_FOUND = ("weeping at wiper", "rod scored", "gas lost", "in good order", "soft", "knocks cold")

Progress = Callable[[int, int], None]


def founded_at(today: date, units: int = UNITS) -> datetime:
    """Return when a shop with a past of ``units`` began."""
    return _first(today) - timedelta(days=_days(units) + 1)


def make_history(
    store: Store, today: date, units: int = UNITS, progress: Progress | None = None
) -> None:
    """Fill an empty store with the shop and ``units`` filed units of the days before ``today``."""
    with store.bulk():
        demo.found(store, founded_at(today, units))
        shop = demo.demo_shop(store)
        begin = _first(today) - timedelta(days=_days(units))
        _work_days(store, shop, range(units), begin, progress)


def _first(today: date) -> datetime:
    return datetime(today.year, today.month, today.day, FIRST_HOUR, tzinfo=UTC)


def _days(units: int) -> int:
    return -(-units // UNITS_A_DAY)


def work_past(store: Store, shop: Shop, numbers: range, first: datetime) -> None:
    """Work units of these numbers on the days before ``first``, all in one commit."""
    with store.bulk():
        _work_days(store, shop, numbers, first - timedelta(days=_days(len(numbers))), None)


def _work_days(
    store: Store, shop: Shop, numbers: range, begin: datetime, progress: Progress | None
) -> None:
    for place, number in enumerate(numbers):
        if progress is not None:
            progress(place, len(numbers))
        day, slot = divmod(place, UNITS_A_DAY)
        start = begin + timedelta(days=day, minutes=75 * slot)
        if place % UNITS_A_KIT == 0:
            _receive(store, shop, _kit(number), start)
        _work_one(store, shop, number, start)


def _work_one(store: Store, shop: Shop, number: int, start: datetime) -> None:
    chance = random.Random(SEED + number)  # noqa: S311 - a demonstration's past
    begin = start + timedelta(minutes=chance.uniform(0, 12))
    air = Surroundings(chance.gauss(294.2, 1.6), chance.gauss(100_400, 700), 0.45)
    unit_id = work_unit(store, shop, _plan(shop, number, chance), begin, air, chance, number)
    _dispose(store, unit_id, start, chance)


def work_unit(
    store: Store,
    shop: Shop,
    plan: Plan,
    begin: datetime,
    air: Surroundings,
    chance: random.Random,
    number: int,
) -> str:
    """Work one unit through its route on stepped virtual devices; gives its id."""
    clock = StepClock(begin)
    world = make_world(SEED + number, air)
    live = bench_from(store, shop, clock.clock, lambda: air)
    session = live.session
    lines = [
        SteppedLine(session.scale.instrument, world.scale),
        SteppedLine(session.gauge.instrument, world.gauge),
    ]
    for line in lines:
        line.step(clock.seconds())
    for fitted in (session.scale, session.gauge):
        know_source(session, fitted.id, DEMONSTRATION)
    session.watch.arm()
    session.signed_in.become(plan.technician)
    technician = Technician(session, world, plan, _pin, chance)
    unit_id = ""
    for _ in technician.work():
        unit_id = session.rebuild.unit_id if session.rebuild is not None else unit_id
        for _ in range(STEPS_RESTED if technician.waits else 1):
            now = clock.advance(STEP_S)
            for line in lines:
                line.step(now)
        live.tick()
    # One that waits for its second reading has left the bench.
    return unit_id if session.rebuild is None else session.rebuild.unit_id


def _pin(person: object) -> str:
    return demo.PIN


def _plan(shop: Shop, number: int, chance: random.Random) -> Plan:
    family = chance.choice(_MIX)
    return Plan(
        serial=f"MR-{1000 + number}" if chance.random() > 0.06 else f"MR-{1000 + number // 2}",
        specification_id=family,
        lot=demo.LOT_OF[family],
        technician=shop.people[chance.choice(demo.TECHNICIANS)],
        lead=shop.people[demo.LEAD],
        order=f"A-{700 + number // 4}",
        position=POSITIONS[number % len(POSITIONS)],
        oil_error_kg=chance.gauss(0.0, 2.5e-4) + (2.4e-3 if chance.random() < 0.03 else 0.0),
        charge_error_pa=chance.gauss(0.0, 7e3),
        careless_valve=chance.random() > CAREFUL_SHARE,
        notes={
            "condition": chance.choice(_FOUND),
            "kit": _kit(number),
            "rod": "polished" if number % POLISHED_EACH == 5 else "bright",
        },
    )


def _kit(number: int) -> str:
    return f"K-{60 + number // UNITS_A_KIT}"


def _receive(store: Store, shop: Shop, kit: str, start: datetime) -> None:
    """Have the lead take in the kits and parts that the next units get."""
    day = (start - timedelta(hours=1)).date()
    events = kit_events(shop.current_specifications(), kit, day)
    for entry in store.append(events, person=demo.LEAD, utc=start - timedelta(minutes=30)):
        shop.take(entry.event)


def _dispose(store: Store, unit_id: str, start: datetime, chance: random.Random) -> None:
    """Let QA look at it the same evening; a few wait, and what is on hold waits longer."""
    filed = store.entries(unit_id=unit_id)[-1]
    held = bool(getattr(filed.event, "qa_hold", False))
    if chance.random() < (0.6 if held else 0.05):
        return
    word = "held" if held and chance.random() < 0.5 else "released"
    reason = "looked into, see the remarks" if held else "record complete"
    evening = start.replace(hour=16, minute=30)
    when = max(evening, filed.utc + timedelta(minutes=10))
    store.append([UnitDisposed(unit_id, word, reason)], person=demo.QA, utc=when)


def kept_history(today: date, units: int = UNITS) -> Path | None:
    """Return the store with the demo shop's past that is kept in the user's cache for a month."""
    kept = sorted(_folder().glob(f"{_name(units)}-*.sqlite"))
    return kept[-1] if kept and _age_days(kept[-1], today) <= LONGEST_KEPT_DAYS else None


def history_file(today: date, units: int = UNITS, progress: Progress | None = None) -> Path:
    """Return a store with the demo shop's past, made where none is kept."""
    if kept := kept_history(today, units):
        return kept
    folder = _folder()
    if folder.is_dir():
        shutil.rmtree(folder)
    folder.mkdir(parents=True)
    making = folder / f"making-{os.getpid()}.sqlite"
    with open_store(making, demo.BENCH) as store:
        make_history(store, today, units, progress)
    return making.replace(folder / f"{_name(units)}-{today.isoformat()}.sqlite")


def _folder() -> Path:
    return platformdirs.user_cache_path("benchstation", appauthor=False) / "demonstration"


def _name(units: int) -> str:
    return f"{__version__}-{MADE_AS}-{units}"


def _age_days(kept: Path, today: date) -> int:
    return abs((today - date.fromisoformat(kept.stem[-len("2026-01-31") :])).days)
