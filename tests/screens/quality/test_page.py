"""The page Quality: charts of a store, what they say, another limit, and both on paper."""

import csv
import re
from datetime import UTC, datetime, timedelta

import numpy as np
import pytest
from pypdf import PdfReader

from benchstation.domain.events import (
    InstrumentChecked,
    InstrumentRegistered,
    PersonEnrolled,
    UnitDisposed,
)
from benchstation.domain.quality import Quantity, rejudge
from benchstation.driver_api.errors import StationError
from benchstation.quantities.units import UnitSystem
from benchstation.screens.model.quality import QualityQuestion
from benchstation.screens.quality.page import NO_CHECKS, NO_UNITS, Quality
from benchstation.screens.quality.study import months_before
from benchstation.store.engine import open_store
from benchstation.store.figures import By, Group, last_figures, names
from benchstation.store.queries import record_of
from benchstation.store.search import find_units
from tests.store.conftest import START, Clock
from tests.store.test_figures import end
from tests.ui import fake_quality

METRIC, INCH = UnitSystem.METRIC, UnitSystem.INCH_POUND
OIL = QualityQuestion(family="MR 46")


@pytest.fixture(scope="module")
def store(tmp_path_factory):
    """Thirty units, the last eight of them high; two lots, two who fill."""
    clock = Clock()
    with open_store(tmp_path_factory.mktemp("quality") / "records.db", "bench-1") as opened:
        alex = PersonEnrolled("tom", "Tom Sample", ("technician",), "x")
        opened.append([alex], person="tom", utc=clock())
        for n in range(30):
            value = (n * 7 % 5) - 2 + 6 * (n >= 22)
            end(opened, clock, value, lot=f"L-{n % 2}", signer=("ines", "tom")[n % 2], name=n)
        opened.append([UnitDisposed("u29", "rejected", "leaks")], person="uta", utc=clock())
        yield opened


@pytest.fixture
def page(store):
    return Quality(store, lambda: START + timedelta(days=1))


def rows_of(table):
    return list(csv.DictReader(table.read_text("utf-8").splitlines()))


def terms(view):
    return {term.label: (term.value, term.source) for g in view.groups for term in g.terms}


def test_a_familys_chart(page):
    view = page.view(OIL, METRIC)
    assert len(view.points) == 30
    assert view.individuals.unit == "g"
    assert view.individuals.values[:3] == pytest.approx([-0.2, 0.0, 0.2])
    assert np.isnan(view.ranges.values[0])
    assert view.ranges.values[1] == pytest.approx(0.2)
    assert [words for words, _, _ in view.individuals.lines][3:] == [
        "tolerance 2.00", "tolerance −2.00",
    ]  # fmt: skip
    said = terms(view)
    assert said["Tolerance"][0] == "± 2.00 g"
    assert said["Cp, Cpk"][0] == "not quoted"
    assert said["Units of this chart"][0] == "100 %, 30 of 30"
    assert said["2026-03"][0] == "100 %, 30 of 30"
    assert view.families == (("", "All families"), ("MR 46", "MR 46"))


def test_a_rule_that_fires_is_a_row_that_opens_its_unit(page):
    view = page.view(OIL, METRIC)
    row = view.rows[0]
    assert row.key == "u29"
    assert (row.title, row.below[0]) == ("22 to 30: S-29", "4 of 5 beyond 1 sigma, same side")
    assert "8 in a row on one side" in [row.below[0] for row in view.rows]
    assert view.points[29].fired
    assert view.points[29].shape == "square", "it was rejected, and stays on the chart"
    assert "rejected" in view.points[29].words


def test_one_technicians_units_are_named_as_people_are(page):
    view = page.view(QualityQuestion(family="MR 46", by="technician"), METRIC)
    assert view.names == (("tom", "Tom Sample"), ("ines", "ines"))
    assert view.question.name == "tom"
    assert len(view.points) == 15


