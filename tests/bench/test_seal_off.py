"""The seal-off: while a gauge shows pressure in the fill line, nobody signs that it is let down."""

from dataclasses import replace

import pytest

from benchstation.bench.tare_loss import recover
from benchstation.demo import shop as demo
from benchstation.domain.events import DeviationSigned, StepSigned
from benchstation.domain.inputs.confirmation import Confirmed
from benchstation.domain.statements import Code, Statement
from benchstation.domain.unit_commands import NotAllowedError
from benchstation.quantities.formatter import METRIC
from benchstation.reports.evidence_words import BY_WORD, evidence_in_words
from benchstation.screens.bench.input_forms import TOO_LATE
from tests.oil_hands import act, view
from tests.stepped_bench import make_bench

CONFIRMED = {"confirm1": "yes", "confirm2": "yes"}


@pytest.fixture
def sealing(bench):
    """A unit that is charged and held, its line still under the charge's pressure."""
    for _ in bench.technician().work():
        rebuild = bench.session.rebuild
        if rebuild and rebuild.current and rebuild.current.id == "seal":
            bench.sign_in()
            return bench
        bench.run(0.1)
    raise AssertionError("the route has no seal-off")


def sign_action(bench):
    return next(a for a in view(bench).task.actions if a.id == "sign")


def let_down(bench):
    bench.world.model.close_gas_screw()
    act(bench, "typed", confirm1="yes")
    vent(bench)


def vent(bench):
    bench.world.model.vent_opening = 0.1
    bench.until(lambda: bench.session.gauge.instrument.latest().value < 5e3)
    bench.run(1.5)
    bench.world.model.vent_opening = 0.0


def evidence(bench):
    """What the gauge said at the seal-off."""
    return bench.session.unit().signatures["seal"].evidence[0]


def said(bench):
    return evidence_in_words(bench.session.unit().signatures["seal"].evidence, METRIC)


def test_the_seal_off_is_the_first_confirmed_step_after_the_charge(bench):
    found = {s.id: s.seal_off.id for s in bench.session.shop.current_specifications()}
    assert set(found.values()) == {"seal"}
    assert len(found) >= 4


def test_a_line_under_pressure_is_not_signed_as_let_down(sealing):
    head = sealing.store.head()
    with pytest.raises(NotAllowedError, match=r"shows 1\d\.\d\d bar in the fill line") as refused:
        act(sealing, "sign", **CONFIRMED)
    assert "Vent the line slowly" in refused.value.advice
    assert sealing.store.head() == head
    assert not sign_action(sealing).enabled
    assert "under pressure" in view(sealing).task.lines[0][0]
    assert view(sealing).task.big.number.startswith("1")


def test_the_line_that_was_let_down_is_evidence_of_the_gauge(sealing):
    let_down(sealing)
    assert sign_action(sealing).enabled
    act(sealing, "sign", **CONFIRMED)
    assert evidence(sealing).instruments == ("gauge-1",)
    assert abs(evidence(sealing).gauge_pa) <= evidence(sealing).band_pa
    assert "bar gauge" in said(sealing)
    assert sealing.world.model.gas_gauge_pa > 10e5, "the unit keeps its charge"
    assert sealing.session.unit().hold_reasons == ()


def test_without_a_reading_it_is_the_persons_word_and_recorded_so(sealing):
    sealing.unplugged.add("gauge")
    sealing.run(3)
    assert "your word alone" in view(sealing).task.lines[0][0]
    act(sealing, "sign", **CONFIRMED)
    assert evidence(sealing).gauge_pa is None
    assert said(sealing).startswith(f"{BY_WORD}: no gauge reading")
    assert sealing.session.unit().hold_reasons == (Statement(Code.LINE_BY_WORD),)


def overdue(bench):
    gauge = bench.session.gauge
    gauge.registered = replace(gauge.registered, calibrated_until="2020-01-01")


def test_a_zero_of_a_gauge_that_is_not_fit_proves_nothing(sealing):
    let_down(sealing)
    overdue(sealing)
    act(sealing, "sign", **CONFIRMED)
    assert evidence(sealing).gauge_pa is None
    assert "overdue" in evidence(sealing).doubt
    assert sealing.session.unit().hold_reasons == (Statement(Code.LINE_BY_WORD),)


def test_pressure_counts_however_fit_the_gauge_is(sealing):
    overdue(sealing)
    with pytest.raises(NotAllowedError, match="in the fill line"):
        act(sealing, "sign", **CONFIRMED)


def test_a_lead_accepts_pressure_with_a_reason_and_signs_it_in_one(sealing):
    with pytest.raises(NotAllowedError, match="bench lead or QA"):
        act(sealing, "deviation", **demo.SIGNED, reason="the gauge's zero is off", **CONFIRMED)
    sealing.sign_in(demo.LEAD)
    with pytest.raises(NotAllowedError, match="still to do"):
        act(sealing, "deviation", **demo.SIGNED, reason="the gauge's zero is off")
    act(sealing, "deviation", **demo.SIGNED, reason="the gauge's zero is off", **CONFIRMED)
    events = [e.event for e in sealing.store.entries(unit_id=sealing.session.unit().unit_id)]
    assert [type(e) for e in events[-2:]] == [DeviationSigned, StepSigned]
    assert evidence(sealing).gauge_pa > 10e5, "what was accepted is on record"
    assert sealing.session.unit().hold_reasons == (
        Statement.of(Code.DEVIATION, of="step_result", title="Seal off"),
    )


def test_without_pressure_there_is_nothing_to_accept(sealing):
    let_down(sealing)
    sealing.sign_in(demo.LEAD)
    with pytest.raises(NotAllowedError, match="nothing to accept"):
        act(sealing, "deviation", **demo.SIGNED, reason="to be sure", **CONFIRMED)


