"""Today's check of scale and gauge."""

from datetime import timedelta

import pytest
from pypdf import PdfReader

from benchstation.bench.locks import capture_locked
from benchstation.bench.tare_loss import recover
from benchstation.demo import shop as demo
from benchstation.demo.materials import WEIGHT
from benchstation.domain.events import InstrumentChecked, MaterialClosed, MaterialReceived
from benchstation.domain.materials import Material, Sort
from benchstation.domain.specification import StepKind
from benchstation.domain.unit_commands import NotAllowedError
from benchstation.quantities.formatter import METRIC
from benchstation.reports.certificate import write_certificate
from benchstation.reports.export import filed_record
from benchstation.screens.bench.page import bench_view
from benchstation.screens.instruments.page import instrument_views
from benchstation.screens.model.elements import FieldKind
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


def check_wrong(bench):
    """Check the scale while it shows half a percent too much."""
    bench.world.scale.gain = 1.005
    bench.run(3)
    said = check(bench, weight=WEIGHT)
    bench.world.scale.gain = 1.0
    bench.run(3)
    return said


def test_a_check_weight_passes_and_is_on_record(bench):
    bench.sign_in()
    weight_on(bench)
    assert "passed" in check(bench, weight=WEIGHT)
    (entry,) = bench.store.entries(kind=InstrumentChecked.kind)
    assert entry.event.nominal == pytest.approx(0.2)
    assert entry.event.observed == pytest.approx(0.2, abs=1e-4)


def test_a_failed_check_blocks_quality_results_until_it_passes(bench):
    bench.work_to(StepKind.WEIGH)
    weight_on(bench)
    assert "FAILED" in check_wrong(bench)
    with pytest.raises(NotAllowedError, match="failed its last check"):
        bench.session.act("capture", {})
    check(bench, weight=WEIGHT)
    assert capture_locked(bench.session) == ""


def test_an_open_gauge_line_must_show_zero(bench):
    bench.sign_in()
    bench.run(1)
    assert "passed" in check(bench, "gauge")
    bench.world.gauge.offset_pa = 20_000.0
    bench.run(1)
    assert "FAILED" in check(bench, "gauge")


def receive_weight(bench, lot, nominal, weight_class, until="2026-12-31"):
    weight = Material(
        Sort.WEIGHT, "", lot, "a weight", "A", "2026-01-02", until, "M-1", nominal, weight_class
    )
    bench.session.journal([MaterialReceived(weight)])


@pytest.mark.parametrize(
    ("weight", "said"),
    [
        ("", "no check weight is chosen"),
        ("413.6 g", "check weight 413.6 g is not on record"),
        ("COARSE", "permissible error is more than a third"),
        ("LIGHT", "too light to tell"),
        ("LATE", "is overdue: calibrated until 2026-03-02"),
        ("AWAY", "is withdrawn: fell down"),
    ],
)
def test_a_weight_that_proves_nothing_is_refused_at_its_field(bench, weight, said):
    bench.sign_in()
    receive_weight(bench, "COARSE", 0.2, "M3")
    receive_weight(bench, "LIGHT", 0.002, "F2")
    receive_weight(bench, "LATE", 0.2, "F2", "2026-03-02")
    receive_weight(bench, "AWAY", 0.2, "F2")
    bench.session.journal([MaterialClosed("check weight", "", "AWAY", "withdrawn", "fell down")])
    weight_on(bench)
    with pytest.raises(NotAllowedError, match=said) as refused:
        check(bench, weight=weight)
    assert refused.value.field == "weight"
    # Typed as shown, whatever lies there: it is no weight on record.
    with pytest.raises(NotAllowedError, match="no check weight is chosen"):
        check(bench, nominal="200 g")
    assert not bench.store.entries(kind=InstrumentChecked.kind)


def test_the_panel_leads_through_empty_pan_zero_and_weight(bench):
    bench.sign_in()
    receive_weight(bench, "COARSE", 0.2, "M3")

    def scale():
        return instrument_views(bench.session, bench_view(bench.session, METRIC).strip)[0]

    def primary():
        return [action.id for action in scale().actions if action.primary]

    (field,) = scale().fields
    assert (field.kind, field.scanned, field.value) == (FieldKind.CHOICE, True, WEIGHT)
    assert dict(field.choices) == {WEIGHT: "CW-200, 200.0 g, class F2"}, "what suits alone"
    assert field.hint.startswith("1. Take everything off")
    assert primary() == ["prove_empty"]
    weight_on(bench)
    assert scale().fields[0].hint.startswith("2. Put it on")
    assert primary() == ["check"]
    bench.run(310)
    assert primary() == ["prove_empty"], "the proof is too old"
    bench.session.journal([MaterialClosed("check weight", "", WEIGHT, "withdrawn", "fell down")])
    assert scale().fields[0].hint.startswith("None that suits: a lead receives one good to ")


def test_the_weight_and_its_error_are_on_record_with_the_check(bench):
    bench.sign_in()
    weight_on(bench)
    check(bench, weight=f" {WEIGHT.lower()} ")
    event = bench.store.entries(kind=InstrumentChecked.kind)[0].event
    assert (event.weight, event.weight_error) == (WEIGHT, pytest.approx(3e-6))
    assert event.weight_error * 3 <= event.tolerance


