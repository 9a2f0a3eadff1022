import dataclasses
import hashlib
from datetime import datetime, timedelta, timezone

import pytest
import rfc8785

from benchstation.domain.disposition import ABOUT_UNITS
from benchstation.domain.events import (
    EVENT_TYPES,
    CustomerTold,
    OrderedUnit,
    OrderPlaced,
    OrderUnitWithdrawn,
    RebuildAbandoned,
    RecordShown,
    ReturnExamined,
    ShopTaken,
    UnitDisposed,
    UnitFetched,
    UnitReturned,
    UnitSetAside,
    UnitShipped,
)
from benchstation.domain.statements import Gas
from benchstation.store import journal
from benchstation.store.engine import open_store
from benchstation.store.errors import NotStorableError
from benchstation.store.schema import utc_text
from tests.filed_records import filing_of
from tests.samples import sample_of

PHOTO = b"a photograph"
OF_FILED = (*ABOUT_UNITS, RecordShown)


def _before(event):
    """Return what must be on record before an event."""
    match event:
        case UnitFetched():
            return [UnitSetAside(event.unit_id, "oil", "waits", Gas.CHARGED)]
        case UnitShipped():
            return [UnitDisposed(event.unit_id, "released", "seen")]
        case ReturnExamined():
            return [UnitReturned(event.unit_id, "knocks")]
        case CustomerTold():
            released, held = (UnitDisposed(event.unit_id, w, "seen") for w in ("released", "held"))
            left = dataclasses.replace(sample_of(UnitShipped), unit_id=event.unit_id, customer="K")
            return [released, left, held]
        case OrderUnitWithdrawn():
            return [OrderPlaced("A-9", "", "", False, (OrderedUnit(event.line),))]
        case _:
            return []


def test_every_kind_of_event_comes_back_as_it_went(path, samples, opening, filing, clock):
    """Each kind in a rebuild of its own, read by a store opened anew."""
    given = {}
    with open_store(path, "bench-1") as store:
        for n, (kind, sample) in enumerate(samples.items()):
            if kind == ShopTaken.kind:
                continue  # It stands for entries that must be there: see store/shop.
            unit = f"u{n}"
            event = _with_unit(sample, unit)
            first = [] if kind == "unit.opened" else [opening(unit)]
            of_filed = isinstance(event, OF_FILED)
            first += [filing_of(unit)] if of_filed else []
            first += _before(event)
            ended = of_filed or kind in ("unit.filed", "unit.abandoned")
            last = [] if ended else [RebuildAbandoned(unit, "enough")]
            aside = kind in ("unit.set_aside", "unit.waits")
            last = [UnitFetched(unit, "oil"), *last] if aside else last
            photos = {hashlib.sha256(PHOTO).hexdigest(): PHOTO} if kind == "photo.taken" else None
            store.append([*first, event, *last], person="ines", utc=clock(), photos=photos)
            given[kind] = event
    with open_store(path, "bench-1", read_only=True) as again:
        assert again.verify().problem == ""
        for kind, event in given.items():
            entries = [e for e in again.entries(kind=kind) if e.event == event]
            assert len(entries) == 1, kind
            assert (entries[0].kind, entries[0].person) == (kind, "ines")
    assert given.keys() | {ShopTaken.kind} == EVENT_TYPES.keys()


def _with_unit(event, unit):
    if not hasattr(event, "unit_id"):
        return event
    return dataclasses.replace(event, unit_id=unit)


def test_the_chain_can_be_followed_with_the_standard_library_form(store, add, lot):
    """The hash is that of the whole entry's canonical JSON, RFC 8785."""
    first, second = add(lot("L-1"), lot("L-2"))
    assert first.prev == "0" * 64
    assert (first.seq, second.seq, second.prev) == (1, 2, first.hash)
    whole = {
        "bench": "bench-1", "seq": 2, "utc": utc_text(second.utc), "person": "ines",
        "kind": "oil.received", "body": {**second.event.body(), "form": second.event.form},
        "prev": first.hash,
    }  # fmt: skip
    assert second.hash == hashlib.sha256(rfc8785.dumps(whole)).hexdigest()
    assert store.head() == (2, second.hash)


@pytest.mark.parametrize(
    "changed",
    [{"bench": "b"}, {"seq": 3}, {"utc": "t"}, {"person": "p"}, {"kind": "k"}, {"body": b"{}"},
     {"prev": "1" * 64}],
)  # fmt: skip
def test_nothing_of_an_entry_is_left_out_of_its_hash(changed):
    whole = {"bench": "a", "seq": 1, "utc": "u", "person": "n", "kind": "x", "body": b'{"a":1}',
             "prev": "0" * 64}  # fmt: skip
    assert journal.hash_of(**whole) != journal.hash_of(**{**whole, **changed})


def test_what_is_returned_is_what_is_read(store, add, lot, opening, samples):
    entries = add(lot(), opening(), samples["oil.judged"])
    assert store.entries() == entries
    assert store.entries(unit_id="u1") == entries[1:]
    assert store.entries(kind="oil.received") == entries[:1]
    assert store.entries(unit_id="u1", kind="oil.received") == []


def test_a_time_is_kept_to_the_microsecond_in_utc(store, lot):
    local = datetime(2026, 3, 4, 1, 30, 0, 123456, tzinfo=timezone(timedelta(hours=2)))
    store.append([lot()], person="ines", utc=local)
    (entry,) = store.entries()
    assert entry.utc == local
    assert entry.utc.utcoffset() == timedelta(0)


def test_a_time_without_a_zone_is_refused(store, lot):
    with pytest.raises(NotStorableError, match="zone"):
        store.append([lot()], person="ines", utc=datetime(2026, 3, 4))
    assert store.head()[0] == 0


@pytest.mark.parametrize("rho", [float("nan"), float("inf"), None, "heavy"])
def test_what_could_not_be_read_back_never_goes_in(store, add, lot, rho):
    with pytest.raises(NotStorableError):
        add(lot("L-1"), lot("L-2", rho))
    assert store.entries() == []
    add(lot("L-3"))
    assert [e.event.lot for e in store.entries()] == ["L-3"]


def test_a_long_journal_is_read_page_by_page(store, add, lot, monkeypatch):
    add(*[lot(f"L-{n}") for n in range(7)])
    assert [r.seq for r in _rows(store)] == list(range(1, 8))
    page = journal._MINE.where(journal.journal.c.seq > journal.bindparam("last")).limit(3)
    monkeypatch.setattr(journal, "PAGE", 3)
    monkeypatch.setattr(journal, "_PAGE", page)
    assert [r.seq for r in _rows(store)] == list(range(1, 8))


def _rows(store):
    with store.reading() as connection:
        return list(journal.rows(connection, "bench-1"))


@pytest.mark.parametrize(
    ("asked", "index"), [({"unit_id": "u1"}, "ix_journal_unit"), ({"kind": "k"}, "ix_journal_kind")]
)
def test_a_few_entries_are_found_without_walking_the_journal(store, asked, index):
    with store.reading() as connection:
        query = str(journal.selection(**asked).compile(dialect=connection.dialect))
        values = ("x",) * query.count("?")
        plan = connection.exec_driver_sql(f"EXPLAIN QUERY PLAN {query}", values).all()
    steps = [row[3] for row in plan]
    assert any(index in step for step in steps)
    assert any("bench=? AND seq=?" in step for step in steps)
