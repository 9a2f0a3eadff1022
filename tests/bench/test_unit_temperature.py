"""A unit that is not as warm as the room: target, judgement and record use its own temperature.

The bench model holds the truth: its unit has a temperature of its own, and its gas with it.
"""

from dataclasses import replace

import pytest

from benchstation.demo.technician import RehearsalError
from benchstation.demo.truth import truth_of
from benchstation.domain.body_temperature import BodySource
from benchstation.domain.events import BodyMeasured, ChargeCaptured, event_from
from benchstation.domain.specification import StepKind
from benchstation.domain.unit_commands import NotAllowedError
from benchstation.reports.export import filed_record
from tests.oil_hands import act, lines, terms

PASS = "pass"


def at_charge(bench, **plan):
    """Come to the charge with a technician who does what the plan says."""
    bench.sign_in()
    bench.work_to(StepKind.CHARGE, **plan)
    bench.run(8)
    return bench.session


def charge_to_target(bench):
    """Charge to what the bench says the target is, and capture."""
    technician = bench.technician()
    step = bench.session.unit().current
    technician.world.model.open_gas_screw()
    goal = bench.session.work.charge_target.target_gauge_pa
    technician.world.model.regulator_gauge_pa = 1.8 * goal
    for _ in range(4):
        for _ in technician.fill(step, bench.session.work.charge_target.target_gauge_pa):
            bench.run(0.1)
        try:
            for _ in technician.settle(step):
                bench.run(0.1)
        except RehearsalError:
            return None  # a unit that cools as fast as this never counts as settled
        charge = bench.session.unit().charge
        if charge.decision == PASS:
            break
    return charge


def inside(bench):
    return truth_of(bench.world.model, bench.session.unit().specification).gas_inside


@pytest.mark.parametrize("warmer_k", [9.0, -9.0])
def test_a_unit_nine_kelvin_off_the_room_is_not_passed_on_the_rooms_temperature(bench, warmer_k):
    session = at_charge(bench, here_for="")
    bench.world.model.warm_unit(bench.world.model.room_k + warmer_k)
    charge = charge_to_target(bench)
    assert not inside(bench), "charged by the room's temperature it is outside its tolerance"
    assert charge.decision == "undecided"
    assert "Measure the unit's body" in session.message.text
    assert any("unit temperature not known" in line for line in lines(bench))


@pytest.mark.parametrize("warmer_k", [9.0, -9.0])
def test_measured_at_its_body_it_is_charged_right(bench, warmer_k):
    session = at_charge(bench, here_for="")
    model = bench.world.model
    before = session.work.charge_target
    model.warm_unit(model.room_k + warmer_k)
    act(
        bench,
        "note_air",
        unit=f"{model.unit_k - 273.15:.1f} °C",
        unit_on="surface probe",
        unit_u="0.5 K",
    )
    bench.run(0.2)
    moved = session.work.charge_target.target_gauge_pa - before.target_gauge_pa
    assert moved == pytest.approx(warmer_k * before.per_k_pa, rel=0.15), "while the step stands"
    charge = charge_to_target(bench)
    assert charge is not None
    assert charge.decision == PASS
    assert inside(bench)
    assert charge.bench_k == pytest.approx(model.unit_k, abs=1.5)


def test_gas_at_sixty_degrees_is_not_passed_on_a_stay_of_ten_minutes(bench):
    session = at_charge(bench, here_for="")
    bench.world.model.warm_unit(333.15)
    act(bench, "note_air", since="10 min")
    charge = charge_to_target(bench)
    assert not inside(bench)
    assert charge is None or charge.decision == "undecided"
    stays = session.unit_temperature(session.unit())
    assert stays.source is BodySource.IN_ROOM
    assert stays.u_k > 10.0


def test_a_measurement_overrules_a_stay_that_it_contradicts(bench):
    session = at_charge(bench, here_for="16 h")
    assert session.unit_temperature(session.unit()).u_k < 1.2
    act(bench, "note_air", unit="60 °C", unit_on="surface probe", unit_u="1 K")
    found = session.unit_temperature(session.unit())
    assert found.source is BodySource.MEASURED
    assert found.temperature_k == pytest.approx(333.15, abs=0.1)


