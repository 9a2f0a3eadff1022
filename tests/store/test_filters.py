"""Filters: each alone and combined, page after page, counted, and never by reading every unit."""

import random
import re
from datetime import timedelta

import pytest
from sqlalchemy import event

from benchstation.domain.disposition import Standing
from benchstation.domain.events import (
    DeviationSigned,
    RebuildOpened,
    StepSigned,
    UnitDisposed,
    UnitFiled,
)
from benchstation.domain.inputs.part import PartFitted
from benchstation.domain.inputs.zero import ZeroRead
from benchstation.store import filters as module
from benchstation.store.filters import (
    MOST_NAMES,
    By,
    Count,
    Filters,
    conditions,
    count_of,
    each_unit,
    names_begun,
    units_that,
)
from benchstation.store.search import find_units
from tests.samples import sample_of
from tests.store.conftest import START

FAMILIES = ("mr 46 front", "mr 46 rear")
PEOPLE = ("anna", "ben", "cleo")
STANDINGS = {"": Standing.NOT_RELEASED, "held": Standing.ON_HOLD, "released": Standing.RELEASED}


class Made:
    """What stands on record of one unit, as the test knows it."""

    def __init__(self, number, rng):
        self.unit = f"u{number:03}"
        self.facts = {
            By.SERIAL: {f"mr-{number:03}"},
            By.FAMILY: {rng.choice(FAMILIES)},
            By.ORDER: {f"wo-{number // 4}"},
            By.LOT: {f"l-{number // 5}"},
            By.PART: {f"k-{number // 7}"},
            By.OPENED: {rng.choice(PEOPLE)},
            By.SIGNED: {rng.choice(PEOPLE)},
            By.FILED: {rng.choice(PEOPLE)},
            By.INSTRUMENT: {rng.choice(("gauge-1", "gauge-2"))},
            By.VERDICT: {rng.choice(("pass", "pass", "fail"))},
            By.ACCEPTED: {rng.choice(PEOPLE)} if rng.random() < 0.3 else set(),
        }
        self.word = rng.choice(tuple(STANDINGS))
        self.facts[By.STANDING] = {STANDINGS[self.word].value}
        self.facts[By.DEVIATION] = {"yes"} if self.facts[By.ACCEPTED] else set()
        self.facts |= {By.STATE: {"filed"}, By.UNIT: {self.unit}}
        self.utc = START + timedelta(hours=number)

    def one(self, by):
        return next(iter(self.facts[by]))

    def keep(self, store):
        part = PartFitted("lot1", "seal", "P-1", 1, self.one(By.PART).upper())
        twice = PartFitted("lot2", "seal", "P-1", 1, self.one(By.PART).upper())
        read = ZeroRead("zero1", "unit", 1.0, 1e4, self.one(By.INSTRUMENT))
        serial, family = self.one(By.SERIAL).upper(), self.one(By.FAMILY).upper()
        lot, order = self.one(By.LOT).upper(), self.one(By.ORDER).upper()
        opened = RebuildOpened(self.unit, serial, family, "s", 1, lot, order)
        store.append([opened], person=self.one(By.OPENED), utc=self.utc)
        signed = StepSigned(self.unit, "kit", (part, twice, read))
        store.append([signed], person=self.one(By.SIGNED), utc=self.utc)
        for person in self.facts[By.ACCEPTED]:
            subject = sample_of(DeviationSigned).subject
            deviation = DeviationSigned(self.unit, "kit", subject, "worn")
            store.append([deviation], person=person, utc=self.utc)
        filed = UnitFiled(self.unit, serial, self.one(By.VERDICT), False, {})
        store.append([filed], person=self.one(By.FILED), utc=self.utc)
        if self.word:
            said = UnitDisposed(self.unit, self.word, "seen")
            store.append([said], person="quality", utc=self.utc)


@pytest.fixture
def made(store):
    rng = random.Random(7)
    units = [Made(number, rng) for number in range(60)]
    for one in units:
        one.keep(store)
    return units


def fitting(units, filters):
    found = [
        one.unit
        for one in units
        if all(one.facts[by] & set(keys) for by, keys in filters.keys.items())
        and (filters.since is None or one.utc >= filters.since)
        and (filters.until is None or one.utc < filters.until)
        and not (filters.without_deviation and one.facts[By.DEVIATION])
    ]
    return found[::-1]


def paged(store, filters, limit):
    found, before = [], ""
    while True:
        page = units_that(store, filters, before=before, limit=limit)
        found += [row.unit_id for row in page]
        if not page or not page[-1].page_key:
            return found
        before = page[-1].page_key


