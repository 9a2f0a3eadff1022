"""Stories where parts of the bench meet: leaving, weighing, lots, sets, values by hand."""

import pytest

from benchstation.bench.capture.oil import other_lots
from benchstation.bench.capture.weighing import Phase
from benchstation.demo import shop as demo
from benchstation.domain.events import DeviationSigned, MassCaptured, TareProven
from benchstation.domain.specification import StepKind
from benchstation.domain.unit_commands import NotAllowedError
from benchstation.quantities.formatter import QuantityFormatter
from benchstation.quantities.units import UnitSystem
from benchstation.reports.export import filed_record
from benchstation.screens.records.page import Records
from benchstation.store.schema import projections
from tests.oil_hands import act, enabled, pour, tare, view

READ_ON = {
    "instrument": "Counter scale",
    "instrument_serial": "K-77",
    "last_digit": "0.1 g",
    "expanded": "0.2 g",
    "second": demo.LEAD,
    "pin": demo.PIN,
}


def signed_by_nobody(bench, event):
    entries = bench.store.entries(unit_id=bench.session.unit().unit_id)
    return [e for e in entries if isinstance(e.event, event) and e.person == "station"]


@pytest.mark.parametrize(("action", "reason"), [("hand_over", "to be poured on"), ("sign_out", "")])
def test_a_capture_that_was_asked_for_leaves_with_the_person(bench, action, reason):
    bench.work_to(StepKind.WEIGH)
    tare(bench, "body")
    pour(bench, 0.050)
    act(bench, "capture")
    assert bench.session.work.weighing.capturing
    act(bench, action, reason=reason)
    assert bench.session.person is None
    assert "cancelled" in bench.session.message.text
    bench.run(10)
    assert signed_by_nobody(bench, MassCaptured) == []
    assert bench.session.work.weighing.phase is Phase.POURING


@pytest.mark.parametrize(("action", "reason"), [("hand_over", "to be tared"), ("sign_out", "")])
def test_a_tare_that_was_asked_for_leaves_with_the_person(bench, action, reason):
    bench.work_to(StepKind.WEIGH)
    bench.world.model.put_on_pan("body")
    act(bench, "tare")
    act(bench, action, reason=reason)
    bench.run(20)
    assert signed_by_nobody(bench, TareProven) == []
    assert bench.session.work.weighing.phase is Phase.NEED_TARE


def test_a_hold_test_does_not_end_after_its_person_has_handed_over(bench):
    bench.work_to(StepKind.CHARGE)
    session = bench.session
    session.work.want_charge()
    session.work.want_hold()
    act(bench, "hand_over", reason="the valve is to be looked at")
    assert not session.work.hold_wanted
    assert not session.work.charge_wanted


def test_setting_aside_says_what_oil_is_in_no_record(bench):
    bench.work_to(StepKind.WEIGH)
    tare(bench, "body")
    pour(bench, 0.050)
    said = act(bench, "set_aside", reason="waits for oil")
    assert "About 50 g are not captured. Put back what is not captured" in said
    assert bench.session.message.needs_attention


@pytest.mark.parametrize("way", ["by_difference", "by_loss"])
def test_another_way_of_weighing_forgets_no_oil_that_is_in_no_record(bench, way):
    bench.work_to(StepKind.WEIGH)
    tare(bench, "body")
    pour(bench, 0.050)
    assert "About 50 g are not captured" in act(bench, way)
    assert bench.session.message.needs_attention
    assert "About 50 g were not captured: undo that first" in act(bench, "tare")


def test_what_the_hand_has_read_is_not_to_be_undone(bench):
    bench.work_to(StepKind.WEIGH)
    tare(bench, "body")
    pour(bench, 0.050)
    bench.unplugged.add("scale")
    bench.session.scale.instrument.report_broken("the line was lost")
    bench.run(2)
    assert "About 50 g are not captured" in bench.session.message.text
    act(bench, "take_by_hand", by_hand="50.0 g", **READ_ON)
    bench.unplugged.clear()
    bench.run(5)
    assert "not captured" not in act(bench, "tare")


