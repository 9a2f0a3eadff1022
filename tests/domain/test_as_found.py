"""What an error as found did to filed units: worked by hand from a record of the bench."""

from dataclasses import replace
from datetime import date

import pytest

from benchstation.domain.as_found import Interval, effects, rests_on
from benchstation.domain.calibrating import result_of_figures
from benchstation.reports.export import filed_record
from tests.stepped_bench import make_bench

THEN = result_of_figures(1.0, 0.0, 3e-5)
DAY = date(2026, 6, 1)


@pytest.fixture(scope="module")
def record(tmp_path_factory):
    """A unit that was filed on the bench: scale 1 and gauge 1, both within their calibrations."""
    bench = make_bench(tmp_path_factory.mktemp("bench"))
    try:
        bench.sign_in()
        bench.work_to(None)
        (entry,) = bench.store.entries(kind="unit.filed")
        return filed_record(bench.store, entry.event.unit_id).record
    finally:
        bench.store.close()


def interval(record, instrument, then=THEN, found=THEN, left=None, on=DAY):
    one = next(i for i in record.instruments if i.id == instrument)
    return Interval(instrument, one.calibrated_on, one.certificate, then, found, left or found, on)


def gauge(gain=1.0, offset=0.0, u=3000.0):
    return result_of_figures(gain, offset, u)


def test_the_same_line_changes_nothing(record):
    for name, then in (("scale-1", THEN), ("gauge-1", gauge())):
        (effect,) = effects([record], interval(record, name, then, then))
        assert effect.corrected == pytest.approx(effect.deviation)
        assert effect.decision_now == effect.decision == "pass"
        assert not effect.worse


def test_a_scale_that_read_high_by_a_share_held_less_oil(record):
    """1 % of the pour less 1 % of the bleed; both are differences, so an offset is nothing."""
    found = result_of_figures(0.99, 5e-4, 3e-5)
    (effect,) = effects([record], interval(record, "scale-1", THEN, found))
    assert effect.what == "oil"
    assert effect.corrected - effect.deviation == pytest.approx(-0.01 * record.oil.net_shown_kg)
    assert effect.decision_now == "fail"
    assert effect.worse


def test_a_gauge_that_read_high_held_less_gas(record):
    """The correction of then is taken off before the one as found is applied."""
    then, found = gauge(1.0002, -400.0), gauge(0.995, -20_000.0)
    (effect,) = effects([record], interval(record, "gauge-1", then, found))
    reading = (record.charge.settled_gauge_pa + 400.0) / 1.0002
    expected = 0.995 * reading - 20_000.0 - record.charge.target_gauge_pa
    assert effect.what == "charge"
    assert effect.corrected == pytest.approx(expected)


@pytest.mark.parametrize(
    ("share", "decision"), [(0.0, "pass"), (0.95, "undecided"), (1.5, "fail"), (-1.5, "fail")]
)
def test_the_verdict_follows_the_guarded_limits(record, share, decision):
    """An offset moves the charge to a share of its tolerance: the verdict is that of there."""
    charge = record.charge
    deviation = charge.settled_gauge_pa - charge.target_gauge_pa
    found = gauge(1.0, share * charge.tolerance_pa - deviation)
    (effect,) = effects([record], interval(record, "gauge-1", gauge(), found))
    assert effect.corrected == pytest.approx(share * charge.tolerance_pa)
    assert effect.decision_now == decision
    assert effect.worse is (decision != "pass")


def test_a_larger_uncertainty_as_found_can_undecide_alone(record):
    found = gauge(u=record.charge.tolerance_pa)
    (effect,) = effects([record], interval(record, "gauge-1", gauge(), found))
    assert effect.corrected == pytest.approx(effect.deviation)
    assert effect.decision_now == "undecided"


def test_what_was_measured_after_the_calibration_is_as_left(record):
    """A day between laboratory and bench: the instrument is as it left, corrected as before."""
    found, left = gauge(0.9), gauge()
    before = interval(record, "gauge-1", gauge(), found, left, on=date(2026, 3, 3))
    after = interval(record, "gauge-1", gauge(), found, left, on=date(2026, 3, 2))
    assert effects([record], before)[0].worse
    assert not effects([record], after)[0].worse


def test_units_of_another_calibration_or_instrument_are_no_matter_of_it(record):
    one = interval(record, "gauge-1", gauge(), gauge(0.9))
    assert rests_on(record, one)
    for other in (
        replace(one, certificate="another"),
        replace(one, calibrated_on="2020-01-01"),
        replace(one, instrument_id="gauge-2"),
    ):
        assert not rests_on(record, other)
        assert effects([record], other) == ()


def test_what_was_read_by_hand_does_not_rest_on_the_gauge(record):
    from benchstation.domain.recorded_parts import ReadByHand

    by_hand = ReadByHand("another", "", 1000.0, 5000.0, "lead")
    typed = replace(record, charge=replace(record.charge, instrument_id="", by_hand=by_hand))
    assert effects([typed], interval(record, "gauge-1", gauge(), gauge(0.9))) == ()


def test_a_capture_under_another_calibration_of_the_same_scale_is_left_alone(record):
    captures = tuple(replace(c, calibration="2026-03-01 C-NEW") for c in record.oil.captures)
    other = replace(record, oil=replace(record.oil, captures=captures))
    found = result_of_figures(0.9, 0.0, 3e-5)
    assert effects([other], interval(record, "scale-1", THEN, found)) == ()
