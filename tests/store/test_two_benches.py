"""Two benches' chains in one database, as a shop has them."""

import random
from contextlib import contextmanager
from dataclasses import replace

import pytest
from sqlalchemy import create_engine, insert, select
from sqlalchemy.dialects import postgresql
from sqlalchemy.pool import StaticPool
from sqlalchemy.schema import CreateIndex, CreateTable

from benchstation.domain.events import (
    OilLotReceived,
    OrderedUnit,
    OrderPlaced,
    PersonEnrolled,
    RebuildAbandoned,
    SpecificationApproved,
    UnitFiled,
)
from benchstation.domain.unit_record import UnitRecord
from benchstation.store import append_rules, journal, projections
from benchstation.store.chain_store import ChainStore
from benchstation.store.engine import open_store
from benchstation.store.errors import NotInOrderError, NotOnRecordError
from benchstation.store.order_queries import find_orders, get_order, units_at_hand
from benchstation.store.queries import (
    LotUse,
    earlier_rebuilds,
    get_unit,
    instruments_behind,
    record_of,
    units_with_lot,
    use_of_lots,
    use_of_materials,
)
from benchstation.store.schema import core, tree_node
from benchstation.store.schema import projections as tables
from benchstation.store.search import find_units
from tests.samples import sample_of
from tests.store.conftest import START

BENCHES = ("bench-1", "bench-2")


@pytest.fixture
def shop():
    """Return a database with the tables of a bench's file, for any number of benches."""
    engine = create_engine(
        "sqlite+pysqlite://", poolclass=StaticPool, connect_args={"check_same_thread": False}
    )
    core.create_all(engine)
    tables.create_all(engine)
    yield engine
    engine.dispose()


class Seen(ChainStore):
    """The records of a shop as one of its benches, or a desk, reads them."""

    where = "the shop"
    append = beside = verify = None

    def __init__(self, engine, bench):
        self._engine, self.bench = engine, bench

    @contextmanager
    def reading(self):
        """Return a connection that sees one snapshot."""
        with self._engine.connect() as connection, connection.begin():
            yield connection


def copied(stores, engine, seed=0):
    """Bring the chains of several benches into one database, each in its order, mixed."""
    chains = []
    for store in stores:
        with store.reading() as connection:
            chains.append(list(journal.rows(connection, store.bench)))
    rng = random.Random(seed)
    with engine.begin() as connection:
        while chains := [chain for chain in chains if chain]:
            row = rng.choice(chains).pop(0)
            connection.execute(insert(journal.journal), row._asdict())
            projections.project(connection, journal.entry_of(row))


def rows(connection, bench):
    return {
        table.name: [
            tuple(row)
            for row in connection.execute(
                select(table).where(table.c.bench == bench).order_by(*table.primary_key)
            )
        ]
        for table in tables.sorted_tables
        if table is not tree_node
    }


@pytest.fixture
def two(tmp_path):
    stores = [open_store(tmp_path / f"{bench}.db", bench) for bench in BENCHES]
    yield stores
    for store in stores:
        store.close()


@pytest.mark.parametrize("seed", range(4))
def test_two_benches_in_one_database_never_change_each_others_rows(two, shop, clock, life, seed):
    for n, store in enumerate(two):
        # The same people, lots, specifications, orders, lines and serials at both.
        store.append(list(life(seed + n, 8)), person="abc"[n], utc=clock())
    copied(two, shop, seed)
    with shop.connect() as connection:
        for store in two:
            with store.reading() as own:
                assert rows(connection, store.bench) == rows(own, store.bench)


def test_the_newest_of_each_bench_is_its_own(two, shop, clock):
    one, other = two
    for store, rho, name in ((one, 850.0, "Ines Aller"), (other, 870.0, "Ines Berg")):
        store.append(
            [
                PersonEnrolled("ines", name, ("technician",)),
                OilLotReceived("L-1", "oil", rho, 5e-4),
                SpecificationApproved("mr-46", 1, "MR 46", name, {}, f"{rho:064}"),
                OrderPlaced("A-1", "", name, False, (OrderedUnit("l1", serial="K-1"),)),
            ],
            person="ines",
            utc=clock(),
        )
    copied(two, shop)
    for bench, rho, name in (("bench-1", 850.0, "Ines Aller"), ("bench-2", 870.0, "Ines Berg")):
        seen = Seen(shop, bench)
        assert seen.people()["ines"].name == name
        assert seen.lots()["L-1"].rho15_kg_m3 == rho
        assert seen.specifications()["mr-46", 1].title == name
        assert get_order(seen, "a-1").note == name
        assert [order.note for order in find_orders(seen, START)] == [name]
        assert len(get_order(seen, "A-1").lines) == 1


