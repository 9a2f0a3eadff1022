"""How long finding takes among ten thousand, a hundred thousand and a million filed units.

    python tests/benchmarks/bench_scale.py [units ...] [--folder DIR] [--ask FILE] [--shop]

One unit is filed through the program and cloned (``tests/cloned_units.py``): each clone has an id,
serial, order and times of its own, every five hundred an oil lot and a part lot, and one of twenty
technicians; the chain and its tree are computed anew. The clone's record is short, so that a
million fits on a disk. Every unit rests on the same scale and gauge, the worst case for finding by
instrument; the gauge had its last good check before all of them. What is asked goes through the
page of records, as in the window; each question is drawn anew; its p95 is shown, and the same
of the time that this thread ran, which a busy machine does not lengthen as much.

The goal is 50 ms, and the same at each size. ``--ask`` measures a file that was made before;
``--shop`` does all of it in a PostgreSQL that is started and thrown away, as a shop's desk asks.
"""

import argparse
import random
import sys
import time
from collections.abc import Callable
from contextlib import closing
from datetime import UTC, datetime, timedelta
from pathlib import Path

from sqlalchemy import Engine, update

from benchstation.bench.day_start import day_book
from benchstation.bench.shop import shop_from
from benchstation.domain.disposition import Standing
from benchstation.domain.events import (
    AirRead,
    DeviationSigned,
    HoldTested,
    InstrumentChecked,
    InstrumentRegistered,
    MassCaptured,
    OilLotReceived,
    PersonEnrolled,
    RebuildOpened,
    ScaleResponded,
    StepSigned,
    TareProven,
    UnitFiled,
)
from benchstation.domain.inputs.part import PartFitted
from benchstation.domain.inputs.zero import ZeroRead
from benchstation.domain.quality import Quantity, evaluate
from benchstation.domain.statements import Code, Statement
from benchstation.quantities.units import UnitSystem
from benchstation.screens.model.filters import filtered
from benchstation.screens.model.quality import QualityQuestion, QualityView
from benchstation.screens.model.records import SINCE, words_for_lot
from benchstation.screens.quality.page import Quality
from benchstation.screens.quality.study import months_before
from benchstation.screens.records.page import Records
from benchstation.store import journal
from benchstation.store.backends.postgresql import ShopAddress, shop_engine
from benchstation.store.chain_store import ChainStore
from benchstation.store.engine import Store, open_store
from benchstation.store.figures import Group, yield_between
from benchstation.store.newest import newest_of
from benchstation.store.open_alarms import open_alarms
from benchstation.store.order_queries import units_at_hand
from benchstation.store.recall import last_checks
from benchstation.store.shop.form import bring_up_to_date
from benchstation.store.shop.rules import SHOP_DESK
from benchstation.store.shop.shop_store import open_shop
from benchstation.store.shop.tables import projected
from tests.cloned_units import APART, Template, id_of
from tests.shop_server import ShopDatabase, ShopServer, server_programs

BENCH = "bench-1"
START = datetime(2006, 1, 2, 7, 0, tzinfo=UTC)
SIZES = (10_000, 100_000, 1_000_000)
GOAL_MS = 50.0
ROUNDS = 100
PER_LOT, PEOPLE = 500, 20
FAMILY = "MR 46 front"
FIGURES = {
    "oil": {"net_shown_kg": 0.2221, "target_shown_kg": 0.2219, "tolerance_kg": 2e-3, "u_kg": 2e-4,
            "decision": "pass"},
    "hold": {"leak_pa_m3_s": 1e-8, "allowed_pa_m3_s": 2e-7, "u_leak_pa_m3_s": 1e-8,
             "decision": "pass"},
    "attempts": [{"step": "oil", "what": "oil", "decision": "pass"}],
    "steps": [{"id": "oil", "title": "Weigh in", "person": "p00"}],
}  # fmt: skip
"""What a chart is drawn from, the same of every clone."""


def names(number: int) -> dict[str, str]:
    """Return what stands in a clone for the names of the one."""
    return {
        "T-1": f"MR-{number:07}",
        "A-1": f"WO-{number // 4:06}",
        "L-1": f"L-{number // PER_LOT:05}",
        "K-1": f"K-{number // PER_LOT:05}",
        "p00": f"p{number % PEOPLE:02}",
        # QA has released most, and holds or rejected one in fifty.
        Standing.NOT_RELEASED.value: _standing(number),
    }


