"""The records of a whole shop: the same rows and answers as each bench's own file gives."""

import threading
from dataclasses import replace
from itertools import product

import pytest
from sqlalchemy import insert, select, text

from benchstation.domain.events import (
    InstrumentChecked,
    OilLotReceived,
    OrderedUnit,
    OrderPlaced,
    PersonEnrolled,
    PhotoTaken,
    SpecificationApproved,
    UnitDisposed,
)
from benchstation.store import journal, order_queries, queries, recall, schema, search
from benchstation.store.backends.postgresql_errors import ShopAwayError, ShopRefusesError
from benchstation.store.bench_key import bench_key
from benchstation.store.engine import open_store
from benchstation.store.errors import (
    BehindError,
    NotInOrderError,
    NotOnRecordError,
    NotStorableError,
    StoreCorruptError,
    StoreError,
    StoreReadOnlyError,
)
from benchstation.store.known_heads import KnownHeads
from benchstation.store.schema import projections as tables
from benchstation.store.shop import projector
from benchstation.store.shop.shop_store import open_shop
from benchstation.store.trust import Trust
from tests.shop_server import WHEN
from tests.store.conftest import START

NAMES = ("i0", "i1", "i2", "i3")


@pytest.fixture
def desk(shop):
    with open_shop(shop.login_address("shop_desk")) as opened:
        yield opened


def past(store, clock, life, samples, seed):
    """A shop's random days, with checks of its instruments between."""
    registered = samples["instrument.registered"]
    for name in NAMES:
        role = "gauge" if name == "i0" else "scale"
        known = replace(registered, instrument_id=name, role=role, serial_number=name)
        store.append([known], person="ines", utc=clock())
    for n, event in enumerate(life(seed, 14)):
        store.append([event], person="ines" if n % 3 else "jo", utc=clock())
        if n % 5 == 0:
            checked = InstrumentChecked(NAMES[n % 4], "zero check", 0.0, 10.0, 2000.0, n % 7 != 0)
            store.append([checked], person="ines", utc=clock())


@pytest.fixture
def bench(tmp_path, clock, life, samples):
    with open_store(tmp_path / "b.db", "bench-1") as opened:
        past(opened, clock, life, samples, 3)
        yield opened


def rows(connection, bench):
    return {
        table.name: [
            tuple(row)
            for row in connection.execute(
                select(table).where(table.c.bench == bench).order_by(*table.primary_key)
            )
        ]
        for table in tables.sorted_tables
    }


def superseded_by_each_other(of_benches):
    """Return the rows of benches as a shop has them: it knows of rebuilds at either."""
    names = [column.name for column in tables.tables["unit"].c]
    serial, state, standing = (names.index(n) for n in ("serial_key", "state", "standing"))
    order = [names.index(n) for n in ("opened_utc", "bench", "opened_seq")]
    last = {}
    for row in (row for found in of_benches.values() for row in found["unit"]):
        if row[state] == "filed":
            place = tuple(row[n] for n in order)
            last[row[serial]] = max(place, last.get(row[serial], place))

    def marked(row):
        later = row[state] == "filed" and tuple(row[n] for n in order) < last[row[serial]]
        return (*row[:standing], "superseded", *row[standing + 1 :]) if later else row

    return {
        bench: {**found, "unit": [marked(row) for row in found["unit"]]}
        for bench, found in of_benches.items()
    }


def texts(store):
    found = search.find_units(store, limit=200)
    return [row.unit_id for row in found], [row.serial for row in found]