def test_one_unit_is_open_at_each_bench(two, shop, clock, opening):
    one, other = two
    one.append([opening("u1", "MR-1")], person="ines", utc=clock())
    other.append([opening("u2", "MR-2")], person="jo", utc=clock())
    copied(two, shop)
    with shop.connect() as connection:
        benches = (*BENCHES, "shop")
        assert [append_rules.open_unit(connection, b) for b in benches] == ["u1", "u2", None]
    assert [u.serial for b in BENCHES for u in units_at_hand(Seen(shop, b))] == ["MR-1", "MR-2"]
    with shop.connect() as connection:
        append_rules.admit(connection, "bench-3", opening("u3"), "ines", "here")
        with pytest.raises(NotInOrderError, match="MR-2 is still on the bench"):
            append_rules.admit(connection, "bench-2", opening("u3"), "ines", "here")
        # The other bench's unit is not this one's.
        with pytest.raises(NotInOrderError, match="was never opened"):
            append_rules.admit(
                connection, "bench-2", RebuildAbandoned("u1", "bent"), "ines", "here"
            )


def test_a_search_answers_for_every_bench(two, shop, clock, opening, filing):
    for n, store in enumerate(two):
        store.append(
            [opening("u1", "MR-1"), filing("u1", "MR-1", bench=n)], person="ines", utc=START
        )
        store.append([opening(f"v{n}", f"MR-1{n}", lot="L-9")], person="jo", utc=clock())
    copied(two, shop)
    seen = Seen(shop, "bench-2")
    found = [(row.bench, row.unit_id) for row in find_units(seen, "mr-1")]
    assert found == [("bench-2", "u1"), ("bench-1", "u1"), ("bench-2", "v1"), ("bench-1", "v0")]
    paged, before = [], ""
    while page := find_units(seen, "mr-1", before=before, limit=1):
        paged += [(row.bench, row.unit_id) for row in page]
        before = page[-1].page_key
    assert paged == found
    assert [row.bench for row in earlier_rebuilds(seen, "MR-1")] == ["bench-2", "bench-1"]
    assert len(units_with_lot(seen, "L-9")) == 2
    assert use_of_lots(seen, ["L-9"])["L-9"] == LotUse(2, 0, 0.0)
    assert use_of_materials(seen, ["L-9"]) == {}
    assert get_unit(seen, "v0").bench == "bench-1"


def test_a_record_is_read_from_the_chain_of_its_own_bench(two, shop, clock, opening, samples):
    known = [replace(samples["instrument.registered"], gain=gain) for gain in (1.0, 2.0)]
    # So that one number means another entry in each chain.
    two[0].append([PersonEnrolled("jo", "Jo", ())], person="ines", utc=clock())
    records = []
    for n, store in enumerate(two):
        records.append(replace(sample_of(UnitRecord), instruments=(), unit_id=f"u{n}"))
        filed = UnitFiled(f"u{n}", f"MR-{n}", "pass", False, records[n].as_json())
        tared = replace(samples["weigh.tared"], unit_id=f"u{n}")
        events = [known[n], opening(f"u{n}", f"MR-{n}"), tared, filed]
        store.append(events, person="ines", utc=clock())
    copied(two, shop)
    for bench in (*BENCHES, "shop"):
        seen = Seen(shop, bench)
        assert [record_of(seen, f"u{n}") for n in range(2)] == records
        assert [instruments_behind(seen, f"u{n}") for n in range(2)] == [[known[0]], [known[1]]]
    with pytest.raises(NotOnRecordError):
        record_of(Seen(shop, "shop"), "u9")


def test_the_tables_can_be_made_on_postgresql():
    dialect = postgresql.dialect()
    for table in (*core.sorted_tables, *tables.sorted_tables):
        assert "CREATE TABLE" in str(CreateTable(table).compile(dialect=dialect))
        for index in table.indexes:
            assert "CREATE INDEX" in str(CreateIndex(index).compile(dialect=dialect))
    assert all("bench" in table.primary_key.columns for table in tables.sorted_tables)
