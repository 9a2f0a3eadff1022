"""Stories at the bench: what is signed, what is refused, and what a restart finds."""

import dataclasses

import pytest

from benchstation.bench.capture.weighing import Phase
from benchstation.bench.tare_loss import recover
from benchstation.bench.targets import present_oil_target
from benchstation.demo import shop as demo
from benchstation.domain.events import DeviationSigned, StepReopened, TareLost, UnitFiled
from benchstation.domain.specification import StepKind
from benchstation.domain.statements import Code
from benchstation.domain.unit_commands import NotAllowedError
from benchstation.driver_api.errors import StationError
from tests.stepped_bench import make_bench


def test_nothing_is_done_by_nobody(bench):
    with pytest.raises(NotAllowedError, match="nobody is signed in"):
        bench.session.act("open", {"serial": "T-1"})
    assert bench.store.open_unit() is None


def test_a_wrong_pin_is_refused_and_then_makes_wait(bench):
    for _ in range(5):
        with pytest.raises(NotAllowedError, match="not the PIN"):
            bench.session.act("sign_in", {"person": "kofler", "pin": "000001"})
    with pytest.raises(NotAllowedError, match="too many wrong PINs"):
        bench.session.act("sign_in", {"person": "kofler", "pin": "246810"})
    bench.run(31)
    bench.sign_in()
    assert bench.session.person.name == "Mira Kofler"


@pytest.mark.parametrize(
    ("fields", "said"),
    [
        ({"serial": "", "specification": "mr-46-front", "lot": "L-0417"}, "serial"),
        ({"serial": "a\nb", "specification": "mr-46-front", "lot": "L-0417"}, "serial"),
        ({"serial": "x" * 65, "specification": "mr-46-front", "lot": "L-0417"}, "serial"),
        ({"serial": "T-1", "specification": "no-such", "lot": "L-0417"}, "family"),
        ({"serial": "T-1", "specification": "mr-46-front", "lot": "L-9"}, "oil lot"),
    ],
)
def test_a_unit_that_cannot_be_opened_leaves_nothing(bench, fields, said):
    bench.sign_in()
    before = bench.store.head()
    with pytest.raises(NotAllowedError, match=said):
        bench.session.act("open", fields)
    assert bench.store.head() == before


def test_one_unit_at_a_time(bench):
    bench.work_to(StepKind.RELEASE)
    with pytest.raises(NotAllowedError, match="is on the bench"):
        bench.session.act(
            "open", {"serial": "T-2", "specification": "mr-46-front", "lot": "L-0417"}
        )


def test_the_whole_route_ends_in_a_record(bench):
    bench.work_to(None)
    assert bench.session.rebuild.ended == "filed"
    filed = bench.store.entries(kind="unit.filed")
    assert len(filed) == 1
    record = filed[0].event.record
    assert record["decision"] == "pass"
    assert len(record["steps"]) == 15
    assert abs(record["oil"]["deviation_kg"]) < record["oil"]["tolerance_kg"]
    assert bench.store.verify().ok


def test_pressure_in_the_unit_blocks_the_release(bench):
    bench.work_to(StepKind.RELEASE)
    bench.run(0.5)
    with pytest.raises(NotAllowedError, match=r"outside ±0\.10 bar"):
        bench.session.act("sign", {"confirm1": "yes"})


def test_a_lost_gauge_never_counts_as_zero(bench):
    bench.work_to(StepKind.RELEASE)
    bench.world.model.vent_opening = 1.0
    bench.run(60)
    bench.unplugged.add("gauge")
    bench.run(2)
    with pytest.raises(NotAllowedError, match="no valid pressure reading"):
        bench.session.act("sign", {"confirm1": "yes"})


def test_a_measure_outside_needs_the_lead(bench):
    bench.work_to(StepKind.MEASURE)
    step = bench.session.rebuild.current
    with pytest.raises(NotAllowedError, match="allowed"):
        bench.session.act("sign", {"value1": "100 mm"})
    with pytest.raises(NotAllowedError, match="bench lead or QA"):
        bench.session.act("deviation", {**demo.SIGNED, "reason": "tube is an older make"})
    bench.sign_in("oberhauser")
    bench.session.act("deviation", {**demo.SIGNED, "reason": "tube is an older make"})
    bench.session.act("sign", {"value1": "100 mm"})
    assert bench.session.rebuild.current != step
    (entry,) = bench.store.entries(kind=DeviationSigned.kind)
    assert entry.person == "oberhauser"


def test_capture_waits_for_a_proven_tare(bench):
    bench.work_to(StepKind.WEIGH)
    with pytest.raises(NotAllowedError, match="tare is not proven"):
        bench.session.act("capture", {})


