"""What left with a serial: its rebuilds, shipments and returns, each with its entry and hash."""

from dataclasses import replace
from datetime import timedelta

from benchstation.domain.events import (
    ReturnExamined,
    UnitAmended,
    UnitDisposed,
    UnitReturned,
    UnitShipped,
)
from benchstation.store.serial_history import history_of
from tests.filed_records import filing_of
from tests.samples import sample_of


def shipped(unit, customer="Kim"):
    return replace(sample_of(UnitShipped), unit_id=unit, customer=customer)


def rebuilt(add, opening, unit, serial="MR-1"):
    add(opening(unit, serial), filing_of(unit, serial))
    add(UnitDisposed(unit, "released", "seen"))


def test_a_return_is_tied_to_the_next_rebuild_and_all_of_it_is_proven(store, add, opening):
    rebuilt(add, opening, "u1")
    add(shipped("u1"), UnitReturned("u1", "knocks"), ReturnExamined("u1", "bush worn"))
    rebuilt(add, opening, "u2", "mr-1")
    add(shipped("u2", "Lou"))
    rebuilt(add, opening, "u3", "MR-10")
    first, second = history_of(store, " MR-1 ")
    assert [one.row.unit_id for one in (first, second)] == ["u1", "u2"]
    (left,) = first.left
    assert (left.customer, left.back.complaint, left.found) == ("Kim", "knocks", "bush worn")
    assert second.after_return == left
    assert first.after_return is None
    entries = {entry.seq: entry for entry in store.entries()}
    for proof, kind in (
        (first.filed, "unit.filed"),
        (left.proof, "unit.shipped"),
        (left.back_proof, "unit.returned"),
        (second.left[0].proof, "unit.shipped"),
    ):
        entry = entries[proof.entry]
        assert (entry.kind, entry.hash, entry.bench) == (kind, proof.hash, proof.bench)


def test_one_return_is_answered_by_one_rebuild(store, add, opening):
    rebuilt(add, opening, "u1")
    add(shipped("u1"), UnitReturned("u1", "knocks"))
    rebuilt(add, opening, "u2")
    rebuilt(add, opening, "u3")
    assert [bool(one.after_return) for one in history_of(store, "MR-1")] == [False, True, False]


def test_a_return_is_tied_to_the_next_rebuild_when_the_clock_was_set_back(store, add, opening):
    rebuilt(add, opening, "u1")
    add(shipped("u1"), UnitReturned("u1", "knocks"))
    before = store.last_utc() - timedelta(days=2)
    store.append([opening("u2", "MR-1"), filing_of("u2", "MR-1")], person="ines", utc=before)
    first, second = history_of(store, "MR-1")
    assert [one.row.unit_id for one in (first, second)] == ["u1", "u2"]
    assert second.after_return == first.left[0]


def test_an_amended_serial_leads_to_the_history_by_both_names(store, add, opening):
    rebuilt(add, opening, "u1")
    add(UnitAmended("u1", "serial", "MR-1", "MR-7", "typed wrong", "lea"))
    add(shipped("u1"), UnitAmended("u1", "customer", "Kim", "Lou", "typed wrong", "lea"))
    for name in ("MR-1", "MR-7"):
        (one,) = history_of(store, name)
        assert one.row.serial == "MR-7"
        assert [left.customer for left in one.left] == ["Lou"]


def test_a_return_without_a_shipment_on_record_stands_as_such(store, add, opening):
    rebuilt(add, opening, "u1")
    add(UnitReturned("u1", "weeps"))
    (one,) = history_of(store, "MR-1")
    assert one.left == ()
    assert [back.complaint for back, _, _ in one.unshipped] == ["weeps"]


def test_nothing_is_known_of_a_serial_that_was_never_here(store):
    assert history_of(store, "MR-99") == []
