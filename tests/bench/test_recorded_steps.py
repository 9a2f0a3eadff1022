"""Stories at steps that a person records: refused without evidence, accepted, and found again."""

import json
import os
import sqlite3

import pytest

from benchstation.bench.locks import unsafe_pressure_pa
from benchstation.bench.step_history import known_at
from benchstation.bench.tare_loss import recover
from benchstation.demo import shop as demo
from benchstation.demo.picture import demo_png
from benchstation.demo.recording import typed_at
from benchstation.domain.disc_stack import SIDES, as_text, specified
from benchstation.domain.events import DeviationSigned, PhotoTaken, StepSigned
from benchstation.domain.plain import plain
from benchstation.domain.statement_words import worded
from benchstation.driver_api.errors import StationError
from benchstation.quantities.formatter import METRIC, QuantityFormatter
from benchstation.quantities.units import UnitSystem
from benchstation.reports.evidence_words import evidence_in_words
from benchstation.reports.export import as_json, filed_record
from benchstation.screens.bench.page import bench_view
from benchstation.screens.model.elements import FieldKind, Tone
from benchstation.screens.records.page import Records
from tests.picture_headers import jpeg, png
from tests.stepped_bench import make_bench


def at(bench, step_id, serial="T-1", family="mr-46-rear"):
    """Let the technician work up to a step of a family."""
    for _ in bench.technician(serial=serial, family=family).work():
        rebuild = bench.session.rebuild
        if rebuild and rebuild.current and rebuild.current.id == step_id:
            bench.run(2.5)
            return rebuild.current
        bench.run(0.1)
    raise AssertionError(f"the route has no step '{step_id}'")


def view(bench):
    return bench_view(bench.session, QuantityFormatter(UnitSystem.METRIC)).task


def fields_of(task):
    return {field.id: field for field in task.fields}


def action(task, name):
    return next(a for a in task.actions if a.id == name)


def signed(bench, step_id):
    return bench.session.unit().signatures.get(step_id)


def refused(bench, words, name="sign", **fields):
    before = bench.store.head()
    with pytest.raises(StationError, match=words):
        bench.session.act(name, fields)
    assert bench.store.head() == before


# --- measured with an instrument ---------------------------------------------------------------


def test_the_gauges_steady_reading_is_taken_with_its_raw_frame(bench):
    at(bench, "found")
    assert view(bench).big.unit == "bar gauge"
    assert action(view(bench), "sign").enabled
    bench.session.act("sign", {})
    (measured,) = signed(bench, "found").evidence
    assert measured.instruments == ("gauge-1",)
    shown = bench.session.gauge.instrument.latest().value
    assert measured.value == pytest.approx(shown, rel=0.01)
    assert f"{shown / 1e5:.1f}" in measured.reading.raw
    assert measured.reading.count >= 8


def test_a_reading_that_is_gone_or_moves_is_not_taken(bench):
    at(bench, "found")
    bench.world.model.vent_opening = 0.05
    bench.run(1.0)
    assert not action(view(bench), "sign").enabled
    refused(bench, "no steady, valid reading")
    bench.world.model.vent_opening = 0.0
    bench.unplugged.add("gauge")
    bench.run(3.0)
    task = view(bench)
    assert task.big.stale
    assert action(task, "sign").why_not == "no valid reading"
    refused(bench, "no steady, valid reading")
    bench.unplugged.clear()
    bench.until(lambda: action(view(bench), "sign").enabled, 30)


def test_an_instrument_that_failed_its_check_needs_a_deviation(bench):
    at(bench, "found")
    bench.session.act("check", {"instrument": "gauge-1"})
    assert not bench.session.gauge.checked.passed, "the unit is charged, so its zero is not zero"
    refused(bench, "failed its last check")
    assert action(view(bench), "deviation").why_not == "a bench lead or QA does this"
    bench.sign_in(demo.LEAD)
    bench.session.act("deviation", {**demo.SIGNED, "reason": "the zero was checked under pressure"})
    bench.session.act("sign", {})
    assert signed(bench, "found") is not None
    assert bench.session.unit().hold_reasons


# --- torque, choice, push force ----------------------------------------------------------------


