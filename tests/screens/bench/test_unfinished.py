"""What is told of an open capture when the window closes: what ends, and what a start finds."""

import pytest

from benchstation.domain.specification import StepKind
from benchstation.quantities.formatter import METRIC
from benchstation.screens.bench.page import bench_view, with_alarms
from benchstation.screens.bench.unfinished import STAYS
from tests.stepped_bench import make_bench


@pytest.fixture
def bench(tmp_path):
    made = make_bench(tmp_path)
    yield made
    made.store.close()


def said(bench) -> tuple[str, str]:
    view = bench_view(bench.session, METRIC)
    return view.watched, view.unfinished


def test_nothing_runs_before_a_unit_and_before_the_tare(bench):
    assert said(bench) == ("", "")
    bench.work_to(StepKind.WEIGH)
    assert said(bench) == ("", "")


def test_a_pour_says_where_its_oil_must_go(bench):
    bench.work_to(StepKind.WEIGH)
    session = bench.session
    bench.world.model.put_on_pan("body")
    bench.run(2)
    session.act("tare", {})
    assert said(bench) == ("", f"The weighing is not captured. {STAYS} Begin it again.")
    bench.until(lambda: session.work.weighing.tared)
    assert said(bench)[1].startswith("The weighing is not captured.")
    bench.pour(0.1)
    moved = f"Oil was moved and is not captured. {STAYS} It must come out before the next tare."
    assert said(bench) == ("", moved)
    session.work.weighing.lose_tare()
    assert said(bench) == ("", ""), "its doubt is on record, and nothing is under way"


def test_a_charge_is_asked_for_while_gas_is_in_and_nothing_is_captured(bench):
    bench.work_to(StepKind.CHARGE)
    session, model = bench.session, bench.world.model
    assert said(bench) == ("", "")
    model.open_gas_screw()
    model.valve_opening = 1.0
    bench.run(4)
    model.valve_opening = 0.0
    bench.run(1)
    watched, unfinished = said(bench)
    assert watched == "There is pressure at the gauge."
    assert unfinished == f"The charge is not captured. {STAYS} Its gas stays in; capture it then."
    session.work.want_hold()
    assert said(bench)[1].startswith("The hold test is not finished.")


def test_an_alarm_changes_what_is_watched_and_leaves_what_is_open(bench):
    bench.work_to(StepKind.WEIGH)
    bench.world.model.put_on_pan("body")
    bench.run(2)
    bench.session.act("tare", {})
    view = bench_view(bench.session, METRIC)
    bench.session.work.weighing.lose_tare()
    assert with_alarms(bench.session, view, METRIC).unfinished == view.unfinished != ""