SEARCHES = ("", "ab-1", "AB", "l-", "k-1", "mr 46", "A-1", "%", "_", "none")
ASKED = {
    "people": lambda s: s.people(),
    "lots": lambda s: s.lots(),
    "specifications": lambda s: s.specifications(),
    "drafts": lambda s: s.drafts(),
    "instruments": lambda s: s.instruments(),
    "head": lambda s: s.head(),
    "last time": lambda s: s.last_utc(),
    "entries": lambda s: s.entries(),
    "entries of a kind": lambda s: s.entries(kind=InstrumentChecked.kind),
    "entries of units": lambda s: [s.entries(unit_id=unit) for unit in texts(s)[0]],
    "find": lambda s: [search.find_units(s, t, limit=200) for t in SEARCHES],
    "find by state": lambda s: [
        search.find_units(s, state=state, limit=200) for state in ("open", "aside", "filed")
    ],
    "find by people and instruments": lambda s: search.find_units(
        s,
        "nobody",
        technicians={"jo": search.Match.EXACT},
        instruments={"i2": search.Match.BEGINS},
        limit=200,
    ),
    "pages": lambda s: pages(s),
    "earlier": lambda s: [queries.earlier_rebuilds(s, serial) for serial in texts(s)[1]],
    "oil lots": lambda s: [queries.units_with_lot(s, f"L-{n}") for n in range(4)],
    "materials": lambda s: [
        queries.units_with_material(s, "part", number, lot)
        for number, lot in product(("", "P-1", "p-2"), ("K-1", "k-2", "x"))
    ],
    "part lots": lambda s: [queries.units_with_part_lot(s, lot) for lot in ("K-1", "K-2")],
    "any lot": lambda s: [search.units_with_lot_named(s, lot) for lot in ("L-1", "k-1")],
    "last part lots": lambda s: queries.last_part_lots(s, "MR 46"),
    "use of materials": lambda s: queries.use_of_materials(s, ("K-1", "k-2", "x")),
    "use of lots": lambda s: queries.use_of_lots(s, [f"L-{n}" for n in range(4)]),
    "with instrument": lambda s: [queries.units_with_instrument(s, name) for name in NAMES],
    "count with instrument": lambda s: [queries.count_with_instrument(s, n) for n in NAMES],
    "instruments behind": lambda s: [queries.instruments_behind(s, unit) for unit in texts(s)[0]],
    "standing load": lambda s: [queries.standing_load_kg(s, name) for name in NAMES],
    "unit": lambda s: [queries.get_unit(s, unit) for unit in texts(s)[0]],
    "checks": lambda s: [recall.checks_of(s, name) for name in NAMES],
    "last checks": lambda s: recall.last_checks(s),
    "doubts": lambda s: [recall.doubt_about(s, name) for name in NAMES],
    "units in doubt": lambda s: [
        list(recall.units_in(s, name, recall.doubt_about(s, name))) for name in NAMES
    ],
    "how many in doubt": lambda s: [
        recall.count_in(s, name, recall.doubt_about(s, name)) for name in NAMES
    ],
    "pages in doubt": lambda s: recall.units_since(s, NAMES, limit=3),
    "orders": lambda s: order_queries.find_orders(s, START),
    "order": lambda s: [order_queries.get_order(s, name) for name in ("a-1", "A-1", "B")],
    "line": lambda s: [order_queries.get_line(s, f"l{n}") for n in range(15)],
    "lines with serial": lambda s: [
        order_queries.lines_with_serial(s, serial) for serial in texts(s)[1]
    ],
    "units at hand": lambda s: order_queries.units_at_hand(s),
    "last lot": lambda s: order_queries.last_lot_of(s, ["L-0", "L-2"]),
}


def pages(store):
    found, before = [], ""
    for words in ("", "ab", "1"):
        while page := search.find_units(store, words, before=before, limit=3):
            found += page
            before = page[-1].page_key
        before = ""
    return found


@pytest.fixture
def seen(shop, desk, bench):
    shop.take(bench)
    caught = desk.catch_up()
    assert caught.broken == {}
    assert caught.entries == bench.head()[0]
    return desk.of_bench("bench-1")


def test_every_row_is_that_of_the_benchs_own_file(seen, bench):
    with bench.reading() as own, seen.reading() as there:
        wanted = rows(own, "bench-1")
        assert rows(there, "bench-1") == wanted
    filled = {name for name, found in wanted.items() if found}
    assert filled == set(wanted)


def test_every_question_has_the_same_answer_on_both(seen, bench):
    wanted = {what: ask(bench) for what, ask in ASKED.items()}
    assert {what for what, answer in wanted.items() if not answer} <= {"drafts"}
    for what, ask in ASKED.items():
        assert ask(seen) == wanted[what], what


