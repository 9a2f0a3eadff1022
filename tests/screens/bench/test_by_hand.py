"""Stories of a value read by hand: the last resort, confirmed by a second person, never hidden."""

from dataclasses import replace

import pytest

from benchstation.bench.commands.signing_in import confirmed_by
from benchstation.bench.tare_loss import recover
from benchstation.bench.targets import present_pour
from benchstation.domain.events import PinRefused
from benchstation.domain.specification import StepKind
from benchstation.domain.statements import Code, Statement
from benchstation.domain.unit_commands import NotAllowedError
from benchstation.domain.unit_record import record_in
from benchstation.driver_api.errors import StationError
from benchstation.quantities.formatter import METRIC, QuantityFormatter
from benchstation.quantities.units import UnitSystem
from benchstation.reports.evidence_words import evidence_in_words
from benchstation.screens.bench.page import bench_view
from benchstation.screens.records.page import Records
from tests.screens.every_screen import texts
from tests.stepped_bench import make_bench

WORDS = QuantityFormatter(UnitSystem.METRIC)
READ_ON = {
    "instrument": "Counter scale",
    "instrument_serial": "K-77",
    "last_digit": "0.1 g",
    "expanded": "0.2 g",
    "second": "oberhauser",
    "pin": "246810",
}


def view(bench):
    return bench_view(bench.session, WORDS)


def lose_scale(bench):
    bench.unplugged.add("scale")
    bench.session.scale.instrument.report_broken("the line was lost")
    bench.run(2)


def by_hand(bench, value, **fields):
    return bench.session.act("take_by_hand", {**READ_ON, "by_hand": value, **fields})


def goal_g(bench):
    return f"{present_pour(bench.session).goal_kg * 1e3:.1f} g"


def overdue(fitted):
    fitted.registered = replace(fitted.registered, calibrated_until="2026-03-01")


def test_while_the_scale_is_fit_nothing_is_typed(bench):
    bench.work_to(StepKind.WEIGH)
    with pytest.raises(NotAllowedError, match="is fit: it is read by the bench"):
        bench.session.act("by_hand", {})
    with pytest.raises(NotAllowedError, match="is fit"):
        by_hand(bench, goal_g(bench))
    assert not bench.session.rebuild.captures


def test_with_the_scale_lost_a_mass_is_typed_confirmed_and_held(bench):
    bench.work_to(StepKind.WEIGH)
    lose_scale(bench)
    bench.session.act("by_hand", {})
    seen = view(bench)
    assert [f.id for f in seen.task.fields][-2:] == ["second", "pin"]
    assert "kofler" not in [key for key, _ in seen.task.fields[-2].choices]
    assert "QA hold" in seen.task.lines[0][0]
    said = by_hand(bench, goal_g(bench))
    assert "pass" in said
    rebuild = bench.session.rebuild
    assert rebuild.current.kind is StepKind.BLEED
    step = rebuild.specification.step_of(StepKind.WEIGH).id
    said = evidence_in_words(rebuild.signatures[step].evidence, METRIC)
    assert said.endswith("pass, by hand")
    captured = rebuild.captures[0].event
    assert (captured.method, captured.instrument_id) == ("hand", "")
    assert captured.by_hand.confirmed_by == "oberhauser"
    # U = 0.2 g with k = 2, and a rectangular last digit of 0.1 g twice (tare and gross), JCGM 100.
    assert captured.by_hand.u_kg == pytest.approx((1e-4**2 + 2 * 1e-4**2 / 12) ** 0.5)
    assert rebuild.hold_reasons == (Statement(Code.OIL_BY_HAND),)


def test_it_is_never_more_certain_than_the_fitted_scale(bench):
    bench.work_to(StepKind.WEIGH)
    lose_scale(bench)
    by_hand(bench, goal_g(bench), last_digit="0.000001 g", expanded="0 g")
    step = bench.session.rebuild.specification.step_of(StepKind.WEIGH).id
    rows = {row.name: row.u_result for row in bench.session.rebuild.oil[step].budget}
    # Steps of 10 mg, half a step of scatter, twice each; calibration 30 mg.
    least = (2 * (1e-5**2 / 12 + 5e-6**2) + 3e-5**2) ** 0.5
    assert rows["by_hand"] == pytest.approx(least, rel=1e-6)


