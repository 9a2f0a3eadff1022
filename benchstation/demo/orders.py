"""The demo shop's day: orders that wait when the window opens. All invented."""

import random
from datetime import date, datetime, timedelta

from benchstation.demo import shop as demo
from benchstation.demo.history import work_unit
from benchstation.demo.materials import KIT
from benchstation.demo.technician import Plan
from benchstation.domain.events import Event
from benchstation.domain.orders import POSITIONS, Wanted, place
from benchstation.store.engine import Store

PAIR, FOUR, SINGLE = "A-1204", "A-1205", "A-1206"
FIRST = 9_001
WAITS = "ST-0071"
"""A unit that waits for its second reading."""


def todays_orders(today: date) -> list[Event]:
    """Return an axle, a set of four, and single units."""
    families = list(demo.LOT_OF)
    fronts = [
        Wanted(f"MR-31{n:02}", "mr-46-front", f"front {side}")
        for n, side in enumerate(POSITIONS[2], 1)
    ]
    four = [
        Wanted(f"MR-32{n:02}", "mr-46-front" if "front" in where else "mr-46-rear", where)
        for n, where in enumerate(POSITIONS[4], 1)
    ]
    single = [Wanted("CR-0417", "carrier-50", ""), Wanted("", "sledge-36", "rear")]
    return [
        _placed(PAIR, today, "the vehicle waits outside", fronts, families, matched=True),
        _placed(FOUR, today + timedelta(days=1), "", four, families, matched=True),
        _placed(SINGLE, today - timedelta(days=1), "", single, families, matched=False),
    ]


def _placed(
    name: str, due: date, note: str, units: list[Wanted], families: list[str], *, matched: bool
) -> Event:
    return place(name, due.isoformat(), note, units, matched=matched, families=families, known=None)


def begin_day(store: Store, now: datetime) -> None:
    """Write the day's orders, by the lead; the first unit of the pair is filed already.

    A unit of the evening before waits for its second reading, which is due.
    """
    _leave_waiting(store, now - timedelta(hours=14))
    begin = now - timedelta(hours=2)
    store.append(todays_orders(now.date()), person=demo.LEAD, utc=begin)
    shop = demo.demo_shop(store)
    plan = Plan(
        "MR-3101",
        "mr-46-front",
        demo.LOT_OF["mr-46-front"],
        shop.people[demo.TECHNICIANS[1]],
        shop.people[demo.LEAD],
        order=PAIR,
        position="front left",
        notes={"condition": "weeping at wiper", "kit": KIT},
    )
    chance = random.Random(FIRST)  # noqa: S311 - a demonstration's morning
    work_unit(store, shop, plan, begin, demo.AIR, chance, FIRST)


def _leave_waiting(store: Store, begin: datetime) -> None:
    """Work a unit up to its second reading, for which it waits."""
    shop = demo.demo_shop(store)
    plan = Plan(
        WAITS,
        "stretcher-36",
        demo.LOT_OF["stretcher-36"],
        shop.people[demo.TECHNICIANS[0]],
        shop.people[demo.LEAD],
        notes={"condition": "soft", "kit": KIT},
    )
    chance = random.Random(FIRST + 1)  # noqa: S311 - a demonstration's evening
    work_unit(store, shop, plan, begin, demo.AIR, chance, FIRST + 1)
