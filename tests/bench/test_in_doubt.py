"""An instrument that fails, or was found to have moved, holds what was measured with it."""

import pytest

from benchstation.demo import shop as demo
from benchstation.domain.disposition import Standing
from benchstation.domain.events import UnitDisposed
from benchstation.domain.specification import StepKind
from benchstation.domain.statements import Code
from benchstation.store.queries import get_unit, record_of
from benchstation.store.trust import SYSTEM

CERTIFICATE = {
    "instrument": "gauge-1",
    "certificate": "C-26",
    "laboratory": "Laboratory, invented",
    "on": "2026-03-03",
    "until": "2027-02-20",
    "gain": "1.0",
    "u": "30 mbar",
    "adjusted": "yes",
    "reason": "yearly",
    "signature": demo.PIN,
}


def file_one(bench, serial):
    bench.sign_in()
    if bench.session.rebuild is not None:
        bench.session.act("next", {})
    bench.work_to(None, serial=serial)
    return bench.session.rebuild.unit_id


def check_gauge(bench, offset_pa=0.0):
    bench.world.gauge.offset_pa = offset_pa
    bench.run(1)
    return bench.session.act("check", {"instrument": "gauge-1"})


def standing(bench, unit_id):
    return get_unit(bench.store, unit_id).standing


def holds(bench):
    return [e for e in bench.store.entries(kind=UnitDisposed.kind) if e.event.disposition == "held"]


def test_a_failed_check_holds_what_was_measured_since_the_last_good_one(bench):
    bench.sign_in()
    before = file_one(bench, "T-1")
    check_gauge(bench)
    since = file_one(bench, "T-2")
    said = check_gauge(bench, 20_000.0)
    assert "FAILED" in said
    assert "1 unit measured with it: on hold for QA." in said
    assert standing(bench, before) == Standing.NOT_RELEASED
    assert standing(bench, since) == Standing.ON_HOLD
    (hold,) = holds(bench)
    assert hold.person == SYSTEM
    assert "Charge gauge, 40 bar, which then failed its check" in hold.event.reason
    check_gauge(bench, 0.0)
    assert standing(bench, since) == Standing.ON_HOLD, "mended since; QA has not looked yet"
    bench.sign_in(demo.LEAD)
    bench.session.act("calibrate", {**CERTIFICATE, "found_gain": "0.95"})
    assert standing(bench, before) == Standing.ON_HOLD
    assert [e.event.unit_id for e in holds(bench)] == [since, before], "none is held twice"


def test_what_failed_already_says_nothing_more(bench):
    bench.sign_in()
    unit_id = file_one(bench, "T-1")
    check_gauge(bench, 20_000.0)
    bench.sign_in(demo.QA)
    form = {"unit": unit_id, "disposition": "released", "reason": "seen", "signature": demo.PIN}
    bench.session.act("dispose", form)
    check_gauge(bench, 20_000.0)
    assert standing(bench, unit_id) == Standing.RELEASED


def test_a_unit_that_is_worked_on_is_held_when_it_is_filed(bench):
    bench.sign_in()
    bench.work_to(StepKind.FILE)
    assert "on hold" not in check_gauge(bench, 20_000.0), "nothing of it is filed"
    check_gauge(bench)
    bench.work_to(None)
    record = record_of(bench.store, bench.session.rebuild.unit_id)
    assert record.qa_hold
    assert Code.INSTRUMENT_FAILED in {reason.code for reason in record.qa_hold_reasons}


@pytest.mark.parametrize(
    ("gain", "held"), [("0.95", Standing.ON_HOLD), ("1.0002", Standing.NOT_RELEASED)]
)
def test_a_calibration_holds_what_it_would_have_judged_less_well(bench, gain, held):
    bench.sign_in()
    unit_id = file_one(bench, "T-1")
    bench.sign_in(demo.LEAD)
    said = bench.session.act("calibrate", {**CERTIFICATE, "found_gain": gain})
    assert ("1 unit measured with it: on hold for QA." in said) is (held == Standing.ON_HOLD)
    assert standing(bench, unit_id) == held
    assert [e.event.reason for e in holds(bench)] == (
        ["Charge gauge, 40 bar, certificate C-26: charge pass, as found fail."]
        if held == Standing.ON_HOLD
        else []
    )