@pytest.mark.parametrize(
    ("fields", "said"),
    [
        ({"second": "kofler"}, "a second person confirms this"),
        ({"second": ""}, "nobody is chosen"),
        ({"pin": "135791"}, "not the PIN"),
        ({"instrument": " "}, "read on is missing"),
        ({"instrument_serial": ""}, "read on is missing"),
        ({"last_digit": "0 g"}, "last digit"),
        ({"expanded": "-1 g"}, "not below zero"),
        ({"by_hand": "-5 g"}, "not below zero"),
        ({"by_hand": "5 bar"}, "not a mass"),
        ({"by_hand": ""}, "Nothing is entered"),
    ],
)
def test_a_form_that_lacks_something_leaves_nothing(bench, fields, said):
    bench.work_to(StepKind.WEIGH)
    lose_scale(bench)
    before = bench.store.entries()
    fields = {**READ_ON, "by_hand": goal_g(bench), **fields}
    with pytest.raises(StationError, match=said):
        bench.session.act("take_by_hand", fields)
    added = [entry.kind for entry in bench.store.entries()[len(before) :]]
    assert added == [PinRefused.kind] * ("pin" in fields and fields["pin"] != READ_ON["pin"])
    assert not bench.session.rebuild.captures


def test_wrong_pins_of_the_second_person_make_wait_too(bench):
    bench.work_to(StepKind.WEIGH)
    lose_scale(bench)
    for _ in range(5):
        with pytest.raises(NotAllowedError, match="not the PIN"):
            by_hand(bench, goal_g(bench), pin="135791")
    with pytest.raises(NotAllowedError, match="too many wrong PINs for Selma Oberhauser"):
        by_hand(bench, goal_g(bench))
    with pytest.raises(NotAllowedError, match="too many wrong PINs"):
        bench.sign_in("oberhauser")
    assert confirmed_by(bench.session, "wieland", "246810").name == "Jonas Wieland"
    assert bench.session.person.person_id == "kofler", "to confirm is not to sign in"


def test_a_number_by_hand_is_meant_in_the_units_that_are_shown(bench):
    bench.work_to(StepKind.WEIGH)
    lose_scale(bench)
    fields = {"last_digit": "0.005", "expanded": "0.01", "units": "inch-pound"}
    by_hand(bench, "7.93", **fields)
    assert bench.session.rebuild.captures[0].event.shown_kg == pytest.approx(7.93 * 0.028349523125)


def test_by_hand_adds_to_what_was_weighed_before_and_can_be_weighed_again(bench, tmp_path):
    bench.work_to(StepKind.WEIGH)
    lose_scale(bench)
    by_hand(bench, "100 g")
    assert bench.session.rebuild.current.kind is StepKind.WEIGH
    by_hand(bench, goal_g(bench))
    assert bench.session.rebuild.current.kind is StepKind.BLEED
    bench.store.close()
    again = make_bench(tmp_path)
    try:
        recover(again.session)
        assert len(again.session.rebuild.counting) == 2
        assert again.session.rebuild.hold_reasons == (Statement(Code.OIL_BY_HAND),)
    finally:
        again.store.close()


def test_weighed_again_on_the_scale_the_hand_counts_no_more(bench):
    bench.work_to(StepKind.WEIGH)
    lose_scale(bench)
    by_hand(bench, "200 g")
    bench.unplugged.clear()
    bench.run(1)
    bench.session.act("again", {})
    for _ in bench.technician().weigh(bench.session.rebuild.current):
        bench.run(0.1)
    assert bench.session.rebuild.current.kind is StepKind.BLEED
    assert bench.session.rebuild.hold_reasons == ()
    assert len(bench.session.rebuild.captures) == 2


def test_no_release_proof_is_typed(bench):
    bench.work_to(StepKind.RELEASE)
    bench.unplugged.add("gauge")
    bench.run(3)
    for action in ("by_hand", "take_by_hand"):
        with pytest.raises(NotAllowedError, match="the route stands at"):
            bench.session.act(action, {**READ_ON, "by_hand": "0 bar"})
    with pytest.raises(NotAllowedError, match="no valid pressure reading"):
        bench.session.act("sign", {"confirm1": "yes"})


def test_no_mass_is_typed_while_there_is_pressure_where_the_gas_must_be_out(bench):
    bench.work_to(StepKind.WEIGH)
    lose_scale(bench)
    model = bench.world.model
    model.bring_in(free_volume_m3=365e-6, rho_oil_kg_m3=848, oil_kg=0.22, gauge_pa=12.8e5)
    bench.run(0.5)
    with pytest.raises(NotAllowedError, match="pressure where the gas must be out"):
        by_hand(bench, goal_g(bench))


# --- the charge ----------------------------------------------------------------------------------

GAUGE = {"instrument": "Dial gauge, 25 bar", "last_digit": "0.05 bar", "expanded": "0.1 bar"}