def _standing(number: int) -> str:
    if number % 50:
        return Standing.RELEASED.value if number % 50 > 1 else Standing.NOT_RELEASED.value
    return (Standing.ON_HOLD if number % 100 else Standing.REJECTED).value


def found(store: Store) -> int:
    """Put people, materials and instruments on record; return the next entry's number."""
    facts = [
        *(PersonEnrolled(f"p{n:02}", f"Person {n:02}", ("technician",)) for n in range(PEOPLE)),
        OilLotReceived("L-1", "oil", 850.0, 5e-4),
        *(
            InstrumentRegistered(
                f"{role}-1", role, f"The {role}", "p", f"SN-{role}", 1.0, 0.0, 1e-4, "", "", ""
            )
            for role in ("scale", "gauge")
        ),
        InstrumentChecked("gauge-1", "zero check", 0.0, 10.0, 2000.0, True),
    ]
    store.append(facts, person="p00", utc=START)
    return store.head()[0] + 1


def file_one(store: Store) -> str:
    """File one unit with the facts that a search goes by."""
    unit = id_of(0)
    part = PartFitted("lot1", "seal", "P-1", 1, "K-1")
    read = ZeroRead("zero1", "unit", 100.0, 1e4, "gauge-1")
    listed = [{"id": "scale-1", "title": "Scale"}, {"id": "gauge-1", "title": "Gauge"}]
    record = {"serial": "T-1", "instruments": listed, **FIGURES}
    facts = [
        AirRead("temperature", 293.15, 0.5, "typed"),
        RebuildOpened(unit, "T-1", FAMILY, "mr-46", 1, "L-1", "A-1"),
        StepSigned(unit, "release", (read,)),
        StepSigned(unit, "kit", (part,)),
        DeviationSigned(unit, "kit", Statement.of(Code.TEXT, text="worn"), "polished"),
        TareProven(unit, "oil", "scale-1", 1e-5, 1e-5, 9, "ST,+0000.0 g"),
        MassCaptured(unit, "oil", "pour", "scale-1", 0.2221, 3e-5, 12, 1e-4, "", "ST,+0222.1 g"),
        ScaleResponded("scale-1", 0.4, (0.1,), 0.3),
        HoldTested(unit, "charge", 15e5, 15e5, 300.0, 0.0, 1e-4, 2e-3, "pass", ""),
        UnitFiled(unit, "T-1", "pass", False, record),
    ]
    store.append(facts, person="p00", utc=START + APART)
    return unit


def grow(path: Path, sizes: list[int], rounds: int) -> None:
    """Make the file larger and larger, and ask it at each size."""
    with open_store(path, BENCH) as store:
        first = found(store)
        unit = file_one(store)
        with store._writing() as connection:
            template = Template(connection, BENCH, unit, first)
    done = 0
    for size in sizes:
        began = time.perf_counter()
        while done < size:
            some = min(20_000, size - done)
            with open_store(path, BENCH) as store, store._writing() as connection:
                connection.exec_driver_sql("PRAGMA cache_size=-400000")
                template.connection = connection
                template.clone(done + 1, some, names)
            done += some
        took = time.perf_counter() - began
        print(
            f"\n{done:,} units after {took:.0f} s, {path.stat().st_size / 1e9:.2f} GB", flush=True
        )
        ask(path, done, rounds)


def grow_shop(folder: Path, sizes: list[int], rounds: int) -> None:
    """Make a shop's database larger and larger, and ask it at each size."""
    programs = server_programs()
    assert programs is not None, "no PostgreSQL server is installed"
    server = ShopServer(programs)
    try:
        name = server.new_database()
        with closing(_Engine(server.address(name))) as owner:
            bring_up_to_date(owner.engine, START)
            shop = ShopDatabase(server, name)
            with open_store(folder / "first.sqlite", BENCH) as store:
                first = found(store)
                unit = file_one(store)
                shop.take(store)
            desk = shop.login_address(SHOP_DESK)
            with open_shop(desk) as opened:
                opened.catch_up()
            _grow_shop(owner.engine, desk, (unit, first), sizes, rounds)
    finally:
        server.remove()


