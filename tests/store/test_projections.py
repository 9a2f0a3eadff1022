import random
from dataclasses import replace
from datetime import timedelta

import pytest

from benchstation.domain.events import (
    AlarmChanged,
    AlarmEpisodeRecorded,
    InstrumentRegistered,
    PersonEnrolled,
    RebuildAbandoned,
    SpecificationApproved,
    UnitDisposed,
)
from benchstation.store.errors import NotStorableError
from benchstation.store.projections import serial_key
from benchstation.store.queries import get_unit, units_with_instrument
from benchstation.store.schema import alarm_episode, projections


def tables(store):
    with store.reading() as connection:
        return {
            table.name: [
                tuple(row)
                for row in connection.execute(table.select().order_by(*table.primary_key))
            ]
            for table in projections.sorted_tables
        }


@pytest.mark.parametrize("seed", range(8))
def test_tables_kept_along_the_way_equal_those_made_again(store, clock, life, seed):
    rng = random.Random(seed)
    events = list(life(seed, 12))
    while events:
        n = rng.randint(1, 5)
        store.append(events[:n], person=rng.choice("abc"), utc=clock())
        del events[:n]
    kept = tables(store)
    assert all(kept.values()), "the story leaves no table empty"
    assert store.verify().problem == ""
    assert store.rebuild_projections() == store.head()[0]
    assert tables(store) == kept


def test_a_units_row_follows_its_events(store, add, opening, filing, samples):
    add(SpecificationApproved("mr-46-front", 3, "MR 46 front", "Front damper", {}, "0" * 64))
    (opened,) = add(opening())
    row = get_unit(store, "u1")
    assert (row.serial, row.title, row.state) == ("MR-2231", "Front damper", "open")
    assert (row.order, row.position, row.oil_lot) == ("WO-7", "left", "L-0417")
    assert (row.technician, row.opened_utc, row.sort_utc) == ("ines", opened.utc, opened.utc)
    assert (row.filed_utc, row.net_oil_kg, row.opened_seq, row.filed_seq) == (None, None, 2, None)
    judged, charged = samples["oil.judged"], replace(samples["charge.captured"], conditions=())
    add(judged, charged)
    row = get_unit(store, "u1")
    assert (row.net_oil_kg, row.target_kg) == (judged.net_shown_kg, judged.target_shown_kg)
    assert row.settled_gauge_pa == charged.settled_gauge_pa
    assert row.target_gauge_pa == charged.target_gauge_pa
    (filed,) = add(filing(), person="jo")
    row = get_unit(store, "u1")
    assert (row.state, row.decision, row.qa_hold) == ("filed", "pass", False)
    assert (row.filed_utc, row.sort_utc, row.filed_seq) == (filed.utc, filed.utc, 5)
    add(UnitDisposed("u1", "released", ""))
    row = get_unit(store, "u1")
    assert (row.disposition, row.technician, row.sort_utc) == ("released", "ines", filed.utc)


def test_an_abandoned_unit_says_so(store, add, opening):
    (_, ended) = add(opening(), RebuildAbandoned("u1", "bent rod"))
    row = get_unit(store, "u1")
    assert (row.state, row.sort_utc, row.filed_utc) == ("abandoned", ended.utc, None)


def test_instruments_are_found_wherever_the_record_names_them(store, add, opening, filing, samples):
    add(opening(), samples["weigh.tared"])
    add(filing(instruments=[{"id": "gauge-1"}, {"id": ""}, {}, "odd"]))
    for name in ("thing", "gauge-1"):
        assert [u.unit_id for u in units_with_instrument(store, name)] == ["u1"]
    assert units_with_instrument(store, "") == []


def test_masters_are_the_newest_of_each(store, add, lot):
    first = PersonEnrolled("ines", "Ines Aller", ("technician",))
    newer = PersonEnrolled("ines", "Ines Aller-Berg", ("lead", "technician"), "hash")
    other = PersonEnrolled("jo", "Jo", ())
    registered = InstrumentRegistered(
        "s", "scale", "Scale", "p", "1", 1.0, 0.0, 1e-4, "a", "b", "c"
    )
    again = InstrumentRegistered("s", "scale", "Scale", "p", "1", 1.1, 0.0, 1e-4, "a", "b", "c")
    revisions = [SpecificationApproved("m", n, "f", "t", {"n": n}, str(n) * 64) for n in (1, 2)]
    add(first, other, newer, lot("L-1"), lot("L-1", 861.0), registered, again, *revisions)
    assert store.people() == {"ines": newer, "jo": other}
    assert store.lots() == {"L-1": lot("L-1", 861.0)}
    assert store.instruments() == {"s": again}
    assert store.specifications() == {("m", 1): revisions[0], ("m", 2): revisions[1]}


def test_an_alarm_episode_from_start_to_record(store, add):
    def changed(state, peak):
        return AlarmChanged("u1", "e1", "high limit", state, peak, peak, 30e5, "hose")

    (first, _) = add(changed("active, unacknowledged", 31e5), changed("normal", 33e5))
    row = episodes(store)["e1"]
    assert (row.state, row.peak_gauge_pa, row.started_utc) == ("normal", 33e5, first.utc)
    assert (row.ended_utc, row.acknowledged_by) == (None, "")
    utc = "2026-03-04T09:00:00.500Z"
    add(AlarmEpisodeRecorded("u1", "e1", "high limit", utc, utc, 33e5, "ines", "opened", ""))
    row = episodes(store)["e1"]
    assert (row.state, row.acknowledged_by, row.reason) == ("normal", "ines", "opened")
    assert row.started_utc == row.ended_utc
    assert row.started_utc.utcoffset() == timedelta(0)


def episodes(store):
    with store.reading() as connection:
        return {row.episode: row for row in connection.execute(alarm_episode.select())}


@pytest.mark.parametrize("serial", ["x" * 201, "a\0b"])
def test_a_name_that_another_database_would_refuse_is_refused_here(store, add, opening, serial):
    with pytest.raises(NotStorableError, match="serial"):
        add(opening(serial=serial))
    assert store.head()[0] == 0
    assert store.open_unit() is None


@pytest.mark.parametrize("utc", ["", "yesterday"])
def test_an_episode_needs_times(store, add, utc):
    with pytest.raises(NotStorableError, match="no times"):
        add(AlarmEpisodeRecorded("", "e1", "high limit", utc, "", None, "", "", ""))


def test_serials_are_compared_without_case_and_composition():
    assert serial_key("Ä-7") == serial_key("ä-7") == serial_key("a\u0308-7")
    assert serial_key("A-7") != serial_key("A7")


def test_making_the_tables_again_can_be_followed_and_stopped(store, add, lot, opening):
    add(opening(), *[lot(f"L-{n}") for n in range(9)])
    kept, seen = tables(store), []
    assert store.rebuild_projections(lambda done, total: seen.append((done, total))) == 10
    assert seen == [(n, 10) for n in range(1, 11)]
    assert store.rebuild_projections(cancelled=lambda: True) == 0
    assert tables(store) == kept
    add(lot("L-9"))
    assert "L-9" in store.lots()