def test_what_is_made_again_from_nothing_is_the_same(shop, desk, seen):
    with seen.reading() as connection:
        before = rows(connection, "bench-1")
    with shop.desk().begin() as connection:
        for table in (*reversed(tables.sorted_tables),):
            connection.execute(text(f"DELETE FROM {table.name}"))
        connection.execute(text("DELETE FROM projected"))
    desk.catch_up()
    with seen.reading() as connection:
        assert rows(connection, "bench-1") == before


def test_two_benches_stand_beside_each_other(shop, desk, bench, tmp_path, clock, life, samples):
    with open_store(tmp_path / "c.db", "bench-2") as other:
        past(other, clock, life, samples, 4)
        # In turns, and the desk between: what is taken in late is not passed over.
        for store in (other, bench):
            shop.take(store)
            desk.catch_up()
        other.append([PersonEnrolled("zoe", "Zoe", ("lead",))], person="zoe", utc=clock())
        shop.take(other)
        assert desk.catch_up().entries == 1
        alone_rows = {}
        for store in (other, bench):
            with store.reading() as own:
                alone_rows[store.bench] = rows(own, store.bench)
        wanted = superseded_by_each_other(alone_rows)
        assert wanted != alone_rows, "a serial was rebuilt again at the other bench"
        with desk.reading() as there:
            for name, own_rows in wanted.items():
                assert rows(there, name) == own_rows
        both = {(row.bench, row.unit_id) for row in search.find_units(desk, limit=200)}
        alone = {
            (row.bench, row.unit_id)
            for store in (other, bench)
            for row in search.find_units(store, limit=200)
        }
        assert both == alone
        assert desk.benches() == ["bench-1", "bench-2"]
        assert len(desk.entries()) == bench.head()[0] + other.head()[0]


def shop_rows(desk):
    with desk.reading() as connection:
        return list(journal.rows(connection, "shop"))


def test_a_bench_that_took_the_shops_chain_has_the_same_rows_in_both(
    shop, desk, tmp_path, opening, filing
):
    line = OrderedUnit("l1", serial="K-1", specification_id="mr-46")
    revisions = [
        SpecificationApproved("mr-46", n, "MR 46", f"Title {n}", {"n": n}, f"{n:064}")
        for n in (1, 2, 3)
    ]
    desk.append([revisions[0], OrderPlaced("A-1", "", "", False, (line,))], person="q", utc=WHEN)
    with open_store(tmp_path / "b.db", "bench-1") as store:
        store.take_shop(shop_rows(desk), WHEN)
        begun = replace(opening("u1", "K-1"), line="l1", specification_id="mr-46")
        store.append([begun], person="ines", utc=WHEN)
        desk.append([revisions[1]], person="q", utc=WHEN)
        store.take_shop(shop_rows(desk)[2:], WHEN)
        store.append([filing("u1", "K-1")], person="ines", utc=WHEN)
        # The bench does not know of this yet.
        desk.append([revisions[2]], person="q", utc=WHEN)
        shop.take(store)
        assert desk.catch_up().broken == {}
        with store.reading() as own, desk.reading() as there:
            assert rows(there, "bench-1") == rows(own, "bench-1")
        assert len(desk.specifications()) == 3
        assert len(desk.of_bench("bench-1").specifications()) == 2
        # From nothing, where the shop's later entries stand from the start.
        with shop.desk().begin() as connection:
            for table in tables.sorted_tables:
                connection.execute(text(f"DELETE FROM {table.name}"))
            connection.execute(text("DELETE FROM projected"))
        desk.catch_up()
        with store.reading() as own, desk.reading() as there:
            assert rows(there, "bench-1") == rows(own, "bench-1")


def test_qas_word_stands_at_the_unit_also_when_all_is_made_again(shop, desk, bench):
    shop.take(bench)
    desk.catch_up()
    filed = search.find_units(desk, state="filed", limit=99)
    # A word of the bench itself would wait here to be taken in.
    unit = next(row.unit_id for row in filed if not row.disposition)
    desk.append([UnitDisposed(unit, "held", "as found")], person="quin", utc=WHEN)
    with shop.desk().begin() as connection:
        for table in tables.sorted_tables:
            connection.execute(text(f"DELETE FROM {table.name}"))
        connection.execute(text("DELETE FROM projected"))
    desk.catch_up()
    assert queries.get_unit(desk, unit).disposition == "held"


