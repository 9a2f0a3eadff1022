"""What happens in the shop in that month: who works what on which day, and what goes wrong.

All of it is invented. Nothing here knows what the program makes of it.
"""

import random
from dataclasses import dataclass, field
from datetime import UTC, datetime, timedelta

from benchstation.demo import shop as demo

SEED = 4_711
BENCHES = ("bay-1", "bay-2", "bay-3")
FIRST_DAY = datetime(2026, 3, 2, tzinfo=UTC)
FIRST_HOUR = 7
SLOT_MIN = 58
STOLEN_HOUR = 11
"""From this hour on, for one hour of every day, there is no network."""
UNITS_AN_ORDER = 4
SET_EACH = 3
"""Every third order is a set that has to match."""
CUSTOMERS = ("Tal rescue", "Ridge lifts", "Glacier guides", "Valley ambulance")
NEW_PEOPLE = (
    ("Edda Brandl", ("technician",)),
    ("Ruben Egger", ("technician",)),
    ("Ida Lechner", ("technician", "lead")),
    ("Nils Thaler", ("qa",)),
)
"""Beside the four of the founding: eight in all."""
SECOND_QA = "nils-thaler"
TECHNICIANS = {
    "bay-1": ("kofler", "edda-brandl"),
    "bay-2": ("wieland", "ruben-egger"),
    "bay-3": ("kofler",),
}
LEADS = {"bay-1": demo.LEAD, "bay-2": demo.LEAD, "bay-3": "ida-lechner"}
FAMILIES = ("mr-46-front",) * 3 + ("mr-46-rear",) * 3 + ("carrier-50",) * 2 + ("sledge-36",)
POSITIONS = ("front left", "front right", "rear left", "rear right")

HAND_KG, SLIPS, SLIP_KG = 2e-4, 0.03, 2.6e-3
"""How much each one's bleeding scatters; how often somebody slips, and by how much."""
CREEPS, CREEPS_FROM, CREEP_KG = "ruben-egger", 0.35, 1.3e-4
"""From this share of the month on this technician bleeds a little more each day, kg."""
DRIFTS, DRIFTS_FROM, DRIFT_A_DAY = "bay-2", 0.45, 2.2e-3
"""From then on the gauge of this bench shows more by this share of the pressure each day."""
DUE = {"bay-1": ("scale-1", 0.3), DRIFTS: ("gauge-1", 0.8)}
"""On that day this instrument's calibration is over; a laboratory's new one comes with it."""
NEW_OIL_FROM = 0.5
"""On that day new lots come of two oils, and the old ones are used up."""


@dataclass(frozen=True, slots=True)
class Delivery:
    """A lot of oil as its certificate has it at 15 degC, and the one that it follows."""

    lot: str
    oil: str
    kg_m3: float
    follows: str


NEW_OIL = (
    Delivery("L-0517", "ISO VG 15 damper oil", 854.6, "L-0417"),
    Delivery("L-0532", "ISO VG 22 damper oil", 863.2, "L-0432"),
)
DEAF_SCALE, DEAF_FROM, DEAF_GAIN = "bay-3", 0.25, 1.011
"""On that day, before its last units, this bench's scale is damaged; the next check finds it."""
OFF_ZERO, OFF_ZERO_FROM, OFF_ZERO_PA = "bay-1", 0.7, 2.6e4
"""After that day's last unit this bench's gauge is knocked; the next check finds it."""
DIES, DIES_ON = "bay-2", 0.55
"""Before that day the computer of this bench is lost."""
BAD_KIT_DAY, LEAK_PA_M3_S = 0.4, 8e-5
"""The delivery of that day holds seals that let gas by: half of it in two weeks, a 25th of what a
hold test may find."""
RETURNED = 6
"""So many units of the bad seals come back, and two others."""


@dataclass(frozen=True, slots=True)
class Job:
    """One unit: who works it where and when, with what in the hands."""

    number: int
    bench: str
    day: int
    slot: int
    serial: str
    family: str
    order: str
    position: str
    customer: str
    technician: str
    kit: str
    oil_error_kg: float
    charge_error_pa: float
    crept_kg: float
    slipped: bool
    """Bled far too much once, as happens to everybody."""
    careless_valve: bool
    scale_gain: float
    gauge_gain: float
    knocked_pa: float
    """By so much the gauge's zero is off after the unit has left."""
    leak_pa_m3_s: float
    lot: str
    """The oil lot."""

    @property
    def begins(self) -> datetime:
        """Return when the unit comes onto the bench."""
        return morning(self.day) + timedelta(minutes=20 + SLOT_MIN * self.slot)

    @property
    def lead(self) -> str:
        """Return who leads at the bench."""
        return LEADS[self.bench]