def test_all_families_are_shares_of_their_tolerances(page):
    view = page.view(QualityQuestion(), METRIC)
    assert view.individuals.unit == "% of the tolerance"
    assert view.individuals.values[0] == pytest.approx(-10.0)
    assert view.limit_now == "", "no one limit is that of all"


@pytest.mark.parametrize(
    ("question", "unit"), [(OIL, "oz"), (QualityQuestion("charge", "MR 46"), "psi")]
)
def test_in_inch_pound_units(page, question, unit):
    view = page.view(question, INCH)
    assert view.individuals.unit == unit
    assert view.limit_now.endswith(f" {unit}")


def test_a_leak_is_written_in_a_power_of_ten(page):
    view = page.view(QualityQuestion("leak", "MR 46"), METRIC)
    assert view.individuals.unit == "10⁻⁷ Pa m³/s"
    assert terms(view)["Limit"][0].startswith("at most 2.0")


def test_no_units_and_no_checks_are_said(page):
    assert page.view(QualityQuestion(family="none"), METRIC).nothing == NO_UNITS
    assert page.view(QualityQuestion("check"), METRIC).nothing == NO_CHECKS
    few = fake_quality.quality(QualityQuestion(family=fake_quality.FAMILIES[1]), METRIC, 2)
    assert few.nothing == "No chart: it needs 3 values at least, and has 2."


def test_another_limit_says_what_it_would_change_and_changes_nothing(page, store):
    before = store.head()
    view = page.other_limit(OIL, "0.5", METRIC)
    assert view.heading == "With ± 0.50 g: 8 of 30 would be judged otherwise"
    said = terms(view)
    assert (said["Would pass"][0], said["Would be undecided"][0]) == ("22 of 30", "4 of 30")
    assert said["Would fail"] == ("4 of 30", "now 0")
    assert [row.state for row in view.rows] == ["fail"] * 4 + ["undecided"] * 4
    assert store.head() == before
    assert page.other_limit(OIL, "0.0005 kg", INCH).heading.endswith(
        "8 of 30 would be judged otherwise"
    )


def test_a_limit_far_below_what_the_chart_shows_is_written_whole(page):
    heading = page.other_limit(QualityQuestion("leak", "MR 46"), "1e-11 Pa m3/s", METRIC).heading
    assert heading.startswith("With at most 0.00010 10⁻⁷ Pa m³/s:")
    assert page.other_limit(OIL, "0.0123 g", INCH).heading.startswith("With ± 0.00043 oz:")


@pytest.mark.parametrize(
    ("question", "typed", "why"),
    [(OIL, "0", "above zero"), (OIL, "-1 g", "above zero"), (OIL, "much", "not a number"),
     (QualityQuestion(), "1", "one family's"), (QualityQuestion("check"), "1", "one family's")],
)  # fmt: skip
def test_what_is_no_limit_is_refused(page, question, typed, why):
    with pytest.raises(StationError, match=why):
        page.other_limit(question, typed, METRIC)


def test_a_chart_on_paper_and_as_a_table(page, tmp_path):
    paper, table = page.write(OIL, "0.5", tmp_path, METRIC)
    with PdfReader(paper) as read:
        text = "".join(one.extract_text() for one in read.pages)
    words = " ".join(text.split())
    for said in ("MR 46; 30 units", "8 in a row on one side", "not quoted", "With ± 0.50 g"):
        assert said in words
    assert re.search(r"bench-1, entry \d+", words)
    assert re.search(r"page 1 of \d", words)
    rows = rows_of(table)
    assert len(rows) == 30
    last = rows[-1]
    assert (last["serial"], last["qa_standing"], last["decision"]) == ("S-29", "rejected", "pass")
    assert last["with_the_other_limit"] == "fail"
    assert float(last["value [kg]"]) - float(last["target [kg]"]) == pytest.approx(7e-4)
    assert "8 in a row on one side" in last["rules_that_end_here"]


def test_nothing_is_written_of_nothing(page, tmp_path):
    with pytest.raises(StationError, match="no values"):
        page.write(QualityQuestion(family="none"), "", tmp_path, METRIC)
    assert list(tmp_path.iterdir()) == []


