"""The demonstration of several benches: a shop's database with a past, and a home for each bench.

People, oils, kits and specifications are the shop's from the start; each bench took them, worked a
few units, and sent them. Two benches received one lot number as two oils: that waits to be settled.
"""

from collections.abc import Callable
from contextlib import ExitStack
from dataclasses import dataclass
from datetime import datetime, timedelta
from pathlib import Path

from benchstation.demo import history
from benchstation.demo import shop as demo
from benchstation.domain.events import Event, InstrumentRegistered, OilLotReceived
from benchstation.store.backends.postgresql import ShopAddress
from benchstation.store.engine import Store, open_store
from benchstation.store.shop.exchange import Exchange
from benchstation.store.shop.joining import Login, found_shop, join_bench, join_desk
from benchstation.store.shop.shop_store import open_shop
from benchstation.store.trust import trust_at

UNITS = 6
"""So many units each bench worked before."""
SERIALS_APART = 100
DISPUTED = "L-0450"
DENSITIES_KG_M3 = (852.0, 861.0)
Progress = Callable[[int, int], None]


@dataclass(frozen=True, slots=True)
class DemoBench:
    """A bench of the demonstration: its name, the folder of its settings and records, its login."""

    name: str
    home: Path
    login: Login


@dataclass(frozen=True, slots=True)
class DemoShop:
    """The shop: the login of its desk, and its benches."""

    desk: Login
    benches: tuple[DemoBench, ...]


def make_shop(
    owner: ShopAddress,
    folder: Path,
    benches: int,
    now: datetime,
    store_file: str,
    tell: Progress,
    units: int = UNITS,
) -> DemoShop:
    """Make a shop in an empty database, and its benches in ``folder``, each with a past."""
    days = -(-units // history.UNITS_A_DAY) + 1
    begun = now - timedelta(days=days)
    found_shop(owner, demo.NAME, begun)
    trust = trust_at(folder)
    desk = join_desk(owner, "desk", trust.key.public, begun)
    facts = demo.founding_events(begun.date())
    own = [fact for fact in facts if isinstance(fact, InstrumentRegistered)]
    with open_shop(desk.address, trust) as shop:
        shop.append([f for f in facts if f not in own], person=demo.LEAD, utc=begun)
    found = []
    for number in range(benches):
        name = f"bay-{number + 1}"
        tell(number, benches)
        found.append(_make_bench(owner, folder / name, name, number, own, now, store_file, units))
    _dispute(found, now, store_file)
    with open_shop(desk.address, trust) as shop:
        shop.catch_up()
    return DemoShop(desk, tuple(found))


def _make_bench(
    owner: ShopAddress,
    home: Path,
    name: str,
    number: int,
    instruments: list[InstrumentRegistered],
    now: datetime,
    store_file: str,
    units: int,
) -> DemoBench:
    file = home / "data" / store_file
    first = now.replace(hour=history.FIRST_HOUR, minute=0, second=0, microsecond=0)
    with open_store(file, name, trust=trust_at(home)) as store:
        begun = first - timedelta(days=-(-units // history.UNITS_A_DAY) + 1)
        facts: list[Event] = [*instruments, *demo.air_instruments(begun.date())]
        store.append(facts, person=demo.LEAD, utc=begun)
        login = join_bench(owner, store, demo.LEAD, begun)
        _exchange(store, login, now)
        start = SERIALS_APART * (number + 1)
        history.work_past(store, demo.demo_shop(store), range(start, start + units), first)
        _exchange(store, login, now)
    return DemoBench(name, home, login)


def _dispute(benches: list[DemoBench], now: datetime, store_file: str) -> None:
    """Have two benches receive one lot number as two oils, neither knowing of the other."""
    with ExitStack() as opened:
        for bench, density in zip(benches, DENSITIES_KG_M3, strict=False):
            file, trust = bench.home / "data" / store_file, trust_at(bench.home)
            store = opened.enter_context(open_store(file, bench.name, trust=trust))
            lot = OilLotReceived(
                DISPUTED, "ISO VG 15 damper oil", density, 3e-4, source="can label"
            )
            store.append([lot], person=demo.LEAD, utc=now - timedelta(minutes=20))
            opened.callback(_exchange, store, bench.login, now)


def _exchange(store: Store, login: Login, now: datetime) -> None:
    """Send and take until both sides are level."""
    exchange = Exchange(store, login.address)
    try:
        while True:
            done = exchange.step(now)
            if not done.sent and not done.took:
                return
    finally:
        exchange.close()
