"""Finding by what a person types: exact names, then beginnings, then text anywhere."""

import random
import re
from datetime import timedelta

import pytest
from sqlalchemy import event

from benchstation.domain.events import (
    InstrumentChecked,
    OrderedUnit,
    OrderPlaced,
    RebuildAbandoned,
    RebuildOpened,
    StepSigned,
    UnitDisposed,
    UnitFiled,
)
from benchstation.domain.inputs.part import PartFitted
from benchstation.domain.inputs.text import Written
from benchstation.domain.inputs.zero import ZeroRead
from benchstation.store.engine import open_store
from benchstation.store.open_alarms import open_alarms
from benchstation.store.order_queries import find_orders, last_lot_of, units_at_hand
from benchstation.store.queries import (
    earlier_rebuilds,
    get_unit,
    last_part_lots,
    record_of,
    units_with_lot,
    units_with_part_lot,
)
from benchstation.store.recall import count_in, doubt_about, last_checks, units_in, units_since
from benchstation.store.search import Match, find_units, match_of, units_with_lot_named
from tests.store.conftest import START

FAMILIES = ("MR 46 front", "MR 46 rear", "K-6")


def serials(rows):
    return [row.serial for row in rows]


@pytest.fixture
def rebuilt(store, clock):
    """Open, work on and file one unit."""
    numbers = iter(range(10_000))

    def rebuild(serial, *, order="", lot="L-1", part="", family="MR", by="ines", filed_by=""):
        unit = f"u{next(numbers):04}"
        opened = RebuildOpened(unit, serial, family, "s", 1, lot, order)
        parts = (PartFitted("lot1", "seal", "P-1", 1, part),) if part else ()
        signed = StepSigned(unit, "kit", (*parts, ZeroRead("zero1", "unit", 1.0, 1e4, "gauge-1")))
        store.append([opened, signed], person=by, utc=clock())
        filed = UnitFiled(unit, serial, "pass", False, {})
        store.append([filed], person=filed_by or by, utc=clock())

    return rebuild


def test_the_whole_name_comes_first_then_beginnings_then_text_within(store, rebuilt):
    for serial in ("K-60", "AK-6", "K-6", "X-1", "K-600", "k-6"):
        rebuilt(serial)
    assert serials(find_units(store, "K-6")) == ["k-6", "K-6", "K-600", "K-60", "AK-6"]
    assert serials(find_units(store, "k-60")) == ["K-60", "K-600"]


def test_serial_then_order_then_lot_then_part_lot(store, rebuilt):
    rebuilt("within", order="AK-6")
    rebuilt("K-6")
    rebuilt("by part", part="K-6")
    rebuilt("by lot", lot="K-6")
    rebuilt("by order", order="K-6")
    rebuilt("begins", lot="K-61")
    names = ["K-6", "by order", "by lot", "by part", "begins", "within"]
    assert serials(find_units(store, "K-6")) == names
    assert serials(units_with_lot_named(store, "k-6")) == ["by lot", "by part"]


def test_who_opened_and_who_filed(store, rebuilt):
    rebuilt("a", by="ines")
    rebuilt("b", by="jo", filed_by="ines")
    rebuilt("c", by="jo")
    assert serials(find_units(store, "ines", technicians={"ines": Match.EXACT})) == ["a", "b"]
    found = find_units(store, "o", technicians={"jo": Match.WITHIN})
    assert serials(found) == ["c", "b"]
    assert [row.filed_by for row in found] == ["jo", "ines"]


@pytest.mark.parametrize(
    ("text", "match"),
    [("Ines", Match.EXACT), ("ines aller", Match.EXACT), ("all", Match.BEGINS),
     ("nes", Match.WITHIN), ("x", None), ("  ", None)],
)  # fmt: skip
def test_how_well_a_name_fits(text, match):
    assert match_of(text, ("p7", "Ines Aller", "Ines", "Aller")) is match


def test_a_period(store, rebuilt, clock):
    for n in range(6):
        rebuilt(f"s{n}")
    times = [row.sort_utc for row in reversed(find_units(store))]
    period = times[1], times[4]
    assert serials(find_units(store, "2026-03", period=period)) == ["s3", "s2", "s1"]
    rebuilt("2026-03")
    assert serials(find_units(store, "2026-03", period=period))[0] == "2026-03"


@pytest.mark.parametrize("state", ["open", "filed"])
def test_a_search_in_one_state(store, rebuilt, add, opening, state):
    rebuilt("MR-1")
    add(opening("open", "MR-12"))
    found = {"open": ["MR-12"], "filed": ["MR-1"]}[state]
    assert serials(find_units(store, "mr", state=state)) == found
    assert serials(find_units(store, state=state)) == found