def test_a_plug_pulled_mid_pour_costs_the_tare(bench):
    bench.work_to(StepKind.WEIGH)
    bench.world.model.put_on_pan("body")
    bench.run(2)
    bench.session.act("tare", {})
    bench.until(lambda: bench.session.work.weighing.phase is Phase.POURING)
    bench.world.model.pour_opening = 0.5
    bench.run(3)
    bench.session.scale.instrument.report_broken("the line was lost")
    bench.run(0.2)
    assert bench.session.work.weighing.phase is Phase.NEED_TARE
    (entry,) = bench.store.entries(kind=TareLost.kind)
    assert entry.event.reason.code is Code.LINE_LOST
    with pytest.raises(NotAllowedError, match="tare is not proven"):
        bench.session.act("capture", {})


def test_the_unit_key_mid_pour_costs_the_tare(bench):
    bench.work_to(StepKind.WEIGH)
    bench.world.model.put_on_pan("body")
    bench.run(2)
    bench.session.act("tare", {})
    bench.until(lambda: bench.session.work.weighing.phase is Phase.POURING)
    bench.world.scale.unit = "lb"
    bench.run(1)
    assert bench.session.work.weighing.phase is Phase.NEED_TARE
    (lost, *_) = bench.store.entries(kind=TareLost.kind)
    assert lost.event.reason.code is Code.UNIT_CHANGED


def test_less_than_at_the_tare_is_not_captured(bench):
    bench.work_to(StepKind.WEIGH)
    bench.world.model.put_on_pan("body")
    bench.run(2)
    bench.session.act("tare", {})
    bench.until(lambda: bench.session.work.weighing.phase is Phase.POURING)
    # The empty pan creeps down by two grams, slower than any hand.
    for _ in range(20):
        bench.world.scale._tare += 1e-4
        bench.run(0.1)
    bench.run(3)
    bench.session.act("capture", {})
    bench.run(4)
    assert not bench.session.rebuild.captures
    assert "less than at the tare" in bench.session.message.text


def test_a_jug_left_on_the_scale_is_said_and_not_captured(bench):
    bench.work_to(StepKind.WEIGH)
    bench.world.model.put_on_pan("body")
    bench.run(2)
    bench.session.act("tare", {})
    bench.until(lambda: bench.session.work.weighing.phase is Phase.POURING)
    bench.world.model.setup = dataclasses.replace(bench.world.model.setup, body_kg=1.4)
    bench.run(3)
    with pytest.raises(NotAllowedError, match="put on the scale or lifted off"):
        bench.session.act("capture", {})
    assert not bench.session.rebuild.captures


def test_an_overdue_calibration_blocks_capture(bench):
    bench.work_to(StepKind.WEIGH)
    bench.session.scale.registered = _overdue(bench.session.scale.registered)
    with pytest.raises(NotAllowedError, match="overdue for calibration"):
        bench.session.act("capture", {})


def _overdue(registered):
    from dataclasses import replace

    return replace(registered, calibrated_until="2026-03-01")


def test_an_overfill_is_undecided_or_failed_and_never_signed_by_itself(bench):
    bench.work_to(StepKind.WEIGH)
    bench.world.model.put_on_pan("body")
    bench.run(2)
    bench.session.act("tare", {})
    bench.until(lambda: bench.session.work.weighing.phase is Phase.POURING)
    bench.pour(present_oil_target(bench.session).pour_shown_kg + 0.004)
    bench.session.act("capture", {})
    bench.until(lambda: bool(bench.session.rebuild.captures))
    step = bench.session.rebuild.current
    assert step.kind is StepKind.WEIGH
    assert bench.session.rebuild.oil[step.id].decision == "fail"
    assert "fail, too much oil. Take some out and capture again" in bench.session.message.text
    bench.world.model.take_out(0.004)
    bench.run(3)
    bench.session.act("capture", {})
    bench.until(lambda: bench.session.rebuild.current.kind is not StepKind.WEIGH)


def test_going_back_needs_a_reason_and_keeps_what_was(bench):
    bench.work_to(StepKind.WEIGH)
    with pytest.raises(NotAllowedError, match="needs a reason"):
        bench.session.act("back", {"reason": " "})
    bench.session.act("back", {"reason": "wrong piston"})
    assert bench.session.rebuild.current.kind is StepKind.MEASURE
    (entry,) = bench.store.entries(kind=StepReopened.kind)
    assert entry.event.reason == "wrong piston"


def test_with_gas_in_the_unit_the_way_back_leads_to_the_release(bench):
    bench.work_to(StepKind.CHARGE)
    bench.world.model.valve_opening = 1.0
    bench.run(4)
    bench.world.model.valve_opening = 0.0
    bench.run(1)
    bench.session.act("back", {"step": "strip", "reason": "seal forgotten"})
    assert bench.session.rebuild.current.kind is StepKind.RELEASE