def test_any_two_filters_find_what_has_both(store, made, monkeypatch):
    monkeypatch.setattr(module, "LOOKED_AT", 7)
    some = made[33]
    kinds = [by for by in some.facts if some.facts[by]]
    for sorts in zip(kinds, kinds[1:] + kinds[:1], strict=True):
        filters = Filters({by: (some.one(by),) for by in sorts})
        wanted = fitting(made, filters)
        assert some.unit in wanted
        assert paged(store, filters, 9) == wanted, sorts
        assert [row.unit_id for row in each_unit(store, filters)] == wanted, sorts
        found = find_units(store, where=conditions(filters), limit=100)
        assert [row.unit_id for row in found] == wanted, sorts
        assert count_of(store, filters).units <= len(wanted)


def test_a_time_several_keys_and_no_deviation(store, made):
    since, until = START + timedelta(hours=10), START + timedelta(hours=40)
    several = {By.FILED: PEOPLE[:2], By.STANDING: ("on hold", "released")}
    for filters in (
        Filters({}, since, until),
        Filters(several, since, until),
        Filters({By.VERDICT: ("pass",)}, since, None, without_deviation=True),
        Filters({}, None, until, without_deviation=True),
        Filters({By.PART: ("k-3", "k-4")}),
        Filters({By.UNIT: (made[3].unit,)}),
    ):
        wanted = fitting(made, filters)
        assert paged(store, filters, 4) == wanted, filters
        if filters.keys.keys() != {By.UNIT}:
            assert len(wanted) > 5
        assert count_of(store, filters) == Count(len(wanted))


def test_what_is_counted_in_part_is_said_to_be(store, made, monkeypatch):
    monkeypatch.setattr(module, "LOOKED_AT", 10)
    monkeypatch.setattr(module, "COUNTED_TO_LEAD", 1)
    monkeypatch.setattr(module, "SIMPLY_COUNTED", 20)
    assert count_of(store, Filters({By.STATE: ("filed",)})) == Count(20, more=True)
    both = Filters({By.STATE: ("filed",), By.VERDICT: ("pass",)})
    newest = [one.facts[By.VERDICT] for one in made[-11:]]
    assert count_of(store, both) == Count(newest.count({"pass"}), more=True)


def test_qas_newest_word_is_the_one_that_counts(store, made):
    unit = next(one for one in made if one.word == "held")
    said = UnitDisposed(unit.unit, "rejected", "scored")
    store.append([said], person="quality", utc=START + timedelta(days=9))

    def found(standing):
        filters = Filters({By.STANDING: (standing.value,)})
        return {row.unit_id for row in units_that(store, filters, limit=100)}

    assert unit.unit not in found(Standing.ON_HOLD)
    assert found(Standing.REJECTED) == {unit.unit}


def test_a_whole_name_comes_before_names_that_begin_so(store, made):
    assert names_begun(store, By.LOT, "l-1") == ["l-1"]
    assert names_begun(store, By.LOT, "l-") == [f"l-{n}" for n in (0, 1, 10, 11, *range(2, 10))]
    assert names_begun(store, By.LOT, "x") == []
    assert len(names_begun(store, By.SERIAL, "mr-")) == MOST_NAMES + 1
    assert names_begun(store, By.STATE, "filed") == ["filed"]


def test_a_place_that_is_none_is_refused(store):
    for text in ('["a"]', "{}", "[1, 2, 3]"):
        with pytest.raises(ValueError, match="no place"):
            units_that(store, Filters(), before=text)


def test_nothing_that_is_filtered_reads_a_whole_table(store, made):
    asked = []

    def note(_, __, statement, parameters, ___, ____):
        if statement.startswith("SELECT"):
            asked.append((statement, parameters))

    some = made[33]
    event.listen(store._readers, "before_cursor_execute", note)
    for by in some.facts:
        if some.facts[by]:
            for more in ({}, {By.STATE: ("filed",)}, {By.VERDICT: ("pass",)}):
                filters = Filters({by: (some.one(by),), **more}, since=START)
                units_that(store, filters)
                count_of(store, filters)
                names_begun(store, by, some.one(by)[:2])
    event.remove(store._readers, "before_cursor_execute", note)
    assert len(asked) > 60
    with store.reading() as connection:
        for statement, parameters in asked:
            plan = connection.exec_driver_sql(f"EXPLAIN QUERY PLAN {statement}", parameters).all()
            for line in plan:
                scan = re.search(r"SCAN (\w+)", line.detail)
                walked = scan and scan[1].startswith("unit") and "USING" not in line.detail
                assert not walked, f"{statement}\n{plan}"
                # By its id each unit would be a step to another end of the table.
                by_id = re.search(r"SEARCH unit_\w+ USING PRIMARY KEY", line.detail)
                assert not by_id, f"{statement}\n{plan}"


def test_who_accepted_a_deviation_says_that_there_is_one(store, made):
    both = Filters({By.DEVIATION: ("yes",), By.ACCEPTED: PEOPLE[:1]})
    wanted = fitting(made, both)
    assert 2 < len(wanted) < len(made)
    assert paged(store, both, 2) == wanted
    assert count_of(store, both) == Count(len(wanted))
    neither = Filters({By.DEVIATION: ("no",), By.ACCEPTED: PEOPLE[:1]})
    assert paged(store, neither, 2) == []
