"""Each portion of oil is as uncertain as the scale, and the calibration, that weighed it."""

from dataclasses import replace

import pytest

from benchstation.bench.bench_instrument import BenchInstrument
from benchstation.demo import shop as demo
from benchstation.domain.calibrations import calibration_of
from benchstation.domain.events import MassCaptured, event_from
from benchstation.domain.matching import GAUGE, SCALE, compared_in, in_common, member_of
from benchstation.domain.specification import StepKind
from benchstation.reports.export import filed_record
from tests.oil_hands import act, capture, goal, judged, lines, tare

CALIBRATION = "scale_calibration"


def registered_anew(bench, role, **changes):
    """Put another instrument, or this one calibrated anew, in its place, as a lead does."""
    old = getattr(bench.session, role)
    new = replace(old.registered, **changes)
    bench.store.append([new], person=demo.LEAD, utc=bench.clock.clock.utc())
    fitted = BenchInstrument(old.instrument, new)
    bench.session.exchange(fitted, old.id)
    return new


def lie_aside(bench, role="scale", **changes):
    """Set the unit aside, exchange the instrument, and fetch it again."""
    unit = bench.session.unit().unit_id
    bench.sign_in()
    act(bench, "set_aside", reason="waits")
    new = registered_anew(bench, role, **changes)
    act(bench, "fetch", unit=unit)
    act(bench, "prove", confirm1="yes")
    return new


def u_of(budget):
    return {row.name: row.u_result for row in budget if row.name.startswith("scale")}


def test_a_portion_keeps_the_uncertainty_of_the_scale_that_weighed_it(bench):
    bench.work_to(StepKind.BLEED)
    first = bench.session.scale.registered
    poured = judged(bench).u_kg
    finer = first.u_calibration / 10
    lie_aside(bench, instrument_id="scale-9", certificate="K-9", u_calibration=finer)
    act(bench, "nothing_bled")
    name = f"{first.instrument_id} {calibration_of(first)}"
    found = u_of(judged(bench, StepKind.BLEED).budget)
    assert found[f"{CALIBRATION}: {name}"] == pytest.approx(first.u_calibration)
    assert found[CALIBRATION] == 0.0, "nothing was weighed on the finer one"
    assert judged(bench, StepKind.BLEED).u_kg == pytest.approx(poured, rel=0.01)


def test_both_scales_are_in_the_budget_of_what_both_weighed(bench):
    bench.work_to(StepKind.BLEED)
    first = bench.session.scale.registered
    new = lie_aside(bench, instrument_id="scale-9", u_calibration=3 * first.u_calibration)
    tare(bench, "tray")
    bench.world.model.bleed(goal(bench))
    bench.run(3)
    capture(bench)
    found = u_of(judged(bench, StepKind.BLEED).budget)
    assert found[CALIBRATION] == pytest.approx(new.u_calibration)
    assert sum(name.startswith(CALIBRATION) for name in found) == 2
    assert sum(name.startswith("scale_repeatability") for name in found) == 2


def test_a_scale_calibrated_anew_is_another_one_for_what_it_weighed_before(bench):
    bench.work_to(StepKind.BLEED)
    first = bench.session.scale.registered
    lie_aside(bench, certificate="K-NEW", calibrated_on="2026-03-03")
    act(bench, "nothing_bled")
    found = u_of(judged(bench, StepKind.BLEED).budget)
    assert f"{CALIBRATION}: {first.instrument_id} {calibration_of(first)}" in found


def test_an_older_capture_without_its_calibration_is_read_and_counts_here():
    fields = {"unit_id": "u", "step_id": "oil", "purpose": "pour", "instrument_id": "scale-1"}
    body = {**fields, "shown_kg": 0.2, "std_kg": 0.0, "count": 9, "resolution_kg": 1e-4}
    captured = event_from(MassCaptured.kind, {**body, "trace_sha256": "", "raw": ""})
    assert (captured.calibration, captured.u_calibration_kg) == ("", None)


# --- sets ----------------------------------------------------------------------------------------


def member(bench, serial):
    bench.work_to(None, serial=serial)
    record = filed_record(bench.store, bench.session.rebuild.unit_id).record
    bench.session.act("next", {})
    return record, bench.session.shop.specifications["mr-46-front", 1]


def test_a_calibration_is_in_common_only_while_it_is_the_same(bench):
    records = [member(bench, "C-1"), member(bench, "C-2")]
    registered_anew(bench, "scale", certificate="K-NEW", calibrated_on="2026-03-03")
    records.append(member(bench, "C-3"))
    registered_anew(bench, "gauge", certificate="G-NEW", calibrated_on="2026-03-03")
    records.append(member(bench, "C-4"))
    one, two, three, four = (member_of(compared_in(record), s, "filed") for record, s in records)
    assert {SCALE, GAUGE} <= set(in_common(one, two))
    assert SCALE not in in_common(one, three)
    assert GAUGE in in_common(one, three)
    assert SCALE in in_common(three, four)
    assert GAUGE not in in_common(three, four)


def test_a_record_from_before_tells_the_calibration_by_its_instruments(bench):
    record, specification = member(bench, "C-1")
    now = member_of(compared_in(record), specification, "filed")
    captures = tuple(replace(c, calibration="") for c in record.oil.captures)
    charge = replace(record.charge, calibration="")
    older = replace(record, oil=replace(record.oil, captures=captures), charge=charge)
    assert member_of(compared_in(older), specification, "filed").sources == now.sources
    twice = tuple(replace(i, certificate="K-NEW") for i in record.instruments)
    unsure = replace(older, instruments=(*record.instruments, *twice))
    assert member_of(compared_in(unsure), specification, "filed").sources[SCALE] == ""


# --- before and after ----------------------------------------------------------------------------


def weighed_before(bench):
    bench.work_to(StepKind.WEIGH)
    bench.sign_in()
    act(bench, "by_difference")
    tare(bench, "nothing")
    bench.world.model.put_on_pan("body")
    bench.run(2)
    capture(bench)
    assert not bench.session.work.weighing.wants_before
    bench.world.model.put_on_pan("nothing")


@pytest.mark.parametrize(
    "changes",
    [{"instrument_id": "scale-9"}, {"certificate": "K-NEW"}],
    ids=["scale", "calibration"],
)
def test_the_unit_before_is_weighed_anew_on_another_scale_and_the_page_says_why(bench, changes):
    weighed_before(bench)
    lie_aside(bench, **changes)
    assert bench.session.work.weighing.wants_before
    told = [line for line in lines(bench) if "scale or its calibration changed" in line]
    assert told == [
        "the scale or its calibration changed since the weighing before: "
        "pour back what is not captured, weigh before again"
    ]
    tare(bench, "nothing")
    assert any("scale or its calibration changed" in line for line in lines(bench))
    bench.world.model.put_on_pan("body")
    bench.run(2)
    capture(bench)
    assert not any("scale or its" in line for line in lines(bench))


def test_on_the_same_scale_the_unit_before_outlives_lying_aside(bench):
    weighed_before(bench)
    lie_aside(bench)
    assert not bench.session.work.weighing.wants_before
    assert not any("scale or its" in line for line in lines(bench))