def test_a_torque_outside_waits_for_a_lead_who_signs_what_stands_there(bench):
    at(bench, "screw")
    fields = {"torque1": "9.1", "torque1_tool": "TW-07"}
    refused(bench, "allowed 7.50 to 8.50", **fields)
    assert fields_of(view(bench))["torque1"].value == "9.1"
    refused(
        bench,
        "Have a bench lead or QA",
        name="deviation",
        **demo.SIGNED,
        reason="new seal",
        **fields,
    )
    bench.session.act("sign_out", fields)
    bench.sign_in(demo.LEAD)
    assert fields_of(view(bench))["torque1_tool"].value == "TW-07", (
        "what was typed is kept for the lead"
    )
    refused(bench, "reason", name="deviation", **demo.SIGNED, **fields)
    refused(
        bench,
        "Nothing is entered",
        name="deviation",
        **demo.SIGNED,
        reason="new seal",
        torque1_tool="TW-07",
    )
    inside = {**fields, "torque1": "8"}
    refused(bench, "nothing to accept", name="deviation", **demo.SIGNED, reason="x", **inside)
    bench.session.act("deviation", {**demo.SIGNED, **fields, "reason": "new seal"})
    kinds = [type(e.event) for e in bench.store.entries()][-2:]
    assert kinds == [DeviationSigned, StepSigned]
    assert signed(bench, "screw").person == demo.LEAD
    assert bench.session.unit().current.id == "charge"


def test_a_choice_for_qa_files_the_unit_on_hold(bench):
    at(bench, "rod")
    bench.session.act("sign", {"choice1": "polished"})
    at(bench, "file")
    bench.session.act("file", {})
    assert "on QA hold" in bench.session.message.text
    record = filed_record(bench.store, bench.session.rebuild.unit_id).record
    assert record.decision == "pass"
    assert [worded(reason) for reason in record.qa_hold_reasons] == [
        "Condition of the rod: light marks, polished out"
    ]


def test_the_expected_push_force_stands_on_screen_with_its_terms(bench):
    at(bench, "push")
    shown = bench_view(bench.session, QuantityFormatter(UnitSystem.METRIC))
    assert shown.task.lines[0][0].startswith("expected for this unit: 20")
    terms = {term.label: term for term in shown.why[0].terms}
    assert terms["Push force"].strong
    refused(bench, "allowed", value1="10 N")
    bench.session.act("sign", {"value1": "205 N"})
    area = signed(bench, "push").evidence[0].expected.rod_area_m2
    assert area == pytest.approx(1.539e-4, rel=1e-3)


# --- parts -------------------------------------------------------------------------------------


def file_one(bench, serial="T-0"):
    at(bench, "file", serial)
    bench.session.act("file", {})
    unit_id = bench.session.rebuild.unit_id
    bench.session.act("next", {})
    return unit_id


def test_lots_of_the_last_unit_fill_what_is_still_empty(bench):
    at(bench, "parts")
    refused(bench, "no unit of this family", name="same_lots")
    assert not action(view(bench), "same_lots").enabled
    bench.session.act("abandon", {"reason": "start over"})
    bench.session.act("next", {})
    file_one(bench)
    at(bench, "parts", "T-2")
    bench.session.act("same_lots", {"lot1": "K-87-RS-14", "lot2": ""})
    assert "compare them with the bags" in bench.session.message.text
    values = {name: field.value for name, field in fields_of(view(bench)).items()}
    assert values == {
        "lot1": "K-87-RS-14",
        "lot2": "K-88-WP-14",
        "lot3": "K-88-FP-46",
        "lot4": "",
    }
    refused(bench, "Retaining ring", **values)
    bench.session.act("sign", {**values, "lot4": "yes"})
    found = Records(bench.store).find("k-87")
    assert [row.serial for row in found] == ["T-2"]
    assert {row.serial for row in Records(bench.store).find("K-88-WP")} == {"T-0", "T-2"}


# --- disc stacks -------------------------------------------------------------------------------


