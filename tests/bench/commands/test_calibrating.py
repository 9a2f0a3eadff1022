"""A new calibration of a fitted instrument: signed, in force at once, noted by the unit."""

import pytest
from pypdf import PdfReader

from benchstation.bench.locks import capture_locked
from benchstation.demo import shop as demo
from benchstation.domain.calibrations import calibration_of
from benchstation.domain.events import CalibrationChanged, InstrumentRegistered
from benchstation.domain.specification import StepKind
from benchstation.domain.unit_commands import NotAllowedError
from benchstation.driver_api.errors import StationError
from benchstation.reports.certificate import write_certificate
from benchstation.reports.export import filed_record
from benchstation.store.queries import instruments_behind
from tests.stepped_bench import make_bench

GOOD = {
    "instrument": "scale-1",
    "certificate": "C-26-118",
    "laboratory": "Kalibrierlabor Süd",
    "on": "2026-02-20",
    "until": "2027-02-20",
    "gain": "1.01",
    "u": "0.02 g",
    "reason": "yearly calibration",
    "signature": demo.PIN,
}


def calibrate(bench, **fields):
    return bench.session.act("calibrate", {**GOOD, **fields})


def newest(bench, instrument="scale-1"):
    return bench.store.instruments()[instrument]


def registrations(bench):
    return len(bench.store.entries(kind=InstrumentRegistered.kind))


@pytest.fixture
def led(bench):
    bench.sign_in(demo.LEAD)
    return bench


def test_it_is_on_record_and_corrects_the_next_reading(led):
    led.world.model.put_on_pan("check weight")
    led.run(3)
    assert led.session.scale.instrument.latest().value == pytest.approx(0.2, abs=1e-4)
    assert "in force to 2027-02-20" in calibrate(led)
    led.run(1)
    assert led.session.scale.instrument.latest().value == pytest.approx(0.202, abs=1e-4)
    kept = newest(led)
    assert kept == led.session.scale.registered
    assert (kept.gain, kept.u_calibration, kept.certificate) == (1.01, 2e-5, "C-26-118")
    assert kept.calibration.laboratory == "Kalibrierlabor Süd"
    assert kept.calibration.reason == "yearly calibration"
    assert led.store.entries(kind=InstrumentRegistered.kind)[-1].person == demo.LEAD
    assert kept.title == "Bench scale" or kept.title
    assert led.store.entries(kind=CalibrationChanged.kind) == []


def test_a_restart_corrects_by_it_too(led, tmp_path):
    calibrate(led)
    led.store.close()
    again = make_bench(tmp_path)
    try:
        again.world.model.put_on_pan("check weight")
        again.run(3)
        assert again.session.scale.instrument.latest().value == pytest.approx(0.202, abs=1e-4)
    finally:
        again.store.close()


def test_points_up_and_down_become_the_line_in_force(led):
    points = "0 0.00\n1000 1000.10\n2000 2000.20\n1000 1000.12\n0 0.01"
    calibrate(led, gain="", u="", points=points, u_reference="0.005", low="0 g", high="2 kg")
    kept = newest(led)
    assert kept.gain == pytest.approx(1 - 1e-4, abs=2e-6)
    assert len(kept.calibration.left.points) == 5
    assert kept.calibration.found == kept.calibration.left
    assert kept.u_calibration > 5e-6


@pytest.mark.parametrize(
    ("given", "said"),
    [
        ({"signature": "000000"}, "not your PIN"),
        ({"signature": ""}, "signed with your PIN"),
        ({"reason": "  "}, "a reason is needed"),
        ({"until": "2026-02-28", "on": "2025-02-28"}, "expired on 2026-02-28"),
        ({"gain": "", "u": ""}, "neither points nor a gain"),
        ({"instrument": "scale-9"}, "no instrument"),
        ({"certificate": ""}, "no number"),
    ],
)
def test_what_is_refused_changes_nothing(led, given, said):
    before, registered = registrations(led), led.session.scale.registered
    with pytest.raises(StationError, match=said):
        calibrate(led, **given)
    assert registrations(led) == before
    assert led.session.scale.registered is registered


def test_only_a_lead_signs_it(bench):
    bench.sign_in()
    with pytest.raises(NotAllowedError, match="no bench lead"):
        calibrate(bench)


def test_wrong_pins_lock_out_as_at_the_sign_in(led):
    for _ in range(12):
        with pytest.raises(NotAllowedError):
            calibrate(led, signature="111111")
    with pytest.raises(NotAllowedError, match="too many wrong PINs"):
        calibrate(led)


def test_an_expired_one_is_taken_only_by_word_and_locks_capture(led):
    expired = {"on": "2025-02-28", "until": "2026-02-28"}
    assert "Capture is locked" in calibrate(led, take_expired="yes", **expired)
    assert "overdue" in led.session.scale.unfit(led.session.clock.utc().date())


def test_the_unit_under_way_notes_it_and_keeps_what_was_captured(bench):
    bench.work_to(StepKind.CHARGE)
    bench.run(2)
    before = calibration_of(bench.session.scale.registered)
    unit_id = bench.session.unit().unit_id
    bench.sign_in(demo.LEAD)
    calibrate(bench)
    assert "calibration" not in capture_locked(bench.session)
    (noted,) = bench.session.unit().recalibrated
    assert (noted.event.before, noted.event.after) == (before, "2026-02-20 C-26-118")
    assert {c.event.calibration for c in bench.session.unit().captures} == {before}
    behind = [i.certificate for i in instruments_behind(bench.store, unit_id)]
    assert "C-26-118" not in behind


def test_the_record_names_it(bench, tmp_path):
    bench.work_to(StepKind.CHARGE)
    bench.run(2)
    assert bench.session.unit().zero_before is not None
    bench.sign_in(demo.LEAD)
    calibrate(bench, instrument="gauge-1", gain="1.0", u="30 mbar")
    assert bench.session.unit().zero_before is None
    bench.run(2)
    assert bench.session.unit().zero_before.calibration == "2026-02-20 C-26-118"
    bench.sign_in()
    bench.work_to(None)
    (row,) = bench.store.entries(kind="unit.filed")
    record = filed_record(bench.store, row.event.unit_id).record
    assert [r.instrument_id for r in record.recalibrated] == ["gauge-1"]
    assert record.charge.calibration == "2026-02-20 C-26-118"
    laboratories = {i.certificate: i.laboratory for i in record.instruments}
    assert laboratories["C-26-118"] == "Kalibrierlabor Süd"
    paper = tmp_path / "certificate.pdf"
    write_certificate(filed_record(bench.store, record.unit_id), paper)
    text = " ".join("".join(p.extract_text() for p in PdfReader(paper).pages).split())
    assert "C-26-118, Kalibrierlabor Süd" in text
    assert "Calibration of gauge-1" in text


def test_no_weighing_spans_two_calibrations(bench):
    bench.work_to(StepKind.WEIGH)
    bench.world.model.put_on_pan("body")
    bench.run(3)
    bench.session.act("tare", {})
    bench.until(lambda: bench.session.work.weighing.tared)
    bench.sign_in(demo.LEAD)
    with pytest.raises(NotAllowedError, match="weighing that was begun"):
        calibrate(bench)
    bench.session.act("cancel", {})


def test_a_study_that_runs_ends_with_the_old_calibration(led):
    led.session.act("begin_study", {"instrument": "scale-1", "nominal": "200 g"})
    calibrate(led)
    assert led.session.study is None
