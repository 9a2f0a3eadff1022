"""The work of a step: made anew at each, stopped as a whole, left with what goes on record."""

import pytest

from benchstation.bench.step_work import StepWork, key_of
from benchstation.domain.events import OilUnweighed
from benchstation.domain.specification import StepKind
from tests.oil_hands import act, pour, tare
from tests.stepped_bench import make_bench


@pytest.fixture
def bench(tmp_path):
    made = make_bench(tmp_path)
    yield made
    made.store.close()


def test_without_a_unit_there_is_no_work(bench):
    bench.sign_in()
    assert key_of(bench.session.rebuild) == ("", "")
    assert bench.session.work.key == ("", "")
    assert bench.session.work.weighing is None


def test_another_step_is_other_work_and_the_same_step_the_same(bench):
    bench.work_to(StepKind.WEIGH)
    work = bench.session.work
    assert work.key == (bench.session.unit().unit_id, bench.session.unit().current.id)
    assert work.weighing is not None
    assert work.charging is None
    bench.session.enter_step()
    assert bench.session.work is work
    bench.work_to(StepKind.CHARGE)
    assert bench.session.work is not work
    assert bench.session.work.weighing is None
    assert bench.session.work.charge_target is not None


def test_a_form_is_shown_until_it_is_left_or_another_weighing_begins(bench):
    bench.work_to(StepKind.WEIGH)
    work = bench.session.work
    work.show_form("ways")
    work.weigh(work.weighing)
    assert work.open_form == ""
    work.show_form("ways")
    work.close_form()
    assert work.open_form == ""


def test_stopping_takes_back_all_that_was_asked_for():
    work = StepWork()
    work.want_charge()
    work.want_hold()
    work.show_form("hand")
    work.stop()
    assert (work.charge_wanted, work.hold_wanted, work.open_form) == (False, False, "")


def test_a_step_left_with_oil_in_no_mass_says_so_and_another_unit_does_not(bench):
    bench.work_to(StepKind.WEIGH)
    tare(bench, "body")
    pour(bench, 0.080)
    work, rebuild = bench.session.work, bench.session.unit()
    (doubt,) = work.leave(rebuild)
    assert isinstance(doubt, OilUnweighed)
    assert doubt.about_kg == pytest.approx(0.080, abs=0.002)
    assert not StepWork(("another", work.key[1]), work.weighing).leave(rebuild)
    act(bench, "abandon", reason="dropped")
    assert not work.leave(bench.session.rebuild)