def test_a_stack_is_compared_while_it_is_typed(bench):
    file_one(bench, "T-1")
    step = at(bench, "stack_built")
    field = fields_of(view(bench))["as_built_compression"]
    assert field.kind is FieldKind.STACK
    labels = [label for _, label in field.choices]
    assert labels == ["as specified", "as found", "as built 2026-03-03"]
    typed = typed_at(bench.session, bench.session.unit(), step, {}, None)
    rows = json.loads(typed["as_built_compression"])
    rows[1][2] = "2"
    rows[3:4] = []
    changed = {**typed, "as_built_compression": json.dumps(rows)}
    said = bench.session.message.text
    bench.session.act("typed", changed)
    assert bench.session.message.text == said, "typing says nothing"
    stack = fields_of(view(bench))["as_built_compression"].stack
    assert [disc.mark for disc in stack.discs] == ["same", "changed", "same", "same", "same"]
    told = [words for words, _ in stack.lines]
    against = "2 of 38 × 0.15 mm instead of 1 of 38 × 0.15 mm; removed 1 of 30 × 0.2 mm"
    assert told[1] == f"against the specification: {against}"
    assert told[2] == f"against the rebuild of 2026-03-03: {against}"
    assert stack.lines[1][1] is Tone.CAUTION
    refused(bench, "differs from the specification: compression", **changed)
    bench.session.act("sign", typed)
    said = evidence_in_words(signed(bench, "stack_built").evidence, METRIC)
    assert "as specified" in said


def test_a_stack_as_found_is_measured_and_taken_over_from_nowhere(bench):
    file_one(bench, "T-1")
    at(bench, "stack_found")
    for side in SIDES:
        field = fields_of(view(bench))[f"as_found_{side}"]
        assert (field.value, field.choices) == ("", ())
        stack = specified(bench.session.unit().specification.stacks, side)
        assert [d.outer for d in field.stack.specified] == [d.outer_m for d in stack]
    refused(bench, "as found")


def test_a_stack_half_typed_says_which_row_is_not_read(bench):
    at(bench, "stack_found")
    bench.session.act("typed", {"as_found_rebound": '[["38", "0.2", "2"], ["34", "", ""]]'})
    stack = fields_of(view(bench))["as_found_rebound"].stack
    assert stack.discs == ()
    assert "row 2 of rebound" in stack.lines[0][0]


def test_a_deviating_stack_is_accepted_and_told_in_the_record(bench):
    step = at(bench, "stack_built")
    typed = typed_at(bench.session, bench.session.unit(), step, {}, None)
    rebound = specified(bench.session.unit().specification.stacks, "rebound")
    typed["as_built_rebound"] = as_text(rebound[:-1])
    bench.sign_in(demo.LEAD)
    bench.session.act(
        "deviation", {**demo.SIGNED, **typed, "reason": "softer for the winter tyres"}
    )
    bench.sign_in()
    at(bench, "file")
    bench.session.act("file", {})
    record = filed_record(bench.store, bench.session.rebuild.unit_id).record
    evidence = next(s for s in record.steps if s.id == "stack_built").evidence
    assert plain(evidence[0].differences) == [
        {
            "side": "rebound",
            "difference": {
                "mark": "removed",
                "was": {"outer_m": 0.02, "thickness_m": 0.0003, "count": 1},
                "now": None,
            },
        }
    ]
    assert (record.decision, record.qa_hold) == ("deviation", True)


def test_a_serial_that_was_not_here_has_nothing_to_compare_with(bench):
    file_one(bench, "T-1")
    step = at(bench, "stack_built", "T-2")
    assert known_at(bench.store, bench.session.unit(), step).stacks == {}


# --- photographs -------------------------------------------------------------------------------


@pytest.fixture
def picture(tmp_path):
    path = tmp_path / "p.png"
    path.write_bytes(demo_png(1))
    return path


def test_a_picture_goes_on_record_at_once_and_survives_a_restart(bench, tmp_path, picture):
    at(bench, "pictures")
    assert not action(view(bench), "sign").enabled
    bench.session.act("add_photo", {"photo": str(picture), "caption": "piston"})
    assert "on record" in bench.session.message.text
    bench.store.close()
    again = make_bench(tmp_path)
    recover(again.session)
    again.sign_in()
    (photo,) = fields_of(view(again))["photo"].photos
    assert photo.data == picture.read_bytes()
    assert action(view(again), "sign").enabled
    again.session.act("sign", {})
    assert again.store.verify().problem == ""
    again.store.close()


