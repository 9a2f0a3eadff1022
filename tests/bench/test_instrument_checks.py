"""Today's check of scale and gauge."""

from datetime import timedelta

import pytest
from pypdf import PdfReader

from benchstation.bench.locks import capture_locked
from benchstation.bench.tare_loss import recover
from benchstation.demo import shop as demo
from benchstation.domain.events import InstrumentChecked
from benchstation.domain.specification import StepKind
from benchstation.domain.unit_commands import NotAllowedError
from benchstation.driver_api.errors import StationError
from benchstation.reports.certificate import write_certificate
from benchstation.reports.export import filed_record
from benchstation.store.recall import doubt_about
from tests.stepped_bench import make_bench


def check(bench, role="scale", **fields):
    return bench.session.act("check", {"instrument": f"{role}-1", **fields})


def weight_on(bench):
    """Show the empty pan at zero, then put the weight on it."""
    bench.world.model.put_on_pan("nothing")
    bench.run(3)
    bench.session.act("prove_empty", {"instrument": "scale-1"})
    bench.world.model.put_on_pan("check weight")
    bench.run(3)


def test_a_check_weight_passes_and_is_on_record(bench):
    bench.sign_in()
    weight_on(bench)
    assert "passed" in check(bench, nominal="200 g")
    (entry,) = bench.store.entries(kind=InstrumentChecked.kind)
    assert entry.event.nominal == pytest.approx(0.2)
    assert entry.event.observed == pytest.approx(0.2, abs=1e-4)


def test_a_failed_check_blocks_quality_results_until_it_passes(bench):
    bench.work_to(StepKind.WEIGH)
    weight_on(bench)
    assert "FAILED" in check(bench, nominal="201 g")
    with pytest.raises(NotAllowedError, match="failed its last check"):
        bench.session.act("capture", {})
    check(bench, nominal="200 g")
    assert capture_locked(bench.session) == ""


def test_an_open_gauge_line_must_show_zero(bench):
    bench.sign_in()
    bench.run(1)
    assert "passed" in check(bench, "gauge")
    bench.world.gauge.offset_pa = 20_000.0
    bench.run(1)
    assert "FAILED" in check(bench, "gauge")


@pytest.mark.parametrize("nominal", ["", "heavy", "200 mL", "-"])
def test_a_nominal_that_is_no_mass_is_refused(bench, nominal):
    bench.sign_in()
    bench.run(2)
    with pytest.raises(StationError):
        check(bench, nominal=nominal)
    assert not bench.store.entries(kind=InstrumentChecked.kind)


def test_no_reading_no_check(bench):
    bench.sign_in()
    bench.unplugged.add("scale")
    bench.run(2)
    with pytest.raises(NotAllowedError, match="no valid reading"):
        check(bench, nominal="200 g")


def test_a_failed_check_holds_after_a_restart_until_one_passes(bench, tmp_path):
    bench.work_to(StepKind.WEIGH)
    weight_on(bench)
    assert "FAILED" in check(bench, nominal="201 g")
    bench.store.close()
    again = make_bench(tmp_path)
    try:
        recover(again.session)
        again.sign_in()
        assert "failed its last check" in capture_locked(again.session)
        with pytest.raises(NotAllowedError, match="failed its last check"):
            again.session.act("capture", {})
        weight_on(again)
        assert "passed" in check(again, nominal="200 g")
        assert capture_locked(again.session) == ""
    finally:
        again.store.close()


def test_nothing_is_judged_before_the_empty_pan_is_proven(bench):
    bench.sign_in()
    bench.world.model.put_on_pan("check weight")
    bench.run(3)
    with pytest.raises(NotAllowedError, match="empty pan is not proven"):
        check(bench, nominal="200 g")
    with pytest.raises(NotAllowedError, match="the empty pan shows 200"):
        bench.session.act("prove_empty", {"instrument": "scale-1"})
    assert not bench.store.entries(kind=InstrumentChecked.kind)