@pytest.mark.parametrize(
    "before", ["junk", "2026 u1", "{}", "[]", "[99]", '["a"]', '[0, "a"]', "[0, 1, 2, 3, 4]"]
)
def test_a_place_that_is_none_is_refused(store, before):
    with pytest.raises(ValueError):
        find_units(store, "x", before=before)


class Drawn:
    """A shop whose few names are found in one another, and the plain answer to a search."""

    def __init__(self, store, seed):
        rng = random.Random(seed)
        names = ["k-6", "K-60", "ak-6", "6", "k", "-", "K-6K-6", "aaa"]
        self.units = {}
        for n in range(60):
            unit, serial = f"u{rng.randrange(10**6):06}{n}", rng.choice(names)
            order, lot, family = rng.choice(["", *names]), rng.choice(names), rng.choice(FAMILIES)
            parts = [rng.choice(names) for _ in range(rng.randrange(3))]
            remark = rng.choice(["", "x " * 40 + rng.choice(names)])
            evidence = [PartFitted(f"lot{i}", "seal", "P", 1, p) for i, p in enumerate(parts)]
            evidence += [Written("text1", "Remarks", remark)] if remark else []
            evidence.append(ZeroRead("zero1", "unit", 1.0, 1e4, f"i-{rng.randrange(2)}"))
            events = [
                RebuildOpened(unit, serial, family, "s", 1, lot, order),
                StepSigned(unit, "kit", tuple(evidence)),
                UnitFiled(unit, serial, "pass", False, {}),
            ]
            # Some are filed at one moment.
            store.append(events, person="ines", utc=START + timedelta(minutes=n // 3))
            self.units[unit] = [serial, order, lot, family, *parts], remark

    def holding(self, text):
        key = text.casefold()
        return {
            unit
            for unit, (names, remark) in self.units.items()
            if any(key in name.casefold() for name in names)
            or any(remark[at:].casefold().startswith(key) for at in _starts(remark))
        }

    def rank(self, unit, text):
        names = [name.casefold() for name in self.units[unit][0]]
        key = text.casefold()
        return 0 if key in names else 1 if any(n.startswith(key) for n in names) else 2


def _starts(text):
    return [found.start() for found in re.finditer(r"\S+", text)]


@pytest.mark.parametrize("seed", range(3))
def test_every_page_length_gives_every_unit_once_the_best_first(store, seed):
    drawn = Drawn(store, seed)
    for text in ("k-6", "K", "6", "-", "a", "front", "MR 46", "none", "k-6k-6", "x x"):
        wholly = [row.unit_id for row in find_units(store, text, limit=1_000)]
        assert len(set(wholly)) == len(wholly)
        assert set(wholly) == drawn.holding(text)
        ranks = [drawn.rank(unit, text) for unit in wholly]
        assert ranks == sorted(ranks)
        for limit in (1, 7):
            paged, before = [], ""
            while page := find_units(store, text, before=before, limit=limit):
                paged += [row.unit_id for row in page]
                before = page[-1].page_key
            assert paged == wholly


def test_units_since_the_last_good_check_a_page_at_a_time(store, add):
    def measured(unit, *gauges):
        add(RebuildOpened(unit, unit, "MR", "s", 1, "L"))
        for gauge in gauges:
            add(StepSigned(unit, gauge, (ZeroRead("zero1", "unit", 1.0, 1e4, gauge),)))
        add(RebuildAbandoned(unit, "bent"))

    for n in range(5):
        measured(f"before{n}", "g-1", "g-2")
    for gauge in ("g-1", "g-2"):
        add(InstrumentChecked(gauge, "zero check", 0.0, 1.0, 2.0, True))
    for n in range(5):
        measured(f"u{n}", "g-1", *(["g-2"] if n % 2 else []))
        add(InstrumentChecked("g-1", "zero check", 0.0, 9.0, 2.0, False))
    whole = [row.unit_id for row in units_since(store, ["g-2", "g-1"], limit=100)]
    assert whole == ["u3", "u1", "u4", "u2", "u0"]
    paged, before = [], ""
    while page := units_since(store, ["g-2", "g-1"], before=before, limit=2):
        paged += [row.unit_id for row in page]
        before = page[-1].page_key
    assert paged == whole
    doubt = doubt_about(store, "g-1")
    assert list(units_in(store, "g-1", doubt)) == [f"u{n}" for n in range(5)]
    assert count_in(store, "g-1", doubt) == 5
    assert units_since(store, []) == []


QUESTIONS = {
    "the newest": find_units,
    "a serial": lambda store: find_units(store, "MR-0003"),
    "a beginning": lambda store: find_units(store, "mr-00"),
    "text within": lambda store: find_units(store, "003"),
    "a person": lambda store: find_units(store, "ines", technicians={"ines": Match.EXACT}),
    "an instrument": lambda store: find_units(store, "g", instruments={"gauge-1": Match.EXACT}),
    "a period": lambda store: find_units(
        store, "2026", period=(START, START + timedelta(days=300))
    ),
    "a lot": lambda store: units_with_lot_named(store, "L-3"),
    "one state": lambda store: find_units(store, state="open"),
    "since a check": lambda store: units_since(store, ["gauge-1"]),
    "the last checks": last_checks,
    "open alarms": open_alarms,
    "a page forward": lambda store: find_units(
        store, "MR", before=find_units(store, "MR", limit=9)[-1].page_key
    ),
    "the units at hand": units_at_hand,
    "the last lot": lambda store: last_lot_of(store, ["L-1", "L-2"]),
    "the lots of a family": lambda store: last_part_lots(store, "MR"),
    "orders": lambda store: find_orders(store, START + timedelta(days=300)),
    "a unit": lambda store: get_unit(store, "u0003"),
    "earlier rebuilds": lambda store: earlier_rebuilds(store, "MR-0003"),
    "units with a lot": lambda store: units_with_lot(store, "L-3"),
    "units with a part lot": lambda store: units_with_part_lot(store, "K-3"),
}
"""What a person asks many times a day; each is answered from an index."""


def grown(path, units):
    with open_store(path, "bench-1") as store:
        store.append(
            [InstrumentChecked("gauge-1", "zero check", 0.0, 1.0, 2.0, True)],
            person="ines",
            utc=START,
        )
        with store.bulk():
            for n in range(units):
                unit, serial = f"u{n:04}", f"MR-{n:04}"
                part = PartFitted("lot1", "seal", "P-1", 1, f"K-{n // 20}")
                read = ZeroRead("zero1", "unit", 1.0, 1e4, "gauge-1")
                order, line = f"WO-{n:04}", f"l{n:04}"
                lines = (OrderedUnit(line, serial=serial),)
                events = [
                    OrderPlaced(order, "", "", False, lines),
                    RebuildOpened(unit, serial, "MR", "s", 1, f"L-{n // 20}", order, line=line),
                    StepSigned(unit, "kit", (part, read)),
                    UnitFiled(unit, serial, "pass", False, {}),
                    UnitDisposed(unit, "released", ""),
                ]
                store.append(events, person="ines", utc=START + timedelta(minutes=n))
    return open_store(path, "bench-1", read_only=True)


@pytest.fixture(scope="module")
def few(tmp_path_factory):
    with grown(tmp_path_factory.mktemp("few") / "r.db", 150) as store:
        yield store


@pytest.fixture(scope="module")
def more(tmp_path_factory):
    with grown(tmp_path_factory.mktemp("more") / "r.db", 600) as store:
        yield store


def steps(store, question):
    """Return how many hundreds of instructions SQLite went through for an answer."""
    counted = []

    def begin(connection, *_):
        connection.set_progress_handler(lambda: counted.append(1) and None, 100)

    event.listen(store._readers, "checkout", begin)
    try:
        question(store)
        counted.clear()
        question(store)
    finally:
        event.remove(store._readers, "checkout", begin)
    return len(counted)


@pytest.mark.parametrize("name", QUESTIONS)
def test_an_answer_takes_as_many_steps_among_four_times_the_units(few, more, name):
    before, after = steps(few, QUESTIONS[name]), steps(more, QUESTIONS[name])
    assert after <= 1.3 * before + 5


def test_no_answer_reads_a_whole_table_of_units(more):
    asked = set()

    def note(_, __, statement, parameters, ___, many):
        if not many:
            asked.add((statement, parameters))

    event.listen(more._readers, "before_cursor_execute", note)
    for question in QUESTIONS.values():
        question(more)
    event.remove(more._readers, "before_cursor_execute", note)
    with more.reading() as connection:
        for statement, parameters in asked:
            plan = connection.exec_driver_sql(f"EXPLAIN QUERY PLAN {statement}", parameters)
            for row in plan.mappings():
                # These have few rows whatever was filed.
                few = re.match(r"SCAN (unit_aside|instrument|anon_1|CONSTANT)\b", row["detail"])
                assert few or not row["detail"].startswith("SCAN"), statement


def test_the_record_is_read_by_its_number(few):
    with pytest.raises(Exception, match="form"):
        record_of(few, "u0003")
    assert steps(few, lambda store: get_unit(store, "u0003")) <= 3