def test_the_exported_record_lists_each_picture_and_whether_it_is_there(bench):
    unit_id = file_one(bench)
    filed = filed_record(bench.store, unit_id)
    (photo,) = as_json(filed)["photos"]
    assert photo["on_record"]
    assert photo["step"] == "Photographs"
    with sqlite3.connect(bench.store.path) as raw:
        raw.execute("DROP TRIGGER photo_no_update")
        raw.execute("UPDATE photo SET data = x'00'")
    raw.close()
    assert as_json(filed_record(bench.store, unit_id))["photos"][0]["on_record"] is False
    detail = Records(bench.store).open(unit_id, QuantityFormatter(UnitSystem.METRIC))
    assert detail.photos[0].data == b""


def test_a_file_that_is_no_picture_is_refused_and_nothing_kept(bench, tmp_path, picture):
    at(bench, "pictures")
    text, half, large = tmp_path / "x.jpg", tmp_path / "half.png", tmp_path / "large.jpg"
    text.write_text("not a picture")
    half.write_bytes(picture.read_bytes()[:-20])
    large.write_bytes(b"\xff\xd8\xff" + bytes(12_000_000))
    refused(bench, "no picture is chosen", name="add_photo")
    refused(bench, "no JPEG or PNG", name="add_photo", photo=str(text))
    refused(bench, "cut off", name="add_photo", photo=str(half))
    refused(bench, r"12\.0 MB; at most 12 MB", name="add_photo", photo=str(large))
    refused(bench, "cannot be read", name="add_photo", photo=str(tmp_path / "none.png"))
    refused(bench, "cannot be read", name="add_photo", photo=str(tmp_path))
    refused(bench, "0 of 1 photographs")


def test_a_picture_of_too_many_pixels_is_refused_on_every_way_in(bench, tmp_path):
    at(bench, "pictures")
    camera = tmp_path / "camera"
    camera.mkdir()
    bench.session.pick_photos_from(camera)
    for name, data in (("a.png", png(20_000, 20_000)), ("b.jpg", jpeg(20_000, 20_000))):
        (camera / name).write_bytes(data)
        said = "20000 × 20000 pixels; at most 60 million"
        refused(bench, said, name="add_photo", photo=str(camera / name))
        refused(bench, said, name="newest_photo")
        (camera / name).unlink()
    refused(bench, "0 of 1 photographs")


def test_the_newest_picture_of_the_camera_is_taken_by_one_key(bench, tmp_path):
    at(bench, "pictures")
    refused(bench, "no folder of a camera", name="newest_photo")
    camera = tmp_path / "camera"
    bench.session.pick_photos_from(camera)
    refused(bench, "cannot be read", name="newest_photo")
    camera.mkdir()
    (camera / "note.txt").write_text("x")
    refused(bench, "no JPEG or PNG picture in the folder", name="newest_photo")
    for count, name in enumerate(("new.PNG", "old.png")):
        (camera / name).write_bytes(demo_png(count))
        os.utime(camera / name, (1e9 - count, 1e9 - count))
    bench.session.act("newest_photo", {"caption": "as it stands"})
    assert bench.session.message.text.startswith("new.PNG")
    refused(bench, "this very picture", name="newest_photo")
    bench.session.act("set_photo_aside", {})
    assert fields_of(view(bench))["photo"].photos == ()
    assert [e.event.caption for e in bench.store.entries(kind=PhotoTaken.kind)] == ["as it stands"]


# --- several inputs in one step ----------------------------------------------------------------


CARRIER = {"family": "carrier-50"}