def test_a_folder_that_is_a_file_is_said(page, tmp_path):
    (tmp_path / "there").write_text("", "utf-8")
    with pytest.raises(StationError, match="cannot be written there"):
        page.write(OIL, "", tmp_path / "there", METRIC)


def test_the_drift_of_an_instrument_from_its_checks(page, store, tmp_path):
    until = ("2026-01-01", "2027-01-01", "c")
    gauge = InstrumentRegistered("g", "gauge", "Gauge", "p", "s", 1.0, 0.0, 1e-4, *until)
    store.append([gauge], person="uta", utc=store.last_utc())
    for day in range(12):
        check = InstrumentChecked("g", "zero check", 0.0, 100.0 * day, 2000.0, True)
        store.append([check], person="uta", utc=datetime(2026, 4, 1 + day, 8, tzinfo=UTC))
    question = QualityQuestion("check")
    view = page.view(question, METRIC)
    assert view.question.name == "g at bench-1"
    said = terms(view)
    assert said["Drift a month"][0] == "+0.03044 bar"
    assert "proved" in said["Drift a month"][1]
    assert "not proved" not in said["Drift a month"][1]
    assert [point.unit_id for point in view.points] == [""] * 12
    paper, table = page.write(question, "", tmp_path, METRIC)
    rows = rows_of(table)
    assert float(rows[-1]["error [SI]"]) == 1100.0
    assert paper.exists()


def test_months_begin_where_local_months_do():
    found = months_before(datetime(2026, 3, 31, 12, tzinfo=UTC), 3)
    assert [since.astimezone().day for since, _ in found] == [1, 1, 1]
    assert [since.astimezone().month for since, _ in found] == [3, 2, 1]
    assert found[0][0] == found[1][1]
    assert found[0][1] > datetime(2026, 3, 31, 12, tzinfo=UTC)


def test_what_the_bench_files_has_every_figure_of_its_record(bench):
    """Of a unit that went through all its steps: charted as it was judged, by who signed it."""
    bench.work_to(None, serial="MR-1")
    (unit,) = find_units(bench.store, "MR-1")
    record = record_of(bench.store, unit.unit_id)
    oil, charge, leak = (
        last_figures(bench.store, quantity, Group(record.family))[0]
        for quantity in (Quantity.OIL, Quantity.CHARGE, Quantity.LEAK)
    )
    assert oil.deviation == pytest.approx(record.oil.deviation_kg, abs=1e-12)
    assert (oil.limit, oil.u) == (record.oil.tolerance_kg, record.oil.u_kg)
    assert (charge.value, charge.target) == (
        record.charge.settled_gauge_pa, record.charge.target_gauge_pa,
    )  # fmt: skip
    assert (charge.limit, charge.u) == (record.charge.tolerance_pa, record.charge.u_pa)
    hold = record.hold
    assert (leak.value, leak.limit, leak.u) == (
        hold.leak_pa_m3_s, hold.allowed_pa_m3_s, hold.u_leak_pa_m3_s,
    )  # fmt: skip
    assert (leak.u_scatter, leak.slow) == (hold.u_scatter_pa_m3_s, hold.slow_pa_m3_s)
    assert [one.decision for one in (oil, charge, leak)] == ["pass"] * 3
    assert oil.first_pass
    for quantity, limit in ((Quantity.OIL, oil), (Quantity.CHARGE, charge), (Quantity.LEAK, leak)):
        (same,) = rejudge([limit], quantity, limit.limit)
        assert not same.changes, "by its own limit it is judged as the bench judged it"
    signed = {step.person for step in record.steps}
    for quantity in (Quantity.OIL, Quantity.CHARGE):
        by = Group(record.family, By.TECHNICIAN)
        assert set(names(bench.store, by, quantity)) <= signed
    instruments = names(bench.store, Group(record.family, By.INSTRUMENT), Quantity.OIL)
    assert {name.partition(" at ")[0] for name in instruments} == {
        one.id for one in record.instruments
    }