class _Engine:
    def __init__(self, address: ShopAddress) -> None:
        self.engine = shop_engine(address, statement_timeout_s=0)

    def close(self) -> None:
        self.engine.dispose()


def _grow_shop(
    owner: Engine, desk: ShopAddress, one: tuple[str, int], sizes: list[int], rounds: int
) -> None:
    with owner.begin() as connection:
        # The owner writes here what benches and desk would.
        connection.exec_driver_sql("ALTER TABLE journal DISABLE TRIGGER USER")
        template = Template(connection, BENCH, *one)
    done = 0
    for size in sizes:
        began = time.perf_counter()
        while done < size:
            some = min(20_000, size - done)
            with owner.begin() as connection:
                template.connection = connection
                template.clone(done + 1, some, names)
                seq, own = journal.head(connection, BENCH)
                stands = update(projected).where(projected.c.bench == BENCH)
                connection.execute(stands.values(seq=seq, hash=own))
            done += some
        with owner.connect().execution_options(isolation_level="AUTOCOMMIT") as connection:
            connection.exec_driver_sql("VACUUM ANALYZE")
            query = "SELECT pg_database_size(current_database()) / 1e9"
            size_gb = connection.exec_driver_sql(query).scalar_one()
        took = time.perf_counter() - began
        print(f"\n{done:,} units after {took:.0f} s, {size_gb:.2f} GB", flush=True)
        with open_shop(desk) as store:
            ask_store(store, done, rounds)


def ask(path: Path, units: int, rounds: int) -> None:
    """Print the p95 of every question, and how long the file's opening and a start's reads take."""
    with open_store(path, BENCH, read_only=True) as store:
        ask_store(store, units, rounds)
    _show("opening the file", lambda: open_store(path, BENCH, read_only=True).close(), 5)
    with open_store(path, BENCH, read_only=True) as store:
        _show("what a start reads", lambda: _start(store), 5)


def ask_store(store: ChainStore, units: int, rounds: int) -> None:
    """Print the p95 of every question."""
    records, rng = Records(store), random.Random(1)
    forward = records.find("")
    questions: dict[str, Callable[[], object]] = {
        "a serial": lambda: records.find(f"MR-{rng.randint(1, units):07}"),
        "a serial that is not there": lambda: records.find(f"XR-{rng.randint(1, units):07}"),
        "the beginning of serials": lambda: records.find(f"mr-{rng.randint(0, units):07}"[:8]),
        "text within": lambda: records.find(f"{rng.randint(1, units):07}"[3:]),
        "an order": lambda: records.find(f"WO-{rng.randint(1, units) // 4:06}"),
        "an oil lot": lambda: records.find(f"L-{rng.randint(1, units) // PER_LOT:05}"),
        "a part lot, exactly": lambda: records.find(
            words_for_lot(f"K-{rng.randint(1, units) // PER_LOT:05}")
        ),
        "a technician": lambda: records.find(f"Person {rng.randrange(PEOPLE):02}"),
        "an instrument": lambda: records.find("gauge-1"),
        "how many rest on it": lambda: records.about("gauge-1"),
        "since the last good check": lambda: records.find(f"gauge-1{SINCE}"),
        "how many since then": lambda: records.about(f"gauge-1{SINCE}"),
        **_filters(records, rng, units),
        "a period": lambda: records.find(_month(rng, units)),
        "the newest": lambda: records.find(""),
        "a page forward": lambda: _forward(records, forward),
    }
    for name, question in (questions | _charts(store, rng, units)).items():
        _show(name, question, rounds)


def _charts(store: ChainStore, rng: random.Random, units: int) -> dict[str, Callable[[], object]]:
    """Return what the page Quality asks, with the yields of the last three months of the units."""
    page = Quality(store, lambda: START + units * APART)

    def chart(**of: object) -> QualityView:
        return page.view(QualityQuestion(family=FAMILY, **of), UnitSystem.METRIC)

    values = [rng.gauss(0.0, 1.0) for _ in range(500)]
    return {
        "chart, a family's last 500": lambda: chart(count=500),
        "chart, a technician's 200": lambda: chart(
            by="technician", name=f"p{rng.randrange(20):02}"
        ),
        "chart, an instrument's 500": lambda: chart(
            by="instrument", name=f"scale-1 at {BENCH}", count=500
        ),
        "chart, an oil lot": lambda: chart(by="lot", name=f"L-{rng.randint(0, units) // 500:05}"),
        "yield of a month": lambda: yield_between(
            store, Quantity.OIL, Group(FAMILY), *months_before(START + units * APART, 1)[0]
        ),
        "500 values evaluated": lambda: evaluate(values, -4.0, 4.0),
    }


