"""A hold test whose gauge frozen: said in page and record, and not passed blindly."""

from dataclasses import replace

import pytest

from benchstation.domain.events import HoldTested, event_from
from benchstation.domain.specification import StepKind
from benchstation.reports.certificate import write_certificate
from benchstation.reports.export import filed_record
from tests.oil_hands import act, lines


def held(bench, then):
    """Charge, capture, and run the hold test, with the gauge as ``then`` makes it at its start."""
    bench.sign_in()
    for _ in bench.technician().work():
        bench.run(0.1)
        charge = bench.session.unit().charge
        if (
            charge is not None
            and charge.decision == "pass"
            and not bench.session.work.charge_wanted
        ):
            break
    bench.run(60)  # the gas is at the wall's temperature
    act(bench, "hold")
    then(bench.world.gauge)
    bench.until(lambda: not bench.session.work.hold_wanted, 120)
    entries = bench.store.entries(unit_id=bench.session.unit().unit_id)
    return next(e.event for e in reversed(entries) if isinstance(e.event, HoldTested))


def freeze(gauge):
    gauge.frozen = True


def test_a_gauge_that_freezes_in_the_hold_test_passes_nothing(bench):
    tested = held(bench, freeze)
    assert abs(tested.leak_pa_m3_s) + 2 * tested.u_leak_pa_m3_s < tested.allowed_pa_m3_s
    assert tested.decision == "undecided", "it reads like a tight unit"
    assert tested.gauge_stuck
    assert tested.stood_still_s == pytest.approx(tested.duration_s, abs=0.5)
    assert bench.session.unit().current.kind is StepKind.CHARGE
    assert "No digit changed in 30 s" in bench.session.message.text
    assert "it seems stuck" in bench.session.message.text
    assert any("it seems stuck" in line for line in lines(bench))


def test_a_gauge_that_is_alive_again_passes_the_next_one(bench):
    held(bench, freeze)
    bench.world.gauge.frozen = False
    bench.run(40)
    act(bench, "hold")
    bench.until(lambda: not bench.session.work.hold_wanted, 120)
    assert bench.session.unit().hold.decision == "pass"
    assert bench.session.unit().hold.stood_still_s == 0.0


def test_a_lively_gauge_says_nothing(bench):
    tested = held(bench, lambda gauge: None)
    assert (tested.decision, tested.stood_still_s, tested.gauge_stuck) == ("pass", 0.0, False)
    assert bench.session.message.text == "Hold test: pass."


def test_a_gauge_too_coarse_for_this_hold_proves_nothing(bench):
    """Steps of 0.1 bar: in a minute and a half they hide more than the allowed leak."""
    bench.world.gauge.decimals = 1
    tested = held(bench, lambda gauge: None)
    assert (tested.decision, tested.doubt) == ("undecided", "too_coarse")
    assert 2 * tested.u_leak_pa_m3_s > tested.allowed_pa_m3_s
    assert "this gauge cannot tell yet" in bench.session.message.text
    assert 60 < tested.wait_s < 3600


def test_a_coarse_gauge_on_a_tight_unit_passes_and_the_record_says_so(bench, tmp_path):
    bench.world.gauge.decimals, bench.world.gauge.noise_pa = 2, 5.0

    def off_the_edge_of_a_digit(gauge):
        shown = bench.world.model.gas_gauge_pa + gauge.offset_pa
        gauge.offset_pa += round(shown, -3) - shown

    tested = held(bench, off_the_edge_of_a_digit)
    assert tested.decision == "pass"
    assert not tested.gauge_stuck
    assert tested.stood_still_s > 29
    assert "a stuck gauge reads the same" in bench.session.message.text
    unit = bench.session.unit().unit_id
    bench.work_to(None)
    filed = filed_record(bench.store, unit)
    assert filed.record.hold.stood_still_s == tested.stood_still_s
    with_it = write_certificate(filed, tmp_path / "with.pdf").read_bytes()
    hold = replace(filed.record.hold, stood_still_s=0.0, gauge_stuck=False)
    older = replace(filed, record=replace(filed.record, hold=hold))
    without = write_certificate(older, tmp_path / "without.pdf").read_bytes()
    assert len(with_it) > len(without), "an older record prints without that line"


def test_a_hold_test_from_before_is_read():
    fields = ("start_gauge_pa", "end_gauge_pa", "duration_s", "leak_pa_m3_s", "u_leak_pa_m3_s")
    body = {**dict.fromkeys(fields, 1.0), "unit_id": "u", "step_id": "charge"}
    body |= {"allowed_pa_m3_s": 1.0, "decision": "pass", "trace_sha256": ""}
    tested = event_from(HoldTested.kind, body)
    assert (tested.stood_still_s, tested.gauge_stuck) == (0.0, False)