@dataclass(frozen=True, slots=True)
class Month:
    """The days of the month and their units."""

    days: int
    jobs: tuple[Job, ...]
    kits: dict[int, str]
    """The lot of the kits that came on a day."""
    events: dict[str, int] = field(default_factory=dict)
    """On which day each trouble begins."""

    def due(self, day: int, bench: str) -> str:
        """Return the instrument of a bench whose calibration is over on that day; empty: none."""
        instrument, _ = DUE.get(bench, ("", 0.0))
        return instrument if self.events.get(f"due {bench}") == day else ""

    def of(self, day: int, bench: str) -> list[Job]:
        """Return the units of a bench on a day."""
        return [job for job in self.jobs if job.day == day and job.bench == bench]

    @property
    def bad_kit(self) -> str:
        """Return the lot of the seals that let gas by."""
        return self.kits[self.events["bad kit"]]


def morning(day: int) -> datetime:
    """Return when the shop opens; the weekend is left out."""
    weeks, weekday = divmod(day, 5)
    return FIRST_DAY + timedelta(weeks=weeks, days=weekday, hours=FIRST_HOUR)


def month_of(units: int, days: int) -> Month:
    """Return a month of so many units."""
    chance = random.Random(SEED)
    day_of = {
        name: max(1, min(days - 2, round(share * days)))
        for name, share in (
            ("creep", CREEPS_FROM), ("drift", DRIFTS_FROM), ("scale", DEAF_FROM),
            ("zero", OFF_ZERO_FROM), ("dies", DIES_ON), ("bad kit", BAD_KIT_DAY),
            ("oil", NEW_OIL_FROM), *((f"due {bench}", share) for bench, (_, share) in DUE.items()),
        )
    }  # fmt: skip
    kits = {day: f"K-{200 + day}" for day in range(0, days, 5)}
    kits[day_of["bad kit"]] = f"K-{200 + day_of['bad kit']}"
    spread = [divmod(n, days * len(BENCHES)) for n in range(units)]
    places = sorted((rest % days, BENCHES[rest // days], slot) for slot, rest in spread)
    jobs = [
        _job(number, day, bench, slot, kits, day_of, chance)
        for number, (day, bench, slot) in enumerate(places)
    ]
    return Month(days, tuple(jobs), kits, day_of)


def is_set(units: list[Job]) -> bool:
    """Return True for the four units of an order that have to match."""
    return len(units) == UNITS_AN_ORDER and _set_number(units[0].number)


def _set_number(number: int) -> bool:
    return number // UNITS_AN_ORDER % SET_EACH == 0


def _job(
    number: int,
    day: int,
    bench: str,
    slot: int,
    kits: dict[int, str],
    day_of: dict[str, int],
    chance: random.Random,
) -> Job:
    people = TECHNICIANS[bench]
    technician = people[slot % len(people)]
    kit_day = max(d for d in kits if d <= day)
    # Kits of a delivery that came out of turn are used up on that day and the next.
    late = kit_day == day_of["bad kit"] and day > kit_day + 1
    kit_day = max(d for d in kits if d <= day and d % 5 == 0) if late else kit_day
    bad = kit_day == day_of["bad kit"]
    creep = max(0, day - day_of["creep"]) * CREEP_KG if technician == CREEPS else 0.0
    adjusted = day_of[f"due {DRIFTS}"]
    moved = day - max(day_of["drift"], adjusted if day >= adjusted else 0)
    drift = max(0, moved) * DRIFT_A_DAY if bench == DRIFTS else 0.0
    damaged = bench == DEAF_SCALE and day == day_of["scale"] and slot >= 2
    off = bench == OFF_ZERO and day == day_of["zero"] and slot >= 2
    own_kg, slipped = chance.gauss(0.0, HAND_KG), chance.random() < SLIPS
    order = number // UNITS_AN_ORDER
    position = POSITIONS[number % len(POSITIONS)]
    family = chance.choice(FAMILIES)
    if _set_number(number):
        family = "mr-46-front" if "front" in position else "mr-46-rear"
    lot = demo.LOT_OF[family]
    if day >= day_of["oil"]:
        lot = next((new.lot for new in NEW_OIL if new.follows == lot), lot)
    return Job(
        number=number,
        bench=bench,
        day=day,
        slot=slot,
        serial=f"MS-{3000 + number}",
        family=family,
        order=f"M-{500 + order}",
        position=position,
        customer=CUSTOMERS[order % len(CUSTOMERS)],
        technician=technician,
        kit=kits[kit_day],
        oil_error_kg=own_kg + creep + (SLIP_KG if slipped else 0.0),
        charge_error_pa=chance.gauss(0.0, 5e3),
        crept_kg=creep,
        slipped=slipped,
        careless_valve=chance.random() < 0.02,
        scale_gain=DEAF_GAIN if damaged else 1.0,
        gauge_gain=1.0 + drift,
        knocked_pa=OFF_ZERO_PA if off else 0.0,
        leak_pa_m3_s=LEAK_PA_M3_S if bad else 0.0,
        lot=lot,
    )