def test_the_target_follows_a_unit_that_cools_during_the_step(bench):
    session = at_charge(bench, here_for="")
    model = bench.world.model
    model.warm_unit(model.room_k + 9.0)
    act(bench, "note_air", unit="30.4 °C", unit_on="surface probe", unit_u="0.4 K")
    bench.run(0.2)
    first = session.work.charge_target
    bench.run(240)
    later = session.work.charge_target
    fallen = first.target_gauge_pa - later.target_gauge_pa
    assert fallen > 0.5 * first.per_k_pa, "about a kelvin in four minutes"
    assert session.unit_temperature(session.unit()).u_k > 0.4
    assert later.bench_k == pytest.approx(model.unit_k, abs=0.8)


def test_a_unit_set_aside_comes_back_with_no_temperature(bench):
    session = at_charge(bench, here_for="16 h")
    serial = session.unit().unit_id
    act(bench, "set_aside", reason="needs a part")
    act(bench, "fetch", unit=serial)
    assert session.unit_temperature(session.unit()).source is BodySource.NOT_KNOWN


def test_record_and_why_panel_name_source_age_and_u(bench):
    session = at_charge(bench)
    shown = {label: (value, source) for label, value, source in terms(bench, KNOWN)}
    assert set(shown) == {"Air temperature", "Barometer", "Unit temperature"}
    assert shown["Air temperature"][1].startswith("typed by Mira Kofler from wall thermometer,")
    assert "±" in shown["Unit temperature"][0]
    assert shown["Unit temperature"][1].startswith("in this room since 2026-03-02 ")
    unit = session.unit().unit_id
    bench.work_to(None)
    record = filed_record(bench.store, unit).record
    kept = {one.quantity: one for one in record.charge.conditions}
    assert kept["barometer"].person == "Mira Kofler"
    assert kept["barometer"].age_s > 60
    assert kept["unit temperature"].source == "in this room since"
    assert kept["unit temperature"].u == pytest.approx(
        next(r.u for r in record.charge.budget if r.name == "unit_temperature")
    )
    captured = [e.event for e in bench.store.entries() if isinstance(e.event, ChargeCaptured)]
    assert captured[-1].conditions[0].quantity == "air temperature"


KNOWN = "Air and unit, U with k = 2"


@pytest.mark.parametrize(
    ("typed", "field", "words"),
    [
        ({"unit": "20 bar"}, "unit", "'20 bar' is not a temperature"),
        ({"unit": "300 °F"}, "unit", "between −4 °F and 212 °F"),
        ({"unit": "22 °C"}, "unit_u", "uncertainty is missing"),
        ({"unit": "22 °C", "unit_u": "0.5"}, "unit_on", "read on is missing"),
        ({"since": "never"}, "since", "no time"),
        ({"since": "2026-03-04 09:00"}, "since", "ahead"),
        ({}, "air", "nothing is typed"),
    ],
)
def test_what_cannot_be_is_refused_at_its_field_and_nothing_is_written(bench, typed, field, words):
    session = at_charge(bench, here_for="")
    entries = len(bench.store.entries())
    act(bench, "ask_air")
    with pytest.raises((NotAllowedError, Exception), match=words) as refused:
        act(bench, "note_air", **typed)
    assert refused.value.field == field
    assert len(bench.store.entries()) == entries
    assert session.work.open_form == "air", "the form stays as it is"


def test_a_measurement_is_a_fact_of_the_unit_by_whom(bench):
    session = at_charge(bench, here_for="")
    act(bench, "note_air", unit="75 °F", unit_on="clip probe", unit_u="1 °F")
    entry = bench.store.entries(kind=BodyMeasured.kind)[-1]
    assert entry.person == "kofler"
    assert entry.event.value_k == pytest.approx(297.04, abs=0.01)
    assert entry.event.u_k == pytest.approx(5 / 9 / 2)
    assert session.unit().body_measured.event == entry.event
    assert replace(entry.event, source="") != entry.event


def test_pressure_as_found_keeps_what_air_and_unit_were_known_from(bench):
    bench.sign_in()
    bench.work_to(StepKind.RELEASE)
    bench.run(8)
    found = bench.session.unit().gas_found
    kept = {one.quantity: one.source for one in found.conditions}
    assert kept["air temperature"] == "typed"
    assert kept["unit temperature"] == "in this room since"
    before = {k: v for k, v in found.body().items() if k != "conditions"}
    assert event_from(found.kind, before).conditions == (), "one of before is read"
