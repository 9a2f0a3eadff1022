"""The demo shop's past is made by the bench's own code and stands up to verification."""

from datetime import date

import pytest

from benchstation.demo import shop as demo
from benchstation.demo.history import make_history
from benchstation.domain.events import UnitFiled
from benchstation.store.engine import open_store
from benchstation.store.search import find_units

TODAY = date(2026, 3, 3)
UNITS = 12


@pytest.fixture(scope="module")
def past(tmp_path_factory):
    with open_store(tmp_path_factory.mktemp("past") / "s.sqlite", demo.BENCH) as store:
        told = []
        make_history(store, TODAY, UNITS, lambda done, total: told.append((done, total)))
        yield store, told


def test_every_unit_is_filed_and_found(past):
    store, told = past
    assert len(store.entries(kind=UnitFiled.kind)) == UNITS
    assert len(find_units(store, "MR-", limit=100)) == UNITS
    assert told[-1] == (UNITS - 1, UNITS)


def test_the_journal_is_sound(past):
    store, _ = past
    verified = store.verify()
    assert verified.ok, verified.problem


def test_it_all_happened_before_today(past):
    store, _ = past
    assert all(e.utc.date() < TODAY for e in store.entries())


def test_units_differ_as_real_ones_do(past):
    store, _ = past
    rows = find_units(store, limit=100)
    off = {round((r.net_oil_kg - r.target_kg) * 1e6) for r in rows}
    assert len(off) > UNITS / 2
    assert all(abs(r.net_oil_kg - r.target_kg) < 4e-3 for r in rows)
    assert len({r.specification_id for r in rows}) > 1


def test_the_same_seed_makes_the_same_past(past, tmp_path):
    store, _ = past
    with open_store(tmp_path / "again.sqlite", demo.BENCH) as again:
        make_history(again, TODAY, 2)
        for old, new in zip(
            store.entries(kind=UnitFiled.kind), again.entries(kind=UnitFiled.kind), strict=False
        ):
            was, now = old.event.record, new.event.record
            assert was["oil"]["net_shown_kg"] == now["oil"]["net_shown_kg"]
            assert was["charge"]["gauge_pa"] == now["charge"]["gauge_pa"]