def test_a_bench_may_ask_for_the_gauges_zero_each_day_and_takes_it_at_the_line(bench):
    bench.session.gauge.checked_daily = True
    bench.work_to(StepKind.RELEASE)
    asked = [a.id for a in bench_view(bench.session, METRIC).task.actions]
    assert "check_line" in asked
    shown = bench.session.gauge.good_value(bench.session.clock.seconds())
    assert shown > 5e5
    with pytest.raises(NotAllowedError, match="the line is not open to the air"):
        bench.session.act("check_line", {})
    assert not bench.store.entries(kind=InstrumentChecked.kind)
    bench.world.model.vent_opening = 1.0
    bench.run(60)
    assert "passed" in bench.session.act("check_line", {})
    assert "check_line" not in [a.id for a in bench_view(bench.session, METRIC).task.actions]
    assert bench.session.gauge.unfit(bench.session.today) == ""


def test_no_reading_no_check(bench):
    bench.sign_in()
    bench.unplugged.add("scale")
    bench.run(2)
    with pytest.raises(NotAllowedError, match="no valid reading"):
        check(bench, weight=WEIGHT)


def test_a_failed_check_holds_after_a_restart_until_one_passes(bench, tmp_path):
    bench.work_to(StepKind.WEIGH)
    weight_on(bench)
    assert "FAILED" in check_wrong(bench)
    bench.store.close()
    again = make_bench(tmp_path)
    try:
        recover(again.session)
        again.sign_in()
        assert "failed its last check" in capture_locked(again.session)
        with pytest.raises(NotAllowedError, match="failed its last check"):
            again.session.act("capture", {})
        weight_on(again)
        assert "passed" in check(again, weight=WEIGHT)
        assert capture_locked(again.session) == ""
    finally:
        again.store.close()


def test_nothing_is_judged_before_the_empty_pan_is_proven(bench):
    bench.sign_in()
    bench.world.model.put_on_pan("check weight")
    bench.run(3)
    with pytest.raises(NotAllowedError, match="empty pan is not proven"):
        check(bench, weight=WEIGHT)
    with pytest.raises(NotAllowedError, match="the empty pan shows 200"):
        bench.session.act("prove_empty", {"instrument": "scale-1"})
    assert not bench.store.entries(kind=InstrumentChecked.kind)


def test_a_proof_of_the_empty_pan_holds_for_a_while_only(bench):
    bench.sign_in()
    weight_on(bench)
    bench.run(310)
    with pytest.raises(NotAllowedError, match="empty pan is not proven"):
        check(bench, weight=WEIGHT)


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
    assert "passed" in check(bench, weight=WEIGHT)


def test_a_weight_that_is_not_on_the_pan_is_no_failure(bench):
    bench.sign_in()
    weight_on(bench)
    bench.world.model.put_on_pan("nothing")
    bench.run(3)
    with pytest.raises(NotAllowedError, match="is not on it"):
        check(bench, weight=WEIGHT)
    assert not bench.store.entries(kind=InstrumentChecked.kind)


def test_the_zero_that_was_proven_is_on_record(bench):
    bench.sign_in()
    weight_on(bench)
    check(bench, weight=WEIGHT)
    (entry,) = bench.store.entries(kind=InstrumentChecked.kind)
    assert entry.event.zero == pytest.approx(0.0, abs=1e-4)


def test_a_check_that_was_made_wrongly_is_withdrawn_by_a_lead_with_a_reason(bench):
    bench.sign_in()
    weight_on(bench)
    check(bench, weight=WEIGHT)
    check_wrong(bench)
    assert "failed its last check" in bench.session.scale.unfit(bench.clock.utc().date())
    with pytest.raises(NotAllowedError):
        bench.session.act(
            "withdraw_check", {**demo.SIGNED, "instrument": "scale-1", "reason": "slip"}
        )
    bench.sign_in(demo.LEAD)
    with pytest.raises(NotAllowedError):
        bench.session.act("withdraw_check", {**demo.SIGNED, "instrument": "scale-1", "reason": " "})
    bench.session.act(
        "withdraw_check",
        {**demo.SIGNED, "instrument": "scale-1", "reason": "the tray lay beside it"},
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
    check(bench, weight=WEIGHT)
    assert bench.session.scale.unfit(bench.clock.utc().date()) == ""
    tomorrow = bench.clock.utc().date() + timedelta(days=1)
    assert "has not been checked today" in bench.session.scale.unfit(tomorrow)
    bench.store.close()


def test_the_check_that_counted_is_in_the_record_and_on_the_certificate(tmp_path):
    bench = make_bench(tmp_path)
    bench.sign_in()
    weight_on(bench)
    check(bench, weight=WEIGHT)
    bench.work_to(None)
    (filed,) = bench.store.entries(kind="unit.filed")
    found = filed_record(bench.store, filed.event.unit_id)
    scale, gauge = found.record.instruments[:2]
    assert (scale.check.passed, scale.check.nominal, gauge.check) == (True, 0.2, None)
    pages = PdfReader(write_certificate(found, tmp_path / "a.pdf")).pages
    text = " ".join(page.extract_text() for page in pages)
    assert f"check weight {WEIGHT} passed" in " ".join(text.split())
    assert "not checked" in " ".join(text.split())
    bench.store.close()
