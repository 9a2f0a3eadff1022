"""Due dates, and the checks of the day."""

import math
from datetime import date, timedelta

import pytest
from hypothesis import given
from hypothesis import strategies as st

from benchstation.metrology.calibration import CheckWeight
from benchstation.metrology.due import (
    CheckKind,
    CheckRecord,
    Standing,
    deviations,
    due_date,
    missing_checks,
    standing,
    zero_check,
)
from benchstation.metrology.errors import MetrologyError

TODAY = date(2026, 5, 12)


@pytest.mark.parametrize(
    ("done", "months", "due"),
    [
        (date(2026, 1, 15), 12, date(2027, 1, 15)),
        (date(2026, 1, 31), 1, date(2026, 2, 28)),
        (date(2028, 1, 31), 1, date(2028, 2, 29)),
        (date(2028, 2, 29), 12, date(2029, 2, 28)),
        (date(2026, 12, 31), 6, date(2027, 6, 30)),
        (date(2026, 11, 30), 1, date(2026, 12, 30)),
    ],
)
def test_calendar_months(done, months, due):
    assert due_date(done, months) == due


@given(st.dates(date(2000, 1, 1), date(2090, 1, 1)), st.integers(1, 60))
def test_due_lies_so_many_months_ahead(done, months):
    due = due_date(done, months)
    assert (due.year - done.year) * 12 + due.month - done.month == months
    assert due.day <= done.day


@pytest.mark.parametrize("months", [0, -3])
def test_no_interval(months):
    with pytest.raises(MetrologyError):
        due_date(TODAY, months)


@pytest.mark.parametrize(
    ("days", "expected"),
    [
        (-1, Standing.OVERDUE),
        (0, Standing.DUE_SOON),
        (30, Standing.DUE_SOON),
        (31, Standing.VALID),
    ],
)
def test_standing(days, expected):
    assert standing(TODAY + timedelta(days), TODAY) is expected
    assert standing(None, TODAY) is Standing.UNKNOWN


def record(kind, observed, on=TODAY):
    nominal = 200.0 if kind is CheckKind.WEIGHT else 0.0
    return CheckRecord(on, kind, CheckWeight(nominal, observed, 0.05), "J. Doe")


BOTH = (CheckKind.ZERO, CheckKind.WEIGHT)


def test_checks_of_the_day():
    good = [record(CheckKind.ZERO, 0.01), record(CheckKind.WEIGHT, 200.02)]
    assert missing_checks(good, BOTH, TODAY) == ()
    assert missing_checks(good[:1], BOTH, TODAY) == (CheckKind.WEIGHT,)
    assert missing_checks(good, BOTH, TODAY + timedelta(1)) == BOTH


def test_the_last_check_of_the_day_counts():
    failed = record(CheckKind.WEIGHT, 200.2)
    passed = record(CheckKind.WEIGHT, 200.0)
    assert missing_checks([failed, passed], [CheckKind.WEIGHT], TODAY) == ()
    assert missing_checks([passed, failed], [CheckKind.WEIGHT], TODAY) == (CheckKind.WEIGHT,)


def test_zero_check():
    assert zero_check(0.02, 0.05).passed
    assert not zero_check(-0.06, 0.05).passed
    assert not zero_check(math.nan, 0.05).passed


def test_deviations_for_a_chart():
    records = [record(CheckKind.WEIGHT, 200.02), record(CheckKind.ZERO, 0.01)]
    assert deviations(records, CheckKind.WEIGHT) == pytest.approx((0.02,))
    assert deviations(records, CheckKind.ZERO) == (0.01,)
