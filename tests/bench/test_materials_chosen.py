"""Kits, lots and wrenches are chosen from what was received: refused else, and recalled later."""

import pytest

from benchstation.demo import shop as demo
from benchstation.demo.materials import KIT, OVERDUE_WRENCH, WRENCH
from benchstation.domain.events import MaterialClosed, MaterialReceived, UnitFiled
from benchstation.domain.materials import Sort, Standing
from benchstation.domain.statement_words import worded
from benchstation.driver_api.errors import StationError
from benchstation.quantities.formatter import METRIC
from benchstation.screens.bench.page import bench_view
from benchstation.screens.model.elements import FieldKind, Tone
from benchstation.store.queries import units_with_material
from tests.bench.test_recorded_steps import at, fields_of, file_one, refused, signed, view

LOTS = {f"lot{n}": f"{KIT}-{part}" for n, part in enumerate(("RS-14", "WP-14", "FP-46"), 1)}
CALIBRATED = {"until": "2030-01-31", "certificate": "C-1"}
NEW = {"sort": "part", "number": "RS-14", "lot": "N-1", "name": "Rod seal", "supplier": "A"}


def lead(bench, action, **fields):
    person = bench.session.person.person_id if bench.session.person else ""
    bench.sign_in(demo.LEAD)
    bench.session.act(action, fields)
    said = bench.session.message
    if person:
        bench.sign_in(person)
    return said


def withdraw(bench, sort, number, lot, reason="swells in oil"):
    named = {"material_sort": sort, "material_number": number, "material_lot": lot}
    return lead(bench, "withdraw_material", **demo.SIGNED, reason=reason, **named)


def test_a_step_offers_what_is_on_record_and_takes_nothing_else(bench):
    at(bench, "strip")
    field = fields_of(view(bench))["material1"]
    assert (field.kind, field.scanned) == (FieldKind.CHOICE, True)
    assert list(dict(field.choices)) == ["K-87", KIT]
    ticks = {"confirm1": "yes", "confirm2": "yes"}
    for typed in ("z", "q"):
        refused(bench, f"lot {typed} of SK-46 is not on record", material1=typed, **ticks)
    bench.session.act("sign", {"material1": KIT, **ticks})
    assert signed(bench, "strip").evidence[0].supplied.standing is Standing.OPEN


def test_a_wrench_must_be_on_record_and_calibrated(bench):
    at(bench, "screw")
    offered = dict(fields_of(view(bench))["torque1_tool"].choices)
    assert list(offered) == [WRENCH, OVERDUE_WRENCH]
    assert "overdue: calibrated until" in offered[OVERDUE_WRENCH]
    refused(bench, r"torque wrench \? is not on record", torque1="8", torque1_tool="?")
    refused(bench, "TW-03 is overdue", torque1="8", torque1_tool=OVERDUE_WRENCH)
    lead(
        bench,
        "deviation",
        **demo.SIGNED,
        reason="the other is away",
        torque1="8",
        torque1_tool=OVERDUE_WRENCH,
    )
    assert signed(bench, "screw").evidence[0].supplied.standing is Standing.OVERDUE
    assert bench.session.unit().hold_reasons


def test_what_is_not_on_record_is_received_at_the_step_and_what_was_chosen_stays(bench):
    at(bench, "parts")
    bench.session.act("ask_receive", {"lot2": LOTS["lot2"], "scanned": "N-7"})
    task = view(bench)
    assert fields_of(task)["lot"].value == "N-7"
    assert dict(fields_of(task)["wanted"].choices)["lot1"] == "Rod seal, 14 mm, RS-14"
    here = {"wanted": "lot1", "lot": "N-7", "until": "2027-01-31"}
    refused(bench, "supplier or source is missing", name="receive_here", **here)
    past = {**here, "until": "2026-03-02", "supplier": "A"}
    refused(bench, "it expired on 2026-03-02", name="receive_here", **past)
    refused(bench, "no day", name="receive_here", **{**past, "until": "soon"})
    refused(bench, "not chosen", name="receive_here", **{**here, "wanted": "", "supplier": "A"})
    bench.session.act("receive_here", {**here, "supplier": "counter sale, delivery note 4"})
    received = bench.store.entries(kind=MaterialReceived.kind)[-1]
    assert received.person == demo.TECHNICIANS[0]
    assert received.event.at_unit == bench.session.unit().unit_id
    values = {name: field.value for name, field in fields_of(view(bench)).items()}
    assert (values["lot1"], values["lot2"]) == ("N-7", LOTS["lot2"])
    bench.session.act("sign", {**LOTS, "lot1": "N-7", "lot4": "yes"})
    assert signed(bench, "parts").evidence[0].supplied.supplier == "counter sale, delivery note 4"


def test_a_wrench_is_received_at_the_step_with_its_calibration(bench):
    at(bench, "screw")
    bench.session.act("ask_receive", {"torque1": "8.1"})
    here = {"lot": "TW-9", "supplier": "tool store"}
    refused(bench, "day until which it is calibrated is missing", name="receive_here", **here)
    here["until"] = "2026-12-31"
    refused(bench, "certificate is missing", name="receive_here", **here)
    bench.session.act("receive_here", {**here, "certificate": "T-400"})
    values = {name: field.value for name, field in fields_of(view(bench)).items()}
    assert values == {"torque1": "8.1", "torque1_tool": "TW-9"}