@pytest.mark.parametrize("why", ["use_up", "withdraw_lot"])
def test_no_rest_is_poured_from_a_closed_lot(bench, why):
    bench.work_to(StepKind.WEIGH)
    bench.sign_in(demo.LEAD)
    tare(bench, "body")
    pour(bench, 0.050)
    act(bench, "ways")
    assert enabled(bench, "other_lot")
    act(bench, why, lot_open="L-0421", reason="water in it", signature=demo.PIN)
    act(bench, "leave")
    for action in ("other_lot", "pour_rest"):
        with pytest.raises(NotAllowedError, match="no other lot of this oil"):
            act(bench, action, lot="L-0421")
    assert not bench.session.work.weighing.capturing


def test_at_the_last_step_nothing_is_accepted_where_no_set_is_against_it(bench):
    bench.work_to(StepKind.FILE)
    bench.sign_in(demo.LEAD)
    with pytest.raises(NotAllowedError, match="nothing to accept"):
        act(bench, "deviation", **demo.SIGNED, reason="by mistake")
    assert not [
        e
        for e in bench.store.entries(unit_id=bench.session.unit().unit_id)
        if isinstance(e.event, DeviationSigned)
    ]
    act(bench, "file")
    assert not bench.session.rebuild.hold_reasons


def facts_of(store):
    with store.reading() as connection:
        return {
            table.name: sorted(repr(tuple(row)) for row in connection.execute(table.select()))
            for table in projections.sorted_tables
        }


def test_one_unit_with_everything_at_once_reads_the_same_everywhere(bench, tmp_path):
    """Parts, stacks, a photograph, set aside and fetched, two lots, a hand-over, a set."""
    bench.sign_in()
    serials = {f"serial{n}": f"R-{n}" for n in (1, 2)}
    act(bench, "place_order", order="A-9", family="mr-46-rear", count="2", matched="yes", **serials)
    act(bench, "look_up", serial="R-1")
    act(bench, "open", **{f.id: f.value for f in view(bench).task.fields})
    unit = bench.session.unit().unit_id
    lot = bench.session.shop.lots[bench.session.unit().opened.oil_lot]
    bench.world.bring_in(bench.session.unit().specification, lot.rho15_kg_m3)
    bench.work_to(StepKind.STACK, serial="R-1", family="mr-46-rear")
    act(bench, "set_aside", reason="waits for discs")
    act(bench, "fetch", unit=unit)
    bench.until(lambda: bench.session.gauge.good_value(bench.clock.seconds()) is not None)
    act(bench, "prove", confirm1="yes")
    act(bench, "hand_over", reason="discs are there")
    bench.sign_in(demo.TECHNICIANS[1])
    act(bench, "take_over")
    bench.sign_in()
    bench.work_to(StepKind.WEIGH, serial="R-1", family="mr-46-rear")
    first = bench.session.unit().oil_lot
    second = next(iter(other_lots(bench.session.unit(), bench.session.shop, bench.session.today)))
    tare(bench, "body")
    pour(bench, 0.100)
    act(bench, "pour_rest", lot=second)
    bench.until(lambda: bench.session.unit().oil_lot == second)
    bench.work_to(StepKind.FILE, serial="R-1", family="mr-46-rear")
    act(bench, "file")
    record = filed_record(bench.store, unit).record
    assert all((record.asides, record.hand_overs, record.worked, record.set))
    assert [lot.lot for lot in record.oil.lots] == [first, second]
    evidence = [result.type for step in record.steps for result in step.evidence]
    assert "photos" in evidence
    records = Records(bench.store)
    assert records.open(unit, QuantityFormatter(UnitSystem.METRIC))
    assert all(p.stat().st_size for p in records.export(unit, tmp_path, UnitSystem.METRIC))
    live = facts_of(bench.store)
    bench.store.rebuild_projections()
    assert facts_of(bench.store) == live
    assert bench.store.verify().ok