def test_a_proof_of_the_empty_pan_holds_for_a_while_only(bench):
    bench.sign_in()
    weight_on(bench)
    bench.run(310)
    with pytest.raises(NotAllowedError, match="empty pan is not proven"):
        check(bench, nominal="200 g")


def test_a_tare_that_still_stands_is_no_failure_of_the_scale(bench):
    """The tray was tared and taken off: a good scale then shows its weight below zero."""
    bench.work_to(StepKind.BLEED)
    bench.world.model.put_on_pan("tray")
    bench.run(3)
    bench.session.scale.instrument.tare()
    bench.run(3)
    bench.world.model.put_on_pan("nothing")
    bench.run(3)
    with pytest.raises(NotAllowedError, match="the empty pan shows"):
        bench.session.act("prove_empty", {"instrument": "scale-1"})
    assert "zero sent" in bench.session.act("zero", {"instrument": "scale-1"})
    bench.run(3)
    weight_on(bench)
    assert "passed" in check(bench, nominal="200 g")


def test_a_weight_that_is_not_on_the_pan_is_no_failure(bench):
    bench.sign_in()
    weight_on(bench)
    bench.world.model.put_on_pan("nothing")
    bench.run(3)
    with pytest.raises(NotAllowedError, match="is not on it"):
        check(bench, nominal="200 g")
    assert not bench.store.entries(kind=InstrumentChecked.kind)


def test_the_zero_that_was_proven_is_on_record(bench):
    bench.sign_in()
    weight_on(bench)
    check(bench, nominal="200 g")
    (entry,) = bench.store.entries(kind=InstrumentChecked.kind)
    assert entry.event.zero == pytest.approx(0.0, abs=1e-4)


def test_a_check_that_was_made_wrongly_is_withdrawn_by_a_lead_with_a_reason(bench):
    bench.sign_in()
    weight_on(bench)
    check(bench, nominal="200 g")
    check(bench, nominal="201 g")
    assert "failed its last check" in bench.session.scale.unfit(bench.clock.utc().date())
    with pytest.raises(NotAllowedError):
        bench.session.act("withdraw_check", {"instrument": "scale-1", "reason": "slip"})
    bench.sign_in(demo.LEAD)
    with pytest.raises(NotAllowedError):
        bench.session.act("withdraw_check", {"instrument": "scale-1", "reason": " "})
    bench.session.act(
        "withdraw_check", {"instrument": "scale-1", "reason": "the 201 was a slip of the finger"}
    )
    assert bench.session.scale.unfit(bench.clock.utc().date()) == ""
    doubt = doubt_about(bench.store, "scale-1")
    assert (doubt.failed, doubt.good is not None) == (None, True)


def test_a_bench_that_asks_for_it_captures_nothing_before_todays_check(tmp_path):
    bench = make_bench(tmp_path)
    bench.session.scale.checked_daily = True
    bench.sign_in()
    assert "has not been checked today" in bench.session.scale.unfit(bench.clock.utc().date())
    weight_on(bench)
    check(bench, nominal="200 g")
    assert bench.session.scale.unfit(bench.clock.utc().date()) == ""
    tomorrow = bench.clock.utc().date() + timedelta(days=1)
    assert "has not been checked today" in bench.session.scale.unfit(tomorrow)
    bench.store.close()


def test_the_check_that_counted_is_in_the_record_and_on_the_certificate(tmp_path):
    bench = make_bench(tmp_path)
    bench.sign_in()
    weight_on(bench)
    check(bench, nominal="200 g")
    bench.work_to(None)
    (filed,) = bench.store.entries(kind="unit.filed")
    found = filed_record(bench.store, filed.event.unit_id)
    scale, gauge = found.record.instruments[:2]
    assert (scale.check.passed, scale.check.nominal, gauge.check) == (True, 0.2, None)
    pages = PdfReader(write_certificate(found, tmp_path / "a.pdf")).pages
    text = " ".join(page.extract_text() for page in pages)
    assert "check weight passed" in " ".join(text.split())
    assert "not checked" in " ".join(text.split())
    bench.store.close()