def charge(bench):
    bench.world.model.regulator_gauge_pa = 20e5
    bench.world.model.valve_opening = 1.0
    target = bench.session.work.charge_target.target_gauge_pa
    bench.until(lambda: bench.session.gauge.instrument.latest().value > 1.1 * target)
    bench.world.model.valve_opening = 0.0
    bench.run(40)


def test_a_charge_is_typed_only_while_the_guard_knows_the_pressure(bench):
    bench.work_to(StepKind.CHARGE)
    overdue(bench.session.gauge)
    bench.unplugged.add("gauge")
    bench.run(5)
    alarms = {a.kind for a in bench.session.watch.snapshot().alarms}
    assert alarms, "the lost signal is an alarm"
    with pytest.raises(NotAllowedError, match="nobody watches the pressure"):
        by_hand(bench, "15 bar", **GAUGE)
    for alarm in bench.session.watch.snapshot().alarms:
        bench.session.watch.acknowledge("kofler", "cable", alarm.episode)
    bench.run(1)
    with pytest.raises(NotAllowedError, match="nobody watches the pressure"):
        by_hand(bench, "15 bar", **GAUGE)
    assert {a.kind for a in bench.session.watch.snapshot().alarms} == alarms
    assert any("nobody watches" in text for text, _ in view(bench).task.lines)


def test_no_charge_is_typed_over_an_air_that_nobody_read(bench):
    bench.work_to(StepKind.CHARGE, reads_air=False)
    overdue(bench.session.gauge)
    charge(bench)
    with pytest.raises(NotAllowedError, match="the air temperature was not read"):
        by_hand(bench, "15 bar", **GAUGE)
    assert bench.session.unit().charge is None


def test_with_the_gauge_overdue_a_charge_is_typed_held_and_named_everywhere(bench):
    bench.work_to(StepKind.CHARGE)
    with pytest.raises(NotAllowedError, match="is fit"):
        by_hand(bench, "15 bar", **GAUGE)
    overdue(bench.session.gauge)
    charge(bench)
    with pytest.raises(NotAllowedError, match="overdue for calibration"):
        bench.session.act("capture", {})
    assert next(a for a in view(bench).task.actions if a.id == "by_hand").enabled
    bench.session.act("by_hand", {})
    assert view(bench).task.fields[0].label == "Settled pressure, gauge"
    target = bench.session.work.charge_target.target_gauge_pa
    by_hand(bench, f"{target / 1e5:.2f} bar", **GAUGE)
    captured = bench.session.rebuild.charge
    assert captured.decision == "pass"
    assert captured.instrument_id == ""
    rows = {row.name: row.u for row in captured.budget}
    # U = 0.1 bar with k = 2 and a rectangular last digit of 0.05 bar (JCGM 100 4.3.7).
    assert rows["gauge_calibration"] == pytest.approx((5e3**2 + 5e3**2 / 12) ** 0.5)
    assert next(a for a in view(bench).task.actions if a.id == "hold").enabled
    bench.session.act("hold", {})
    bench.until(lambda: bench.session.rebuild.hold is not None, 200)
    assert bench.session.rebuild.current.kind is StepKind.CONFIRM
    bench.work_to(None)
    record = bench.store.entries(kind="unit.filed")[0].event.record
    (charged,) = [s.evidence for s in record_in(record).steps if s.id == "charge"]
    assert "bar gauge by hand, pass; hold pass" in evidence_in_words(charged, METRIC)
    # No fit gauge saw the line vented either: that is a word alone.
    assert record["qa_hold_reasons"] == [
        {"code": "charge_by_hand", "values": {}},
        {"code": "line_by_word", "values": {}},
    ]
    assert record["charge"]["by_hand"]["confirmed_by"] == "Selma Oberhauser"
    unit = bench.session.rebuild.unit_id
    row = Records(bench.store).find("T-1")[0]
    assert row.decision == "on hold"
    shown = Records(bench.store).open(unit, WORDS)
    said = "read on Dial gauge, 25 bar, serial K-77, confirmed by Selma Oberhauser"
    assert any(said in text for _, text in texts(shown))
    for path in Records(bench.store).export(unit, bench.store.path.parent, UnitSystem.METRIC):
        assert path.stat().st_size > 1000


def test_an_exceeded_limit_locks_the_hand_too(bench):
    bench.work_to(StepKind.CHARGE)
    overdue(bench.session.gauge)
    bench.world.model.regulator_gauge_pa = 45e5
    bench.world.model.valve_opening = 1.0
    limit = bench.session.watch.limits.limit_gauge_pa
    bench.until(lambda: bench.session.gauge.instrument.latest().value > limit, 120)
    bench.world.model.valve_opening = 0.0
    bench.run(1)
    with pytest.raises(NotAllowedError, match="high limit"):
        by_hand(bench, "15 bar", **GAUGE)
