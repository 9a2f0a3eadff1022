"""The month run from its first morning to its last evening, on a shop of its own."""

from concurrent.futures import ProcessPoolExecutor
from dataclasses import dataclass, field, replace
from datetime import timedelta
from multiprocessing import get_context
from pathlib import Path

from benchstation.demo import shop as demo
from benchstation.domain.events import Event, InstrumentRegistered
from benchstation.store.backends.postgresql import ShopAddress
from benchstation.store.engine import open_store
from benchstation.store.shop.joining import Login, found_shop, join_bench, join_desk
from benchstation.store.shop.shop_store import open_shop
from tests.month.bench_days import Day, Home, Made, trust_then, work_day
from tests.month.charts import Charts
from tests.month.desk import Desk, at_desk, evening
from tests.month.lost_computer import replaced
from tests.month.scenario import BENCHES, DIES, DUE, RETURNED, SEED, Job, Month, morning

STORE_FILE = "rebuilds.sqlite"
AT_ONCE = 2


@dataclass(slots=True)
class Shop:
    """The shop's computers and what was really done on them."""

    folder: Path
    owner: ShopAddress
    month: Month
    desk: Login
    homes: dict[str, Home]
    made: list[Made] = field(default_factory=list)
    days: list[tuple[int, str, Day]] = field(default_factory=list)
    rejected: set[str] = field(default_factory=set)
    """For an instrument that failed its check, or that its calibration found to have moved."""
    shipped: dict[str, int] = field(default_factory=dict)
    """On which day each unit left the shop."""
    returned: list[str] = field(default_factory=list)
    charts: Charts = field(default_factory=Charts)


def founded(folder: Path, owner: ShopAddress, month: Month) -> Shop:
    """Found the shop, its desk and its benches, on the day before the first."""
    before = morning(0) - timedelta(days=1)
    found_shop(owner, demo.NAME, before)
    desk_folder = folder / "desk"
    trust = trust_then(desk_folder, before)
    desk = join_desk(owner, "desk", trust.key.public, before)
    facts = demo.founding_events(before.date())
    own: list[InstrumentRegistered] = [f for f in facts if isinstance(f, InstrumentRegistered)]
    with open_shop(desk.address, trust) as shop:
        shop.append([f for f in facts if f not in own], person=demo.LEAD, utc=before)
    own += demo.air_instruments(before.date())
    homes = {}
    for name in BENCHES:
        home = folder / name
        file = home / "data" / STORE_FILE
        with open_store(file, name, trust=trust_then(home, before)) as store:
            store.append(_fitted(month, name, own), person=demo.LEAD, utc=before)
            login = join_bench(owner, store, demo.LEAD, before)
        homes[name] = Home(name, home, file, login)
    return Shop(folder, owner, month, desk, homes)


def _fitted(month: Month, bench: str, own: list[InstrumentRegistered]) -> list[Event]:
    """Return what a bench registers; one calibration may be over within the month."""
    due, _ = DUE.get(bench, ("", 0.0))
    over = (morning(month.events.get(f"due {bench}", 0)) - timedelta(days=1)).date().isoformat()
    found: list[Event] = []
    for one in own:
        until = over if one.instrument_id == due else one.calibrated_until
        # No two benches have one instrument.
        serial = f"{one.serial_number}-{bench}"
        found.append(replace(one, serial_number=serial, calibrated_until=until))
    return found


def run(shop: Shop) -> None:
    """Run every day of the month."""
    # Copied from a process with threads, a child may hang.
    with ProcessPoolExecutor(AT_ONCE, get_context("spawn")) as pool:
        for day in range(shop.month.days):
            _office(shop, day)
            if day == shop.month.events["dies"]:
                home = shop.homes[DIES]
                shop.homes[DIES] = replaced(home, shop.owner, morning(day) - timedelta(minutes=20))
            _benches(shop, day, pool)
            _evening(shop, day)


def _office(shop: Shop, day: int) -> None:
    """Take in what comes that morning."""
    when = morning(day) - timedelta(minutes=30)
    with at_desk(shop.desk, shop.folder / "desk", when) as desk:
        if day == 0:
            desk.enrol_all()
        if day in shop.month.kits:
            until = (when + timedelta(days=900)).date().isoformat()
            desk.receive_kits(shop.month.kits[day], until)
        if day == shop.month.events["oil"]:
            desk.receive_oil()
        first = {job.order: job.day for job in reversed(shop.month.jobs)}
        new = [job for job in shop.month.jobs if first[job.order] == day]
        if new:
            desk.place_orders(new, (when + timedelta(days=5)).date().isoformat())


def _benches(shop: Shop, day: int, pool: ProcessPoolExecutor) -> None:
    pending = []
    for place, bench in enumerate(BENCHES):
        jobs = shop.month.of(day, bench)
        seed = SEED + 100 * day + place
        before, due = _last_before(shop.month, day, bench), shop.month.due(day, bench)
        given = shop.homes[bench], jobs, before, due, seed, morning(day)
        pending.append((bench, pool.submit(work_day, *given)))
    for bench, one in pending:
        done = one.result()
        shop.made += done.made
        shop.days.append((day, bench, done))


def _last_before(month: Month, day: int, bench: str) -> Job | None:
    """Return the last unit of the day before: as it found the instruments they still stand."""
    before = month.of(day - 1, bench)
    return before[-1] if before else None


def _evening(shop: Shop, day: int) -> None:
    """Have QA look at what was filed the day before, and ship what was released before today."""
    begin, when = morning(day), evening(morning(day))
    customers = {job.order: job.customer for job in shop.month.jobs}
    with at_desk(shop.desk, shop.folder / "desk", when) as desk:
        shop.rejected |= set(desk.look_into_checks(begin))
        for on, _, done in shop.days:
            named = {by: found for by, found in done.named.items() if found and on == day}
            for instrument, serials in named.items():
                shop.rejected |= set(desk.look_into_calibrations(serials, instrument))
        shop.shipped |= dict.fromkeys(desk.ship_released(customers, begin), day)
        # A night and a morning's check lie between a unit and QA's word on it.
        desk.review(begin)
        people = {one.person_id: one.name for one in desk.session.shop.people.values()}
        shop.charts.look(desk.store, people, day, when)
        if day == shop.month.days - 1:
            _returns(shop, desk)


def _returns(shop: Shop, desk: Desk) -> None:
    """Have customers send back some of the units that lose their gas, and two that do not."""
    left = [made for made in shop.made if made.unit_id in shop.shipped]
    soft = [made for made in left if made.job.leak_pa_m3_s][:RETURNED]
    others = [made for made in left if not made.job.leak_pa_m3_s][:2]
    for made in soft:
        desk.take_returned(made.unit_id, "lost its gas within weeks", "the seal let gas by")
    for made in others:
        desk.take_returned(made.unit_id, "scratched in transport", "nothing inside")
    desk.withdraw_kit(shop.month.bad_kit)
    shop.returned = [made.unit_id for made in (*soft, *others)]