def test_materials_are_received_by_a_lead_alone_and_said_whole(bench):
    bench.sign_in()
    with pytest.raises(StationError, match="is no bench lead"):
        bench.session.act("receive_material", NEW)
    for changed, said in (
        ({"sort": ""}, "not said what it is"),
        ({"number": " "}, "number is missing"),
        ({"lot": "a\x00"}, "lot or id is missing"),
        ({"supplier": ""}, "supplier or source is missing"),
        ({"lot": f"{KIT}-RS-14".lower()}, "is on record"),
        ({"nominal": "500 g"}, "only a check weight"),
        ({"sort": "torque wrench"}, "calibrated is missing"),
        ({"sort": "check weight", **CALIBRATED}, "nominal mass is missing"),
        ({"sort": "check weight", **CALIBRATED, "nominal": "500 g"}, "class is missing"),
        (
            {"sort": "check weight", **CALIBRATED, "nominal": "413.6 g", "weight_class": "F2"},
            "no weight of",
        ),
    ):
        with pytest.raises(StationError, match=said):
            lead(bench, "receive_material", **{**NEW, **changed})
        bench.sign_in()
    assert lead(bench, "receive_material", **NEW).text == "Part N-1 is received."
    assert bench.session.shop.stock.find(Sort.PART, "RS-14", "n-1").received_on == "2026-03-03"


def test_a_withdrawn_lot_is_told_at_once_to_who_works_with_it_and_stops_filing(bench):
    filed = file_one(bench, "T-0")
    at(bench, "file", "T-1")
    told = withdraw(bench, "part", "RS-14", LOTS["lot1"])
    assert "T-1 on the bench has it." in told.text
    assert "1 filed have it" in told.text
    shown = bench_view(bench.session, METRIC).task
    lot = f"lot {LOTS['lot1']} is withdrawn: swells in oil"
    assert shown.lines[0] == (f"In this unit: {lot}", Tone.DANGER)
    assert lot in next(a for a in shown.actions if a.id == "file").why_not
    refused(bench, "is withdrawn: swells in oil", name="file")
    rows = units_with_material(bench.store, "part", "RS-14", LOTS["lot1"].lower())
    assert {row.serial for row in rows} == {"T-0", "T-1"}
    assert filed in [row.unit_id for row in rows]
    lead(bench, "deviation", **demo.SIGNED, reason="looked at, sound")
    bench.session.act("file", {})
    record = bench.store.entries(kind=UnitFiled.kind)[-1].event.record
    assert record["qa_hold"]
    assert lot in worded(bench.session.rebuild.hold_reasons[-1])


def test_a_lot_withdrawn_before_its_step_is_signed_is_refused_there(bench):
    at(bench, "parts")
    withdraw(bench, "part", "RS-14", LOTS["lot1"])
    refused(bench, "is withdrawn: swells in oil", **LOTS, lot4="yes")
    choices = dict(fields_of(view(bench))["lot1"].choices)
    assert "withdrawn" in choices[LOTS["lot1"]]


def test_oil_that_was_withdrawn_after_the_pour_stops_filing_too(bench):
    at(bench, "file")
    lead(bench, "withdraw_lot", **demo.SIGNED, lot_open="L-0417", reason="water in it")
    refused(bench, "lot L-0417 is withdrawn: water in it", name="file")


def test_closing_needs_a_reason_and_happens_once(bench):
    bench.sign_in()
    with pytest.raises(StationError, match="needs a reason"):
        withdraw(bench, "kit", "SK-46", KIT, reason=" ")
    withdraw(bench, "kit", "SK-46", KIT)
    with pytest.raises(StationError, match="is withdrawn already"):
        withdraw(bench, "kit", "SK-46", KIT)
    with pytest.raises(StationError, match="nothing is chosen"):
        withdraw(bench, "kit", "SK-46", "none")
    assert len(bench.store.entries(kind=MaterialClosed.kind)) == 1


def test_lots_of_the_last_unit_that_may_not_be_used_are_left_to_choose(bench):
    file_one(bench)
    withdraw(bench, "part", "WP-14", LOTS["lot2"])
    at(bench, "parts", "T-2")
    bench.session.act("same_lots", {})
    assert f"Choose again: {LOTS['lot2']} may not be used" in bench.session.message.text
    assert "lot2" not in bench.session.work.typed
    assert bench.session.work.typed["lot1"] == LOTS["lot1"]


def test_what_is_on_record_stands_after_a_restart(bench):
    withdrawn = {"material_sort": "kit", "material_number": "SK-46", "material_lot": "K-87"}
    bench.sign_in(demo.LEAD)
    bench.session.act("withdraw_material", {**demo.SIGNED, **withdrawn, "reason": "x"})
    again = demo.demo_shop(bench.store)
    assert again.stock.received == bench.session.shop.stock.received
    assert again.stock.closed == bench.session.shop.stock.closed