def test_desks_that_catch_up_at_once_take_each_entry_once(shop, desk, bench, monkeypatch):
    monkeypatch.setattr(projector, "BATCH", 7)
    shop.take(bench)
    found = []
    threads = [
        threading.Thread(target=lambda: found.append(desk.catch_up().entries)) for _ in range(3)
    ]
    for thread in threads:
        thread.start()
    for thread in threads:
        thread.join()
    assert sum(found) == bench.head()[0]


def test_catching_up_stops_when_it_is_told_to(shop, desk, bench, monkeypatch):
    monkeypatch.setattr(projector, "BATCH", 5)
    shop.take(bench)
    asked = iter([False, False, False, True])
    assert desk.catch_up(lambda: next(asked, True)).entries == 10
    assert desk.catch_up().entries == bench.head()[0] - 10


def test_an_entry_that_was_altered_is_found_and_stops_its_chain_alone(shop, desk, bench, tmp_path):
    with bench.reading() as connection:
        query = select(schema.journal).order_by(schema.journal.c.seq)
        given = [row._asdict() for row in connection.execute(query)]
    given[4]["person"] = "somebody else"
    with shop.bench("bench-1").begin() as connection:
        connection.execute(insert(schema.journal), given)
    with open_store(tmp_path / "c.db", "bench-2") as other:
        other.append([PersonEnrolled("zoe", "Zoe", ("lead",))], person="zoe", utc=WHEN)
        shop.take(other)
    caught = desk.catch_up()
    assert caught.entries == 5
    assert list(caught.broken) == ["bench-1"]
    assert "entry 5" in caught.broken["bench-1"]
    assert "was altered" in caught.broken["bench-1"]


def test_a_trace_and_a_photograph_come_through(shop, desk, tmp_path, trace, opening, samples):
    import hashlib

    made, picture = trace(), b"a photograph"
    sha256 = hashlib.sha256(picture).hexdigest()
    taken = samples[PhotoTaken.kind]
    with open_store(tmp_path / "b.db", "bench-1") as store:
        store.append([opening()], person="ines", utc=WHEN)
        store.append([taken], person="ines", utc=WHEN, traces=[made], photos={sha256: picture})
        shop.take(store)
    assert desk.get_trace(made.sha256).encoded == made.encoded
    assert desk.get_photo(sha256) == picture
    with pytest.raises(NotOnRecordError):
        desk.get_trace("a" * 64)


# --- what the desk adds --------------------------------------------------------------------------


def test_the_desk_adds_to_the_shops_chain_and_sees_it_at_once(desk):
    lot = OilLotReceived("L-7", "oil", 860.0, 5e-4)
    added = desk.append([PersonEnrolled("quin", "Quin", ("qa",)), lot], person="quin", utc=WHEN)
    assert [(e.bench, e.seq) for e in added] == [("shop", 1), ("shop", 2)]
    assert added[1].prev == added[0].hash
    assert desk.head() == (2, added[1].hash)
    assert desk.people()["quin"].name == "Quin"
    assert desk.lots()["L-7"] == lot
    assert desk.entries() == added


def test_qa_holds_a_unit_of_any_bench(shop, desk, bench):
    shop.take(bench)
    desk.catch_up()
    filed = search.find_units(desk, state="filed", limit=1)[0]
    open_one = next(row for row in search.find_units(desk, limit=99) if row.state != "filed")
    desk.append([UnitDisposed(filed.unit_id, "held", "as found")], person="quin", utc=WHEN)
    assert queries.get_unit(desk, filed.unit_id).disposition == "held"
    for unit in (open_one.unit_id, "never"):
        with pytest.raises(NotInOrderError, match="only a filed unit"):
            desk.append([UnitDisposed(unit, "held", "x")], person="quin", utc=WHEN)
    assert desk.head()[0] == 1
    last = desk.entries(unit_id=filed.unit_id)[-1]
    assert (last.bench, last.event.disposition) == ("shop", "held")


