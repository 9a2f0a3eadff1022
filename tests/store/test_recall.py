"""Which units are in doubt when an instrument fails its check."""

from datetime import timedelta

import pytest

from benchstation.domain.events import (
    HoldTested,
    InstrumentChecked,
    InstrumentRegistered,
    RebuildAbandoned,
    StepSigned,
    ZeroProven,
)
from benchstation.domain.inputs.zero import ZeroRead
from benchstation.store.queries import count_with_instrument
from benchstation.store.recall import doubt_about, last_checks, units_in


@pytest.fixture
def checked(add):
    def check(passed: bool, name: str = "gauge-1") -> int:
        return add(InstrumentChecked(name, "zero check", 0.0, 10.0, 2000.0, passed))[0].seq

    return check


@pytest.fixture
def measured(store, add, opening):
    """Open a unit, the one before it being done with, and sign its release by the gauge."""

    def measure(unit: str, name: str = "gauge-1") -> None:
        if (last := store.open_unit()) is not None:
            add(RebuildAbandoned(last, "bent"))
        add(
            opening(unit, unit),
            StepSigned(unit, "release", (ZeroRead("zero1", "unit", 100.0, 1e4, name),)),
        )

    return measure


def in_doubt(store, name="gauge-1"):
    return list(units_in(store, name, doubt_about(store, name)))


def test_those_between_the_last_good_check_and_the_failed_one(store, checked, measured):
    measured("before")
    good = checked(True)
    measured("between")
    measured("other", "gauge-2")
    failed = checked(False)
    checked(False)
    measured("after")
    doubt = doubt_about(store, "gauge-1")
    assert doubt.good.seq == good
    assert doubt.failed.seq == failed + 1
    assert doubt.again is None
    assert in_doubt(store) == ["between", "after"]


def test_a_good_check_after_it_ends_the_doubt_and_clears_nobody(store, checked, measured):
    checked(True)
    measured("between")
    checked(False)
    again = checked(True)
    measured("after")
    checked(True)
    assert doubt_about(store, "gauge-1").again.seq == again
    assert in_doubt(store) == ["between"]


def test_the_newest_check_is_the_last_in_the_journal_whatever_its_time(store, checked, clock):
    checked(True)
    before = clock() - timedelta(days=3)
    fact = InstrumentChecked("gauge-1", "zero check", 0.0, 9e3, 2000.0, passed=False)
    (failed,) = store.append([fact], person="ines", utc=before)
    assert last_checks(store)["gauge-1"].seq == failed.seq
    assert doubt_about(store, "gauge-1").failed.seq == failed.seq
    assert doubt_about(store, "gauge-1").again is None


def test_without_a_failure_those_that_no_check_covers_yet(store, checked, measured):
    measured("before")
    checked(True)
    measured("after")
    assert in_doubt(store) == ["after"]


@pytest.mark.parametrize("check", [None, False])
def test_without_a_good_check_all_of_them(store, checked, measured, check):
    measured("u1")
    if check is not None:
        checked(check)
    assert doubt_about(store, "gauge-1").good is None
    assert in_doubt(store) == ["u1"]


def test_a_check_of_another_instrument_proves_nothing(store, checked, measured):
    measured("u1")
    checked(True, "gauge-2")
    assert in_doubt(store) == ["u1"]


def test_what_was_measured_before_and_filed_after_is_not_in_doubt(
    store, checked, measured, add, filing
):
    measured("u1")
    checked(True)
    add(filing("u1", record={"instruments": [{"id": "gauge-1"}]}))
    checked(False)
    assert in_doubt(store) == []
    assert count_with_instrument(store, "gauge-1") == 1


def test_a_unit_is_named_once_however_much_rests_on_it(store, checked, measured, add):
    checked(True)
    measured("u1")
    add(ZeroProven("u1", "charge", 0.0, 2000.0, "gauge-1"))
    assert in_doubt(store) == ["u1"]


def test_a_hold_test_rests_on_the_gauge_and_not_on_the_scale(store, checked, measured, add):
    for role in ("gauge", "scale"):
        add(InstrumentRegistered(f"{role}-1", role, role, "p", "s", 1.0, 0.0, 1.0, "", "", ""))
    measured("u1")
    add(StepSigned("u1", "weigh", (ZeroRead("zero1", "unit", 100.0, 1e4, "scale-1"),)))
    checked(True)
    checked(True, "scale-1")
    add(HoldTested("u1", "hold", 15e5, 15e5, 300.0, 0.0, 1e-4, 2e-3, "pass", ""))
    assert in_doubt(store) == ["u1"]
    assert in_doubt(store, "scale-1") == []
