"""A filed unit whose serial was rebuilt again later: its record is no longer what the unit is."""

from dataclasses import replace
from datetime import UTC, datetime, timedelta

import pytest

from benchstation.domain.disposition import Standing
from benchstation.domain.events import RebuildAbandoned, UnitAmended, UnitDisposed, UnitShipped
from benchstation.store.errors import NotInOrderError
from benchstation.store.queries import earlier_rebuilds, get_unit
from benchstation.store.words_on_units import disposition_of
from tests.filed_records import filing_of
from tests.samples import sample_of


@pytest.fixture
def rebuilt(add, opening):
    """Open and file a rebuild of a serial."""

    def file(unit, serial="MR-2231"):
        add(opening(unit, serial), filing_of(unit, serial))

    return file


def word(unit, text):
    return UnitDisposed(unit, text, "seen")


def standing(store, unit):
    return Standing(get_unit(store, unit).standing)


def told(store, unit, at=None):
    return disposition_of(store, unit, qa_hold=False, told_to=at)


def test_the_filing_of_a_later_rebuild_supersedes_whatever_stood(store, add, rebuilt, opening):
    for text in ("released", "rejected", "held", ""):
        unit = f"of {text}"
        rebuilt(unit)
        add(*([word(unit, text)] if text else ()))
        before = standing(store, unit)
        add(opening(f"{unit} again"))
        assert standing(store, unit) is before, "begun is not filed"
        add(filing_of(f"{unit} again"))
        assert standing(store, unit) is Standing.SUPERSEDED
        assert standing(store, f"{unit} again") is Standing.NOT_RELEASED
        entry = store.entries(unit_id=f"{unit} again", kind="unit.filed")[0]
        later = told(store, unit).superseded
        assert (later.bench, later.entry, later.hash) == (entry.bench, entry.seq, entry.hash)
        assert later.stood is before
    assert store.verify().ok


def test_another_serial_or_a_rebuild_that_was_given_up_supersedes_nothing(
    store, add, rebuilt, opening
):
    rebuilt("u1")
    rebuilt("u2", "MR-22310")
    add(opening("u3"), RebuildAbandoned("u3", "scanned by mistake"))
    assert standing(store, "u1") is Standing.NOT_RELEASED
    assert told(store, "u1").superseded is None


def test_the_serial_counts_as_it_is_amended(store, add, rebuilt):
    rebuilt("u1")
    rebuilt("u2", "MR-9")
    rebuilt("u3", "MR-9")
    amend = UnitAmended("u3", "serial", "MR-9", "mr-2231", "typed wrong", "lea")
    add(amend)
    assert [standing(store, unit) for unit in ("u1", "u2", "u3")] == [
        Standing.SUPERSEDED, Standing.NOT_RELEASED, Standing.NOT_RELEASED,
    ]  # fmt: skip
    at = store.head()[0]
    assert told(store, "u1", at).superseded is not None
    assert told(store, "u1", at - 1).superseded is None
    assert told(store, "u2", at - 1).superseded is not None
    assert store.verify().ok


def test_who_asks_for_an_earlier_entry_hears_what_stood_then(store, add, rebuilt):
    rebuilt("u1")
    add(word("u1", "released"))
    then = store.head()[0]
    rebuilt("u2")
    assert told(store, "u1", then).standing is Standing.RELEASED
    assert told(store, "u1").standing is Standing.SUPERSEDED


def test_a_superseded_unit_is_neither_released_nor_shipped(store, add, rebuilt):
    rebuilt("u1")
    add(word("u1", "released"))
    rebuilt("u2")
    for event in (
        word("u1", "released"),
        replace(sample_of(UnitShipped), unit_id="u1", customer="Kim"),
    ):
        with pytest.raises(NotInOrderError, match=r"later rebuild|superseded"):
            add(event)
    add(word("u1", "rejected"))
    assert told(store, "u1").superseded.stood is Standing.REJECTED


def test_the_first_of_several_later_filings_is_named(store, rebuilt):
    for unit in ("u1", "u2", "u3"):
        rebuilt(unit)
    first = store.entries(unit_id="u2", kind="unit.filed")[0]
    assert told(store, "u1").superseded.entry == first.seq
    assert [standing(store, unit) for unit in ("u1", "u2")] == [Standing.SUPERSEDED] * 2


def test_tables_made_again_say_the_same(store, add, rebuilt):
    rebuilt("u1")
    rebuilt("u2")
    add(word("u1", "held"))
    store.rebuild_projections()
    assert standing(store, "u1") is Standing.SUPERSEDED
    assert store.verify().ok


@pytest.mark.parametrize("back", [timedelta(minutes=1), timedelta(days=400)], ids=str)
def test_a_clock_that_was_set_back_makes_no_later_rebuild_an_earlier_one(store, opening, back):
    start = datetime(2026, 3, 4, 9, tzinfo=UTC)
    for unit, utc in (("u1", start), ("u2", start - back), ("u3", start - back / 2)):
        store.append([opening(unit), filing_of(unit)], person="ines", utc=utc)
    assert [standing(store, unit) for unit in ("u1", "u2", "u3")] == [
        Standing.SUPERSEDED, Standing.SUPERSEDED, Standing.NOT_RELEASED,
    ]  # fmt: skip
    filed = {e.event.unit_id: e.seq for e in store.entries(kind="unit.filed")}
    found = {unit: told(store, unit).superseded for unit in filed}
    assert found.pop("u3") is None
    assert {unit: later.entry for unit, later in found.items()} == {
        "u1": filed["u2"],
        "u2": filed["u3"],
    }
    assert [row.unit_id for row in earlier_rebuilds(store, "MR-2231")] == ["u3", "u2", "u1"]
    assert store.verify().ok