def test_nothing_is_kept_of_what_is_refused_in_the_middle(desk):
    good = PersonEnrolled("quin", "Quin", ("qa",))
    with pytest.raises(NotInOrderError):
        desk.append([good, UnitDisposed("never", "held", "x")], person="quin", utc=WHEN)
    with pytest.raises(NotStorableError):
        desk.append([PersonEnrolled("q\0", "Quin", ("qa",))], person="quin", utc=WHEN)
    assert desk.head()[0] == 0
    assert desk.people() == {}


def test_desks_that_add_at_once_lose_nothing(shop, desk):
    with open_shop(shop.login_address("shop_desk")) as other:

        def add(store, who):
            for n in range(8):
                store.append([PersonEnrolled(f"{who}{n}", "A", ("lead",))], person=who, utc=WHEN)

        threads = [threading.Thread(target=add, args=one) for one in ((desk, "a"), (other, "b"))]
        for thread in threads:
            thread.start()
        for thread in threads:
            thread.join()
    found = desk.entries()
    assert [e.seq for e in found] == list(range(1, 17))
    assert [e.prev for e in found[1:]] == [e.hash for e in found[:-1]]
    assert {e.event.person_id for e in found} == {f"{who}{n}" for who in "ab" for n in range(8)}


def test_a_chain_of_a_bench_is_only_read(desk, seen):
    with pytest.raises(StoreReadOnlyError, match="at that bench alone"):
        seen.append([PersonEnrolled("x", "X", ())], person="x", utc=WHEN)


def test_a_login_that_only_reads_adds_nothing(shop, desk):
    with (
        open_shop(shop.login_address("shop_reader")) as reader,
        pytest.raises(ShopRefusesError, match="does not permit"),
    ):
        reader.append([PersonEnrolled("x", "X", ())], person="x", utc=WHEN)
    assert desk.head()[0] == 0


# --- signed heads --------------------------------------------------------------------------------


def test_the_desk_signs_what_it_added_and_finds_a_shop_that_was_rolled_back(shop, tmp_path):
    trust = Trust(bench_key(tmp_path), KnownHeads(tmp_path), tmp_path)
    address = shop.login_address("shop_desk")
    with open_shop(address, trust) as desk:
        added = desk.append([PersonEnrolled("q", "Q", ("qa",))], person="q", utc=WHEN)
        assert desk.proof(added[0]).holds
        desk.append([PersonEnrolled("r", "R", ("qa",))], person="q", utc=WHEN)
    with open_shop(address, trust) as desk:
        assert desk.head()[0] == 2
    with shop.owner.begin() as connection:
        connection.execute(text("ALTER TABLE journal DISABLE TRIGGER USER"))
        connection.execute(text("DELETE FROM journal WHERE bench = 'shop' AND seq = 2"))
        connection.execute(text("UPDATE projected SET seq = 1 WHERE bench = 'shop'"))
    with pytest.raises(BehindError, match="1 are missing"):
        open_shop(address, trust)


# --- what the world does -------------------------------------------------------------------------


def test_a_server_that_ends_is_said_and_the_next_call_works_again(shop, shop_server, desk):
    desk.append([PersonEnrolled("q", "Q", ("qa",))], person="q", utc=WHEN)
    shop_server.stop(at_once=True)
    try:
        with pytest.raises(ShopAwayError, match="does not answer"):
            desk.people()
    finally:
        shop_server.start()
    assert desk.people()["q"].name == "Q"


def test_a_database_without_a_shop_is_refused(empty_database):
    with pytest.raises(StoreCorruptError, match="does not hold a shop"):
        open_shop(empty_database)


def test_one_reading_sees_one_moment(shop, desk):
    with desk.reading() as connection:
        count = text("SELECT count(*) FROM journal")
        before = connection.execute(count).scalar()
        desk.append([PersonEnrolled("q", "Q", ("qa",))], person="q", utc=WHEN)
        assert connection.execute(count).scalar() == before
        with pytest.raises(Exception, match="read-only"):
            connection.execute(text("DELETE FROM unit"))


def test_an_older_form_is_refused(shop):
    with shop.owner.begin() as connection:
        connection.execute(text("UPDATE meta SET value = '0' WHERE key = 'projections'"))
    with pytest.raises(StoreError, match="older version"):
        open_shop(shop.login_address("shop_desk"))