def test_the_technician_lets_the_line_down(bench):
    bench.work_to(None)
    record = bench.store.entries(unit_id=bench.session.rebuild.unit_id)[-1].event.record
    seal = next(s for s in record["steps"] if s["id"] == "seal")
    assert seal["evidence"][0]["instrument_id"] == "gauge-1"


def confirmed(bench):
    signed = bench.session.unit().signatures["seal"].evidence
    return [result for result in signed if isinstance(result, Confirmed)]


def test_both_statements_carry_the_reading_of_their_moment_and_the_fall_is_on_record(sealing):
    charge = sealing.session.unit().charge
    let_down(sealing)
    act(sealing, "sign", **CONFIRMED)
    screw, vented = confirmed(sealing)
    assert screw.gauge_pa == pytest.approx(charge.gauge_pa, abs=2e4)
    assert abs(vented.gauge_pa) < 1e4
    assert evidence(sealing).seen
    assert evidence(sealing).fell_from_gauge_pa == pytest.approx(charge.gauge_pa, abs=2e4)
    assert "seen to fall" in said(sealing)
    trace = sealing.store.get_trace(evidence(sealing).trace_sha256)
    assert trace.channels["gauge_pa"].max() > 10e5


def test_the_screw_is_not_ticked_as_closed_once_the_line_is_vented(sealing):
    sealing.world.model.close_gas_screw()
    vent(sealing)
    assert any(TOO_LATE in line for line in [said for said, _ in view(sealing).task.lines])
    act(sealing, "typed", **CONFIRMED)
    with pytest.raises(NotAllowedError, match="still to do: Gas screw closed"):
        act(sealing, "sign", **CONFIRMED)
    sealing.sign_in(demo.LEAD)
    act(sealing, "deviation", **demo.SIGNED, reason="ticked late", **CONFIRMED)
    assert [one.gauge_pa is None for one in confirmed(sealing)] == [True, False]
    assert sealing.session.unit().hold_reasons


def test_the_line_is_not_ticked_as_vented_under_pressure(sealing):
    act(sealing, "typed", **CONFIRMED)
    vent(sealing)
    with pytest.raises(NotAllowedError, match="still to do: Bottle closed, fill line vented"):
        act(sealing, "sign", **CONFIRMED)


def test_pressure_that_comes_back_clears_both_ticks(sealing):
    let_down(sealing)
    act(sealing, "typed", **CONFIRMED)
    sealing.world.model.open_gas_screw()
    sealing.run(3)
    assert sealing.session.work.ticks == {}
    vent(sealing)
    with pytest.raises(NotAllowedError, match="still to do: Gas screw closed"):
        act(sealing, "sign", **CONFIRMED)


def test_a_fall_that_nobody_saw_leaves_the_charge_undecided(sealing):
    act(sealing, "typed", confirm1="yes")
    sealing.world.model.close_gas_screw()
    sealing.run(1)
    sealing.unplugged.add("gauge")
    sealing.world.model.vent_opening = 0.1
    sealing.run(5)
    sealing.unplugged.clear()
    sealing.run(3)
    with pytest.raises(NotAllowedError, match="not seen to fall"):
        act(sealing, "sign", **CONFIRMED)


def test_a_gauge_that_shows_more_than_the_charge_did_not_show_the_charge(sealing):
    act(sealing, "typed", confirm1="yes")
    sealing.world.gauge.offset_pa = 3e5
    sealing.run(1)
    sealing.world.gauge.offset_pa = 0.0
    sealing.world.model.close_gas_screw()
    vent(sealing)
    act(sealing, "typed", confirm2="yes")
    sealing.session.work.early.clear()
    with pytest.raises(NotAllowedError, match="not seen to fall"):
        act(sealing, "sign", **CONFIRMED)


def test_the_fall_and_its_ticks_outlive_a_restart(sealing, tmp_path):
    let_down(sealing)
    unit = sealing.session.unit()
    assert unit.line_fell.ticked.keys() == {"confirm1"}
    sealing.store.close()
    again = make_bench(tmp_path)
    again.world.model.close_gas_screw()
    recover(again.session)
    again.sign_in()
    again.run(2)
    act(again, "sign", **CONFIRMED)
    assert evidence(again).seen
    again.store.close()


def test_the_screw_is_not_said_to_be_closed_once_a_part_of_the_charge_is_gone(sealing):
    """The vent was opened before the screw was closed: 1.2 bar left, and the record said pass."""
    sealing.world.model.vent_opening = 0.003
    limit = sealing.session.unit().hold.end_gauge_pa - 1.2e5
    sealing.until(lambda: sealing.session.gauge.instrument.latest().value < limit)
    sealing.world.model.vent_opening = 0.0
    sealing.world.model.close_gas_screw()
    sealing.run(1)
    act(sealing, "typed", confirm1="yes")
    assert any(TOO_LATE in line for line, _ in view(sealing).task.lines)
    vent(sealing)
    with pytest.raises(NotAllowedError):
        act(sealing, "sign", **CONFIRMED)
    assert "seal" not in sealing.session.unit().signatures


def test_a_gauge_that_showed_less_than_nothing_after_the_charge_is_not_believed(sealing):
    """Its zero shifted while it was read, was refused in the open line, and came back by itself."""
    sealing.world.gauge.offset_pa = -0.8e5
    sealing.world.model.close_gas_screw()
    vent(sealing)
    with pytest.raises(NotAllowedError, match="undecided"):
        act(sealing, "sign", **CONFIRMED)
    sealing.world.gauge.offset_pa = 0.0
    sealing.run(3)
    with pytest.raises(NotAllowedError):
        act(sealing, "sign", **CONFIRMED)
    assert sealing.session.unit().line_fell is None