def _filters(records: Records, rng: random.Random, units: int) -> dict[str, Callable[[], object]]:
    """Return what the filters of the page ask, each with how many that are."""

    def both(text: Callable[[], str]) -> Callable[[], object]:
        def ask() -> object:
            question = text()
            return records.find(question), records.about(question)

        return ask

    def month() -> str:
        month = _month(rng, units)
        return f"from:{month} to:{month}"

    def week() -> str:
        day = START + rng.randint(1, units) * APART
        return f"from:{day:%Y-%m-%d} to:{day + timedelta(days=6):%Y-%m-%d}"

    return {
        "filter: a serial": both(lambda: filtered(serial=f"MR-{rng.randint(1, units):07}")),
        "filter: an oil lot": both(lambda: f"lot:L-{rng.randint(1, units) // PER_LOT:05}"),
        "filter: a seal kit": both(lambda: f"part:K-{rng.randint(1, units) // PER_LOT:05}"),
        "filter: an order": both(lambda: f"order:WO-{rng.randint(1, units) // 4:06}"),
        "filter: filed by in a week": both(lambda: f"filed:p{rng.randrange(PEOPLE):02} {week()}"),
        "filter: held or rejected": both(lambda: 'qa:"on hold or rejected"'),
        "filter: deviations by whom": both(
            lambda: f"deviation:yes accepted:p{rng.randrange(PEOPLE):02} qa:not"
        ),
        "filter: passed in a month": both(lambda: f"verdict:pass {month()}"),
        "filter: never both": both(lambda: "verdict:pass state:aside"),
        "filter: large and large": both(lambda: "verdict:pass qa:rel instrument:gauge-1"),
    }


def _month(rng: random.Random, units: int) -> str:
    return f"{START + rng.randint(1, units) * APART:%Y-%m}"


def _forward(records: Records, last: list[object]) -> None:
    """Ask for the page behind the last one that was given."""
    last[:] = records.find("", last[-1].page_key) or records.find("")


def _start(store: Store) -> None:
    shop_from(store, "shop", BENCH, {})
    day_book(store)
    units_at_hand(store)
    open_alarms(store)
    last_checks(store)
    for kind in (AirRead, ScaleResponded, TareProven):
        newest_of(store, kind)


def _show(name: str, question: Callable[[], object], rounds: int) -> None:
    times, own = [], []
    for _ in range(rounds):
        began, ran = time.perf_counter(), time.thread_time()
        question()
        times.append((time.perf_counter() - began) * 1e3)
        own.append((time.thread_time() - ran) * 1e3)
    p95, own_p95 = (sorted(found)[int(0.95 * (rounds - 1))] for found in (times, own))
    mark = "" if p95 <= GOAL_MS else f"   over {GOAL_MS:.0f} ms"
    median = sorted(times)[rounds // 2]
    print(
        f"{name:>28}: median {median:7.2f} ms   p95 {p95:7.2f} ms   of it this thread "
        f"{own_p95:6.2f} ms{mark}",
        flush=True,
    )


def main() -> int:
    """Grow a file and ask it, or ask one that is there."""
    parser = argparse.ArgumentParser()
    parser.add_argument("sizes", type=int, nargs="*", default=list(SIZES))
    parser.add_argument("--folder", type=Path, default=Path.cwd())
    parser.add_argument("--ask", type=Path)
    parser.add_argument("--shop", action="store_true")
    parser.add_argument("--rounds", type=int, default=ROUNDS)
    given = parser.parse_args()
    if given.ask is not None:
        ask(given.ask, given.sizes[0], given.rounds)
    elif given.shop:
        grow_shop(given.folder, given.sizes, given.rounds)
    else:
        grow(given.folder / "scale.sqlite", given.sizes, given.rounds)
    return 0


if __name__ == "__main__":
    sys.exit(main())
