"""What holds, and what does not any more, once a unit was left, gone back with, or accepted."""

from dataclasses import replace

import pytest

from benchstation.bench.bench_instrument import BenchInstrument
from benchstation.bench.locks import gas_in_unit
from benchstation.bench.withdrawn import withdrawn_from
from benchstation.demo import shop as demo
from benchstation.domain.calibrations import calibration_of
from benchstation.domain.events import DeviationSigned, MassCaptured, StepSigned
from benchstation.domain.matching import SCALE, compared_in, member_of
from benchstation.domain.specification import StepKind
from benchstation.domain.unit_commands import NotAllowedError
from benchstation.domain.unit_record import RecordedCapture
from benchstation.reports.export import filed_record
from benchstation.screens.model.elements import AT
from benchstation.store.queries import instruments_behind, use_of_lots
from tests.oil_hands import act, pour, tare, view
from tests.stepped_bench import START


def vent(bench):
    bench.world.model.vent_opening = 0.5
    bench.until(lambda: (bench.session.gauge.good_value(bench.clock.seconds()) or 1e9) < 5e3)
    bench.world.model.vent_opening = 0.0


def facts(bench, kind):
    entries = bench.store.entries(unit_id=bench.session.unit().unit_id)
    return [e.event for e in entries if isinstance(e.event, kind)]


def set_aside_and_fetch(bench):
    unit = bench.session.unit().unit_id
    act(bench, "set_aside", reason="waits")
    bench.run(60)
    return act(bench, "fetch", unit=unit)


@pytest.mark.parametrize("kind", [StepKind.WEIGH, StepKind.BLEED, StepKind.CHARGE, StepKind.FILE])
def test_a_unit_that_was_fetched_is_drawn_at_every_step(bench, kind):
    bench.work_to(kind)
    vent(bench)
    set_aside_and_fetch(bench)
    assert bench.session.unit().current.kind is kind
    titles = [group.title for group in view(bench).why]
    assert ("Target" in titles) == (kind is StepKind.CHARGE), "nothing is weighed before the proof"


# --- gas -----------------------------------------------------------------------------------------


@pytest.mark.parametrize("kind", [StepKind.PARTS, StepKind.WEIGH])
def test_nothing_is_accepted_as_a_deviation_under_pressure(bench, kind):
    bench.work_to(kind)
    bench.sign_in(demo.LEAD)
    bench.world.bring_in(bench.session.unit().specification, 851.3)
    bench.run(1.0)
    with pytest.raises(NotAllowedError, match="the gas must be out"):
        act(bench, "deviation", **demo.SIGNED, reason="it is late")
    assert facts(bench, DeviationSigned) == []
    assert bench.session.unit().current.kind is kind


def test_no_nothing_bled_is_judged_under_pressure(bench):
    bench.work_to(StepKind.BLEED)
    bench.world.bring_in(bench.session.unit().specification, 851.3)
    bench.run(1.0)
    with pytest.raises(NotAllowedError, match="the gas must be out"):
        act(bench, "nothing_bled")


def captured_charge(bench):
    """Work to a captured charge whose hold test was not begun."""
    technician = bench.technician()
    for _ in technician.work():
        bench.run(0.1)
        if bench.session.unit().charge is not None and not bench.session.work.hold_wanted:
            break
    assert bench.session.unit().current.kind is StepKind.CHARGE


def test_a_charge_that_was_left_is_captured_anew(bench):
    captured_charge(bench)
    vent(bench)
    said = set_aside_and_fetch(bench)
    assert "not proven out: take it that there is gas in it" in said, "it was vented"
    assert "Capture the charge again" in said
    assert bench.session.unit().charge is None
    assert gas_in_unit(bench.session)
    with pytest.raises(NotAllowedError, match="no captured charge"):
        act(bench, "hold")


def test_a_hold_test_begins_only_at_the_pressure_that_was_captured(bench):
    captured_charge(bench)
    vent(bench)
    with pytest.raises(NotAllowedError, match="not what was captured"):
        act(bench, "hold")
    assert not bench.session.work.hold_wanted


def test_a_charge_gone_back_to_is_gas_in_the_unit_also_with_the_gauge_off(bench):
    bench.work_to(StepKind.FILE)
    vent(bench)
    act(bench, "back", step="charge", reason="look again")
    assert bench.session.unit().charge is None
    act(bench, "back", step="strip", reason="scratched")
    assert bench.session.unit().current.kind is StepKind.RELEASE


def test_gas_let_in_and_never_captured_is_gas_in_the_unit(bench):
    bench.work_to(StepKind.CHARGE)
    bench.world.model.valve_opening = 0.5
    bench.until(lambda: (bench.session.gauge.good_value(bench.clock.seconds()) or 0) > 3e5)
    bench.world.model.valve_opening = 0.0
    vent(bench)
    assert gas_in_unit(bench.session), "the gauge was only taken off"


# --- who -----------------------------------------------------------------------------------------


def test_a_lead_who_takes_themself_off_leaves_no_capture_behind(bench):
    bench.work_to(StepKind.WEIGH)
    bench.sign_in(demo.LEAD)
    act(
        bench,
        "change_roles",
        **demo.SIGNED,
        person=demo.TECHNICIANS[0],
        technician="yes",
        lead="yes",
    )
    tare(bench, "body")
    pour(bench, 0.050)
    act(bench, "capture")
    act(bench, "take_off", **demo.SIGNED, person=demo.LEAD, reason="retires")
    assert bench.session.person is None
    bench.run(10)
    assert facts(bench, MassCaptured) == []