def test_a_photograph_and_a_measured_height_stand_in_one_form(bench, picture):
    at(bench, "seat", **CARRIER)
    task = view(bench)
    assert list(fields_of(task)) == ["caption", "photo", "value1", "confirm1"]
    assert [words for words, _ in task.lines] == [
        "0 on record, at least 1 specified",
        "specified: 2.40 ± 0.10 mm",
    ]
    assert [a.id for a in task.actions] == [
        "sign", "add_photo", "newest_photo", "set_photo_aside", "deviation"
    ]  # fmt: skip
    assert action(task, "sign").why_not == "1 still to add"
    typed = {"value1": "2.41 mm", "confirm1": "yes"}
    refused(bench, "0 of 1 photographs", **typed)
    bench.session.act("add_photo", {"photo": str(picture), "caption": "lip"})
    assert action(view(bench), "sign").enabled
    refused(bench, "allowed 2.30 to 2.50", value1="2.6 mm", confirm1="yes")
    refused(bench, "still to do: Seat clean", value1="2.41 mm")
    bench.session.act("sign", typed)
    photographed, measured, confirmed = signed(bench, "seat").evidence
    assert photographed.pictures[0].caption == "lip"
    assert measured.value == pytest.approx(0.00241)
    assert confirmed.label.startswith("Seat clean")
    assert bench.session.unit().current.id == "piston"


def test_what_is_typed_stays_when_a_photograph_is_added(bench, picture):
    at(bench, "seat", **CARRIER)
    bench.session.act("typed", {"value1": "2.41 mm", "confirm1": "yes"})
    bench.session.act("add_photo", {"photo": str(picture), "value1": "2.41 mm", "confirm1": "yes"})
    values = {name: field.value for name, field in fields_of(view(bench)).items()}
    assert values["value1"] == "2.41 mm"
    assert values["confirm1"] == "yes"
    assert values["photo"] == ""


def test_a_height_outside_is_accepted_with_the_photograph_beside_it(bench, picture):
    at(bench, "seat", **CARRIER)
    bench.session.act("add_photo", {"photo": str(picture), "caption": "lip"})
    bench.sign_in(demo.LEAD)
    fields = {"value1": "2.6 mm", "confirm1": "yes", "reason": "worn, within the wear limit"}
    bench.session.act("deviation", {**demo.SIGNED, **fields})
    kinds = [type(e.event) for e in bench.store.entries()][-2:]
    assert kinds == [DeviationSigned, StepSigned]
    said = evidence_in_words(signed(bench, "seat").evidence, METRIC)
    assert "2.60 mm, specified 2.40 ± 0.10 mm, accepted as a deviation" in said


def test_the_record_shows_both_in_the_readers_units(bench):
    at(bench, "file", "T-9", **CARRIER)
    for _ in bench.technician("T-9", **CARRIER).work():
        bench.run(0.1)
    unit = bench.session.rebuild.unit_id
    for system, said in (
        (UnitSystem.METRIC, "mm, specified 2.40"),
        (UnitSystem.INCH_POUND, " in,"),
    ):
        shown = Records(bench.store).open(unit, QuantityFormatter(system))
        (seat,) = [row for row in shown.steps if row.title == "Valve seat"]
        assert "1 photograph" in seat.words
        assert said in seat.words


# --- for all of them ---------------------------------------------------------------------------


@pytest.mark.parametrize("step_id", ["rod", "parts", "stack_built", "pictures", "piston", "screw"])
def test_nothing_is_signed_while_there_is_pressure_where_the_gas_must_be_out(bench, step_id):
    step = at(bench, step_id)
    typed = typed_at(bench.session, bench.session.unit(), step, {}, bench.technician().random)
    # A charged unit on the gauge: the one on the bench was not emptied, or it is another one.
    bench.world.bring_in(bench.session.unit().specification, 851.3)
    bench.until(lambda: unsafe_pressure_pa(bench.session) is not None)
    assert view(bench).lines[0][1] is Tone.DANGER
    refused(bench, "the gas must be out", **typed)


@pytest.mark.parametrize(
    "step_id",
    ["found", "rod", "stack_found", "parts", "stack_built", "pictures", "screw", "push"],
)
def test_no_recorded_step_is_passed_with_an_empty_form(bench, step_id):
    at(bench, step_id)
    if step_id == "found":
        bench.unplugged.add("gauge")
        bench.run(3.0)
    refused(bench, ".")
    assert bench.session.unit().current.id == step_id
