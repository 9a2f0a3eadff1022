import threading
from dataclasses import replace

import pytest

from benchstation.domain.events import EventError, RebuildAbandoned, UnitFiled
from benchstation.domain.inputs.zero import ZeroRead
from benchstation.domain.unit_record import UnitRecord
from benchstation.store.errors import NotOnRecordError
from benchstation.store.queries import (
    LotUse,
    earlier_rebuilds,
    get_unit,
    record_of,
    units_with_instrument,
    units_with_lot,
    use_of_lots,
)
from benchstation.store.search import find_units
from tests.samples import sample_of


@pytest.fixture(scope="module")
def many(tmp_path_factory):
    """500 units filed a minute apart, four at the same moment."""
    from datetime import UTC, datetime, timedelta

    from benchstation.domain.events import RebuildOpened, StepSigned
    from benchstation.store.engine import open_store

    start = datetime(2026, 3, 4, tzinfo=UTC)
    with open_store(tmp_path_factory.mktemp("many") / "records.db", "bench-1") as store:
        with store.bulk():
            for n in range(500):
                # Names in no order of time, so that nothing comes out right by luck.
                unit, serial = f"u{n * 7919 % 500:03}", f"MR-{n % 100:03}/A"
                opened = RebuildOpened(unit, serial, "Carrier" if n % 2 else "Sledge", "s", 1,
                                       f"Lot_{n % 5}%")  # fmt: skip
                read = ZeroRead("zero1", "unit", 100.0, 1e4, f"gauge-{n % 3}")
                signed = StepSigned(unit, "release", (read,))
                store.append(
                    [opened, signed, UnitFiled(unit, serial, "pass", False, {"n": n})],
                    person="ines",
                    utc=start + timedelta(minutes=n // 4),
                )
        yield store


def pages(store, text="", **how):
    found, before = [], ""
    while page := find_units(store, text, before=before, **how):
        assert len(page) <= how.get("limit", 50)
        found.append(page)
        before = page[-1].page_key
    return found


@pytest.mark.parametrize("limit", [1, 7, 50, 500, 501])
def test_pages_have_no_gaps_and_no_doubles(many, limit):
    rows = [row for page in pages(many, limit=limit) for row in page]
    assert len(rows) == 500
    assert {row.unit_id for row in rows} == {f"u{n:03}" for n in range(500)}
    keys = [(row.sort_utc, row.unit_id) for row in rows]
    assert keys == sorted(keys, reverse=True)


def test_a_page_stays_put_when_new_units_come_in(store, add, opening, filing):
    for n in range(6):
        add(opening(f"u{n}", f"MR-{n}"), filing(f"u{n}"))
    first = find_units(store, limit=3)
    add(opening("u9", "MR-9"), filing("u9"))
    second = find_units(store, before=first[-1].page_key, limit=3)
    assert [row.unit_id for row in (*first, *second)] == ["u5", "u4", "u3", "u2", "u1", "u0"]


def test_pages_of_a_search(many):
    rows = [row for page in pages(many, "carrier", limit=7) for row in page]
    assert len({row.unit_id for row in rows}) == len(rows) == 250
    assert {row.family for row in rows} == {"Carrier"}


@pytest.mark.parametrize(
    ("text", "count"),
    [
        ("MR-0", 500), ("mr-01", 50), ("07/a", 5), ("  MR-007/A ", 5), ("SLEDGE", 250),
        ("lot_3%", 100), ("_", 500), ("%", 500), ("t_", 500), ("nothing", 0), ("MR_007", 0),
        ("'; DROP TABLE unit; --", 0), ("", 500),
    ],
)  # fmt: skip
def test_text_is_found_anywhere_whatever_its_case(many, text, count):
    assert len(find_units(many, text, limit=1_000)) == count


def test_search_by_state(store, add, opening, filing):
    add(opening("u1"), filing("u1"))
    add(opening("u2"), RebuildAbandoned("u2", "bent"))
    add(opening("u3"))
    found = {
        s: [u.unit_id for u in find_units(store, state=s)] for s in ("open", "filed", "abandoned")
    }
    assert found == {"open": ["u3"], "filed": ["u1"], "abandoned": ["u2"]}


def test_letters_beyond_ascii_have_no_case_either(store, add, opening):
    add(opening(serial="Größe-Ä1"))
    assert [u.serial for u in find_units(store, "GRÖSSE-ä")] == ["Größe-Ä1"]


def test_earlier_rebuilds_are_all_of_that_serial_and_no_other(many):
    rows = earlier_rebuilds(many, "mr-007/a")
    assert [row.serial for row in rows] == ["MR-007/A"] * 5
    assert [row.opened_seq for row in rows] == sorted((r.opened_seq for r in rows), reverse=True)
    assert earlier_rebuilds(many, "MR-007") == []


def test_recalls_by_lot_and_by_instrument(many):
    assert len(units_with_lot(many, "Lot_3%")) == 100
    assert units_with_lot(many, "Lot_3") == []
    rows = units_with_instrument(many, "gauge-1")
    assert len(rows) == 167
    assert [r.sort_utc for r in rows] == sorted((r.sort_utc for r in rows), reverse=True)


def test_the_record_of_a_unit(many, store, add, opening):
    with pytest.raises(EventError, match="does not have the form that this version knows"):
        record_of(many, "u000")
    filed = replace(sample_of(UnitRecord), instruments=())
    add(opening("filed"), UnitFiled("filed", "MR-1", "pass", False, filed.as_json()))
    assert record_of(store, "filed") == filed
    add(opening("open"))
    for unit in ("open", "none"):
        with pytest.raises(NotOnRecordError, match="no filed record"):
            record_of(store, unit)
    with pytest.raises(NotOnRecordError, match="no rebuild 'none'"):
        get_unit(store, "none")


@pytest.mark.parametrize("before", ["junk", "2026 u1", " u1"])
def test_a_page_key_that_is_none_is_refused(many, before):
    with pytest.raises(ValueError):
        find_units(many, before=before)


def test_other_threads_read_while_one_writes(store, add, opening, filing, lot):
    """Each reader sees whole appends only, and never waits for the writer."""
    stop, seen = threading.Event(), []

    def read():
        while not stop.is_set():
            rows = find_units(store, limit=500)
            whole = all(row.state == "filed" for row in rows)
            seen.append(whole and len(store.entries(kind="unit.filed")) >= len(rows))

    readers = [threading.Thread(target=read) for _ in range(3)]
    for reader in readers:
        reader.start()
    for n in range(60):
        add(opening(f"u{n}"), filing(f"u{n}"))
    stop.set()
    for reader in readers:
        reader.join()
    assert len(seen) >= len(readers)
    assert all(seen)
    assert len(find_units(store, limit=500)) == 60


def test_use_of_lots_counts_units_and_sums_their_oil(store, add, opening, samples):
    judged = samples["oil.judged"]
    add(opening("u1", "MR-1", lot="L-1"))
    add(replace(judged, unit_id="u1", net_shown_kg=0.3))
    add(replace(judged, unit_id="u1", net_shown_kg=0.2), RebuildAbandoned("u1", "no time"))
    add(opening("u2", "MR-2", lot="L-1"), RebuildAbandoned("u2", "no time"))
    add(opening("u3", "MR-3", lot="L-2"))
    assert use_of_lots(store, ["L-1", "l-2", "L-3"]) == {
        "L-1": LotUse(2, 1, 0.2),
        "L-2": LotUse(1, 0, 0.0),
    }