def test_a_restart_goes_on_at_the_same_step_with_the_tare_to_prove(bench, tmp_path):
    bench.work_to(StepKind.WEIGH)
    bench.world.model.put_on_pan("body")
    bench.run(2)
    bench.session.act("tare", {})
    bench.until(lambda: bench.session.work.weighing.phase is Phase.POURING)
    unit = bench.session.rebuild.unit_id
    bench.store.close()
    again = make_bench(tmp_path)
    try:
        recover(again.session)
        assert again.session.rebuild.unit_id == unit
        assert again.session.rebuild.current.kind is StepKind.WEIGH
        assert again.session.rebuild.tare is None
        assert again.session.work.weighing.phase is Phase.NEED_TARE
        assert again.store.entries(kind=TareLost.kind)
        assert "put back what is not captured" in again.session.message.text.lower()
        assert again.session.message.needs_attention
    finally:
        again.store.close()


def test_an_abandoned_unit_frees_the_bench_and_stays_on_record(bench):
    bench.work_to(StepKind.RELEASE)
    bench.session.act("abandon", {"reason": "tube is scrap"})
    assert bench.store.open_unit() is None
    bench.session.act("next", {})
    bench.session.act("open", {"serial": "T-2", "specification": "sledge-36", "lot": "L-0440"})
    assert bench.session.rebuild.opened.serial == "T-2"


def test_a_filed_unit_is_never_altered(bench):
    bench.work_to(None)
    for action in ("back", "abandon", "deviation", "file", "sign", "capture"):
        with pytest.raises(StationError):
            bench.session.act(action, {"reason": "second thoughts", "step": "oil"})
    assert len(bench.store.entries(kind=UnitFiled.kind)) == 1


def test_a_lot_of_another_oil_is_refused(bench):
    bench.sign_in()
    with pytest.raises(NotAllowedError, match="this family takes ISO VG 15"):
        bench.session.act(
            "open", {"serial": "T-1", "specification": "mr-46-front", "lot": "L-0440"}
        )


def test_pressure_where_the_gas_must_be_out_stops_the_work(bench):
    bench.work_to(StepKind.MEASURE)
    model = bench.world.model
    model.bring_in(free_volume_m3=365e-6, rho_oil_kg_m3=848, oil_kg=0.22, gauge_pa=12.8e5)
    bench.run(0.5)
    with pytest.raises(NotAllowedError, match=r"shows 12\.80 bar, and the gas must"):
        bench.session.act("sign", {"value1": "209.5 mm"})
    said = bench.session.act("abandon", {"reason": "scrap"})
    assert "There may be gas in it" in said
    assert bench.session.message.needs_attention


def test_numbers_without_a_unit_are_meant_as_shown(bench):
    bench.work_to(StepKind.MEASURE)
    bench.session.act("sign", {"value1": "8.25", "units": "inch-pound"})
    signed = bench.store.entries(kind="step.signed")[-1].event
    assert signed.evidence[0].value == pytest.approx(8.25 * 25.4e-3)


def test_qa_releases_holds_and_rejects_with_a_reason(bench):
    bench.work_to(None)
    unit = bench.session.rebuild.unit_id
    fields = {"unit": unit, "disposition": "released", "reason": "record complete"}
    with pytest.raises(NotAllowedError, match="Have QA sign in"):
        bench.session.act("dispose", {**demo.SIGNED, **fields})
    bench.sign_in("anders")
    with pytest.raises(NotAllowedError, match="needs a reason"):
        bench.session.act("dispose", {**demo.SIGNED, **fields, "reason": " "})
    with pytest.raises(NotAllowedError, match="no such word"):
        bench.session.act("dispose", {**demo.SIGNED, **fields, "disposition": "forgotten"})
    bench.session.act("dispose", {**demo.SIGNED, **fields})
    with pytest.raises(StationError):
        bench.session.act("dispose", {**demo.SIGNED, **fields, "unit": "no-such-unit"})
    (entry,) = bench.store.entries(kind="unit.disposed")
    assert (entry.person, entry.event.disposition) == ("anders", "released")


def test_the_record_names_who_opened_and_who_filed(bench):
    bench.work_to(StepKind.FILE)
    bench.sign_in("wieland")
    bench.session.act("file", {})
    record = bench.store.entries(kind="unit.filed")[0].event.record
    assert record["technician"]["name"] == "Mira Kofler"
    assert record["filed_by"]["name"] == "Jonas Wieland"


def test_qa_does_not_work_on_units(bench):
    bench.work_to(StepKind.MEASURE)
    bench.sign_in("anders")
    with pytest.raises(NotAllowedError, match="does not work on units"):
        bench.session.act("sign", {"value1": "209.5 mm"})


def test_a_serial_that_was_here_before_is_said_and_another_family_is_minded(bench):
    bench.work_to(None, serial="T-7")
    bench.session.act("next", {})
    fields = {"serial": "t-7", "specification": "mr-46-front", "lot": "L-0417"}
    assert "Here before once, last 2026-03-03" in bench.session.act("open", fields)
    assert not bench.session.message.needs_attention
    bench.session.act("abandon", {"reason": "wrong one"})
    bench.session.act("next", {})
    said = bench.session.act("open", {**fields, "specification": "sledge-36", "lot": "L-0440"})
    assert "Here before 2 times" in said
    assert bench.session.message.needs_attention