def test_who_has_left_is_no_second_person(bench):
    bench.work_to(StepKind.WEIGH)
    bench.sign_in(demo.LEAD)
    act(bench, "take_off", **demo.SIGNED, person=demo.TECHNICIANS[1], reason="moved")
    bench.sign_in()
    bench.unplugged.add("scale")
    bench.session.scale.instrument.report_broken("the line was lost")
    bench.run(2)
    act(bench, "by_hand")
    second = next(f for f in view(bench).task.fields if f.id == "second")
    assert demo.LEAD in dict(second.choices)
    assert demo.TECHNICIANS[1] not in dict(second.choices)


def test_no_pin_stays_in_what_was_typed(bench):
    bench.work_to(StepKind.WEIGH)
    act(bench, "sign_out", by_hand="50 g", pin=demo.PIN)
    assert bench.session.work.typed == {"by_hand": "50 g"}


# --- instruments ---------------------------------------------------------------------------------


def another_scale(bench):
    """Exchange the scale, as a lead does while no unit is on the bench."""
    old = bench.session.scale
    new = replace(old.registered, instrument_id="scale-9", serial_number="S-9")
    bench.store.append([new], person=demo.LEAD, utc=bench.clock.clock.utc())
    fitted = BenchInstrument(old.instrument, new)
    bench.session.exchange(fitted, old.id)


def source_of(registered):
    return f"{registered.instrument_id}, {calibration_of(registered)}"


def test_the_record_lists_the_scale_that_weighed_the_oil(bench):
    bench.work_to(StepKind.FILE)
    vent(bench)
    unit = bench.session.unit().unit_id
    first = bench.session.scale.registered
    act(bench, "set_aside", reason="waits for its label")
    another_scale(bench)
    act(bench, "fetch", unit=unit)
    act(bench, "file")
    record = filed_record(bench.store, unit).record
    listed = [(i.role, i.id) for i in record.instruments]
    assert listed == [
        ("scale", first.instrument_id),
        ("gauge", bench.session.gauge.registered.instrument_id),
    ]
    specification = bench.session.rebuild.specification
    assert member_of(compared_in(record), specification, "filed").sources[SCALE] == source_of(first)
    older = replace(record, oil=replace(record.oil, captures=(RecordedCapture("pour"),)))
    assert member_of(compared_in(older), specification, "filed").sources[SCALE] == source_of(first)


def test_oil_of_two_scales_has_no_calibration_in_common(bench):
    bench.work_to(StepKind.BLEED)
    unit = bench.session.unit().unit_id
    act(bench, "set_aside", reason="waits")
    another_scale(bench)
    act(bench, "fetch", unit=unit)
    act(bench, "prove", confirm1="yes")
    bench.work_to(None)
    record = filed_record(bench.store, unit).record
    scales = [i.id for i in record.instruments if i.role == "scale"]
    assert len(scales) == 2
    assert (
        member_of(compared_in(record), bench.session.rebuild.specification, "filed").sources[SCALE]
        == ""
    )
    assert bench.store.verify().ok


def test_an_instrument_is_listed_as_it_was_registered_at_the_time(bench):
    bench.work_to(StepKind.BLEED)
    known = bench.session.scale.registered
    anew = replace(known, certificate="K-NEW")
    bench.store.append([anew], person=demo.LEAD, utc=START)
    behind = instruments_behind(bench.store, bench.session.unit().unit_id)
    assert [i.certificate for i in behind if i.role == "scale"] == [known.certificate]


# --- lots ----------------------------------------------------------------------------------------


def two_lots(bench):
    bench.work_to(StepKind.WEIGH)
    tare(bench, "body")
    pour(bench, 0.100)
    act(bench, "pour_rest", lot="L-0421")
    bench.until(lambda: bench.session.unit().oil_lot == "L-0421")
    tare(bench, "body")
    pour(bench, 0.020)
    act(bench, "capture")
    bench.until(lambda: len(bench.session.unit().captures) == 2)


def test_a_withdrawn_lot_is_told_of_every_unit_that_is_not_done(bench):
    two_lots(bench)
    unit = bench.session.unit().unit_id
    bench.sign_in(demo.LEAD)
    act(bench, "set_aside", reason="waits")
    said = act(bench, "withdraw_lot", **demo.SIGNED, lot_open="L-0421", reason="water in it")
    assert "T-1 set aside has it" in said
    assert bench.session.message.needs_attention
    said = act(bench, "fetch", unit=unit)
    assert "Lot L-0421 is withdrawn: water in it." in said
    (lot,) = withdrawn_from(bench.session.shop, bench.session.unit())
    assert lot.words == "lot L-0421 is withdrawn: water in it"


def test_a_unit_of_two_lots_counts_for_both(bench):
    two_lots(bench)
    use = use_of_lots(bench.store, ["L-0417", "L-0421"])
    assert (use["L-0417"].units, use["L-0417"].shared) == (1, 1)
    assert (use["L-0421"].units, use["L-0421"].net_oil_kg) == (1, 0.0)
    assert facts(bench, StepSigned)


# --- forms ---------------------------------------------------------------------------------------


def test_what_comes_late_from_another_step_ticks_nothing_at_this_one(bench):
    bench.work_to(StepKind.PARTS)
    bench.session.act("typed", {"confirm1": "yes", AT: "strip"})
    assert bench.session.work.typed == {}
    bench.session.act("typed", {"lot1": "K-1", AT: "parts"})
    assert bench.session.work.typed == {"lot1": "K-1"}


def test_nothing_is_kept_for_a_step_whose_proof_is_due(bench):
    bench.work_to(StepKind.PARTS)
    set_aside_and_fetch(bench)
    bench.session.act("typed", {"lot1": "K-1", AT: "parts"})
    assert bench.session.work.typed == {}
