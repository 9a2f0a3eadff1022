"""A rule that fired among the newest points is a line of the worklist, and leads to its chart."""

from datetime import date

import pytest

from benchstation.domain.events import InstrumentChecked, InstrumentRegistered
from benchstation.quantities.units import UnitSystem
from benchstation.screens.model.quality import QualityQuestion, place_of, question_at
from benchstation.screens.quality.page import Quality
from benchstation.screens.worklist.charts import fired_rules
from benchstation.screens.worklist.lines import Desk
from benchstation.screens.worklist.page import KINDS
from benchstation.store.engine import open_store
from tests.store.conftest import START, Clock
from tests.store.test_figures import end

EVEN = [(n * 7 % 5) - 2 for n in range(24)]


@pytest.fixture
def clock():
    return Clock()


@pytest.fixture
def store(tmp_path):
    with open_store(tmp_path / "records.db", "bench-1") as opened:
        yield opened


@pytest.fixture
def desk(store):
    return Desk(store, None, date(2026, 3, 4), {"tom": "Tom Sample"})


def build(store, clock, values, **more):
    with store.bulk():
        for n, value in enumerate(values):
            end(store, clock, value, name=n, **more)


def test_a_steady_process_has_no_line(store, clock, desk):
    build(store, clock, EVEN)
    assert list(fired_rules(desk)) == []


def test_a_shift_is_a_line_for_its_family_and_for_who_did_it(store, clock, desk):
    build(store, clock, [*EVEN[:20], *(v + 8 for v in EVEN[:4])], signer="tom")
    found = {(line.title, line.why.partition(":")[0]): line for line in fired_rules(desk)}
    assert {title for title, _ in found} == {"MR 46", "Tom Sample", "kim"}
    oil = found["MR 46", "Oil, deviation from the target"]
    assert oil.why.endswith(", to S-23")
    assert (oil.page, oil.act) == ("quality", "See the chart")
    view = Quality(store, lambda: START).view(question_at(oil.place), UnitSystem.METRIC)
    assert view.question == QualityQuestion(family="MR 46")
    assert view.rows[0].key == "u23"
    by = found["Tom Sample", "Oil, deviation from the target"]
    assert question_at(by.place) == QualityQuestion("oil", "", "technician", "tom")


def test_what_fired_long_ago_is_no_line(store, clock, desk):
    build(store, clock, [9, 9, *EVEN[:20]])
    assert [line for line in fired_rules(desk) if line.why.startswith("Oil")] == []


def test_too_few_units_make_no_line(store, clock, desk):
    build(store, clock, [*EVEN[:12], 20])
    assert list(fired_rules(desk)) == []


def test_an_instrument_that_drifts_is_a_line(store, clock, desk):
    until = ("2026-01-01", "2027-01-01", "c")
    gauge = InstrumentRegistered("g", "gauge", "Gauge", "p", "s", 1.0, 0.0, 1e-4, *until)
    errors = [100.0 * v for v in EVEN[:20]] + [300.0 + 100.0 * n for n in range(8)]
    checks = [InstrumentChecked("g", "zero check", 0.0, e, 2000.0, True) for e in errors]
    store.append([gauge, *checks], person="ines", utc=clock())
    (line,) = fired_rules(desk)
    assert line.title == "g at bench-1"
    assert question_at(line.place) == QualityQuestion("check", name="g at bench-1")


def test_it_is_a_kind_of_the_worklist():
    assert fired_rules in [kind.find for kind in KINDS]


def test_a_place_is_its_chart_and_nothing_else_is_one():
    question = QualityQuestion("leak", "MR 46", "lot", "L-1, left")
    assert question_at(place_of(question)) == question
    assert question_at("whatever") == QualityQuestion()
