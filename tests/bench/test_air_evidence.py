"""The bench's air as evidence: typed or read live, with its age; old or missing blocks capture."""

from dataclasses import replace
from datetime import timedelta

import pytest

from benchstation.bench.air_locks import air_locked
from benchstation.bench.assembly import bench_from
from benchstation.bench.bench_air import estimated
from benchstation.bench.bench_settings import BenchSettings
from benchstation.bench.targets import present_pour
from benchstation.config.settings import Settings
from benchstation.demo import shop as demo
from benchstation.demo.air_reading import air_form
from benchstation.domain.air_evidence import AirLimits, AirQuantity, AirSource
from benchstation.domain.budget_rows import Row
from benchstation.domain.events import AirRead
from benchstation.domain.specification import StepKind
from benchstation.domain.surroundings import Surroundings
from benchstation.driver_api.errors import StationError
from benchstation.quantities.formatter import local_time
from benchstation.store.queries import instruments_behind
from sample_devices.air import VirtualBarometer, VirtualThermometer
from tests.bench.test_other_roles import KINDS, another
from tests.oil_hands import act, lines, terms, view
from tests.stepped_bench import START, Another, make_bench

WALL = air_form(demo.AIR.temperature_k, demo.AIR.pressure_pa)


def at_charge(bench, **plan):
    bench.sign_in()
    bench.work_to(StepKind.CHARGE, **plan)
    bench.run(8)
    return bench.session


def evidence(bench, quantity):
    session = bench.session
    return session.known_air.evidence(quantity, session.instruments, session.moment())


def locked(bench):
    unit = bench.session.unit()
    return air_locked(bench.session, unit, unit.current)


def action(bench, name):
    return next(a for a in view(bench).task.actions if a.id == name)


def test_the_set_ups_value_is_no_evidence_and_locks_capture_and_hold(bench):
    at_charge(bench, reads_air=False)
    assert lines(bench)[1] == "the air temperature was not read: press A"
    shown = {label: source for label, _, source in terms(bench, "Air and unit, U with k = 2")}
    assert shown["Air temperature"] == "set-up value: no evidence"
    assert action(bench, "ask_air").primary
    with pytest.raises(StationError, match="capture is locked: the air temperature was not read"):
        act(bench, "capture")
    assert "air temperature was not read" in action(bench, "hold").why_not


def test_what_is_typed_unlocks_it_and_is_a_fact_by_whom_and_on_what(bench):
    at_charge(bench, reads_air=False)
    act(bench, "ask_air")
    task = view(bench).task
    assert task.step_id == "charge-air"
    assert [f.id for f in task.fields][:4] == ["air", "air_u", "barometer", "barometer_u"]
    assert view(bench).strip[1].number == "−0.03", "the pressure stays in sight"
    act(bench, "note_air", **WALL)
    assert view(bench).task.step_id == "charge"
    (air, barometer) = bench.store.entries(kind=AirRead.kind)
    assert (air.person, air.event.source, air.event.u) == ("kofler", "wall thermometer", 0.3)
    assert barometer.event.value == pytest.approx(100_900.0)
    assert "not read" not in " ".join(lines(bench))
    assert not locked(bench)


def test_the_form_begins_with_what_was_given_last_time(bench):
    at_charge(bench)
    act(bench, "ask_air")
    fields = {f.id: f.value for f in view(bench).task.fields}
    assert (fields["air_on"], fields["air_u"]) == ("wall thermometer", "0.6 K")
    assert (fields["barometer_on"], fields["barometer_u"]) == ("wall barometer", "1 hPa")
    assert fields["air"] == "", "a figure is read anew"


SHORT = AirLimits(temperature_holds_s=30.0, barometer_holds_s=60.0)
"""As a shop may set them; an hour of readings would only take long."""


def test_the_air_is_too_old_before_the_barometer_is(bench):
    at_charge(bench)
    act(bench, "note_air", **WALL)
    bench.session.known_air.limits = SHORT
    bench.run(32)
    with pytest.raises(StationError, match=r"air temperature is 3\d s old; it counts for 30 s"):
        act(bench, "capture")
    act(bench, "note_air", **{k: v for k, v in WALL.items() if k.startswith("air")})
    assert not locked(bench)
    bench.run(31)
    act(bench, "note_air", **{k: v for k, v in WALL.items() if k.startswith("air")})
    with pytest.raises(StationError, match="barometer is 1 min old; it counts for 1 min"):
        act(bench, "capture")


def test_its_uncertainty_grows_with_its_age(bench):
    session = at_charge(bench)
    fresh = session.air()
    bench.clock.advance(1800)
    older = session.air()
    assert older.u_temperature_k > fresh.u_temperature_k + 0.2
    assert older.u_pressure_pa > fresh.u_pressure_pa


def test_a_lead_may_accept_it_as_a_deviation(bench):
    at_charge(bench, reads_air=False)
    bench.sign_in(demo.LEAD)
    assert action(bench, "deviation").enabled
    act(bench, "deviation", **demo.SIGNED, reason="the thermometer is broken; seen by the lead")
    act(bench, "capture")
    assert bench.session.work.charge_wanted


def test_what_was_typed_is_known_after_a_restart(bench):
    at_charge(bench)
    again = bench_from(
        bench.store, demo.demo_shop(bench.store), bench.clock.clock, lambda: demo.AIR
    )
    session = again.session
    found = session.known_air.evidence(
        AirQuantity.TEMPERATURE, session.instruments, session.moment()
    )
    assert (found.source, found.name) == (AirSource.TYPED, "wall thermometer")


@pytest.mark.parametrize(
    ("typed", "field", "words"),
    [
        ({"air": "20 bar"}, "air", "'20 bar' is not a temperature"),
        ({"air": "-30 °C"}, "air", "between −20.15 °C and 59.85 °C"),
        ({"air": "150 F"}, "air", "between −4.27 F and 139.7 F"),
        ({"barometer": "1009 bar"}, "barometer", "between 0.5 bar and 1.1 bar"),
        ({"barometer": "40 inHg"}, "barometer", "between 14.76 inHg and 32.48 inHg"),
        ({"barometer": "21 °C"}, "barometer", "'21 °C' is not a pressure"),
        ({"humidity": "120 %"}, "humidity", "between 0 % and 100 %"),
        ({"air": "21", "air_u": "30", "air_on": "x"}, "air_u", "between"),
        ({"air": "21", "air_u": "0", "air_on": "x"}, "air_u", "between"),
        ({"air": "21", "air_u": "1"}, "air_on", "read on is missing"),
        ({"air": "21", "air_u": "1", "air_on": "x" * 65}, "air_on", "read on is missing"),
    ],
)
def test_what_no_air_can_be_is_refused_in_the_units_typed(bench, typed, field, words):
    at_charge(bench, reads_air=False)
    with pytest.raises(StationError, match=words) as refused:
        act(bench, "note_air", **typed)
    assert refused.value.field == field
    assert not bench.store.entries(kind=AirRead.kind)


def test_air_is_typed_before_any_unit_is_there(bench):
    bench.sign_in()
    act(bench, "note_air", **WALL, humidity="45", humidity_on="dial", humidity_u="10")
    assert evidence(bench, AirQuantity.HUMIDITY).value == pytest.approx(0.45)
    with pytest.raises(StationError, match="no unit"):
        act(bench, "note_air", since="08:10")


# --- read by instruments -------------------------------------------------------------------------


@pytest.fixture
def fitted(tmp_path):
    made = make_bench(tmp_path, others=[another(role) for role in KINDS])
    yield made
    made.store.close()


def test_a_fit_instrument_is_read_live_and_nothing_is_typed_over_it(fitted):
    at_charge(fitted)
    found = evidence(fitted, AirQuantity.TEMPERATURE)
    assert (found.source, found.instrument_id) == (AirSource.INSTRUMENT, "thermometer-1")
    assert found.value == pytest.approx(294.5)
    assert found.calibration == "2026-01-02 C-9"
    assert not fitted.store.entries(kind=AirRead.kind), "nothing was asked for"
    act(fitted, "ask_air")
    assert "air" not in [f.id for f in view(fitted).task.fields]
    with pytest.raises(StationError, match="Bench thermometer is fit"):
        act(fitted, "note_air", **WALL)
    act(fitted, "leave")
    assert not locked(fitted)


def test_a_lost_instrument_counts_until_its_reading_is_old_then_a_person_types(fitted):
    at_charge(fitted)
    fitted.unplugged.add("thermometer-1")
    fitted.run(20)
    assert evidence(fitted, AirQuantity.TEMPERATURE).age_s(fitted.clock.utc()) > 15
    assert not locked(fitted)
    fitted.session.known_air.limits = SHORT
    fitted.run(12)
    with pytest.raises(StationError, match=r"air temperature is 3. s old"):
        act(fitted, "capture")
    act(fitted, "note_air", **{k: v for k, v in WALL.items() if k.startswith("air")})
    assert evidence(fitted, AirQuantity.TEMPERATURE).source is AirSource.TYPED


def test_an_overdue_thermometer_locks_as_an_overdue_gauge_does(fitted):
    at_charge(fitted)
    probe = fitted.session.instruments.named("thermometer-1")
    object.__setattr__(probe.registered, "calibrated_until", "2026-02-01")
    with pytest.raises(StationError, match="Bench thermometer is overdue"):
        act(fitted, "capture")
    act(fitted, "note_air", **{k: v for k, v in WALL.items() if k.startswith("air")})
    assert not locked(fitted)


def test_a_thermometer_for_the_unit_does_not_say_how_warm_the_air_is(tmp_path):
    probe = another("thermometer", b"+060.00 C  \r\n")
    probe = type(probe)(probe.registered, probe.profile, probe.device, use="unit surface")
    bench = make_bench(tmp_path, others=[probe])
    try:
        at_charge(bench, here_for="")
        assert evidence(bench, AirQuantity.TEMPERATURE).source is AirSource.TYPED
        bench.run(4)
        act(bench, "ask_air")
        assert action(bench, "measure_unit").enabled
        act(bench, "measure_unit")
        found = bench.session.unit_temperature(bench.session.unit())
        assert found.temperature_k == pytest.approx(333.15, abs=0.05)
        assert "The unit has 60.0 °C" in bench.session.message.text
    finally:
        bench.store.close()


def test_an_altitude_is_an_estimate_that_counts_with_its_own_u(bench):
    live = bench_from(
        bench.store,
        demo.demo_shop(bench.store),
        bench.clock.clock,
        lambda: Surroundings(293.15, 92_076.0),
        altitude_known=True,
    )
    session = live.session
    found = session.known_air.evidence(AirQuantity.PRESSURE, session.instruments, session.moment())
    assert (found.source, found.u) == (AirSource.ALTITUDE, 1200.0)
    assert found.why_not(session.clock.utc(), session.known_air.limits) == ""
    session.act("sign_in", {"person": demo.TECHNICIANS[0], "pin": demo.PIN})
    with pytest.raises(StationError, match="not of this altitude") as refused:
        session.act(
            "note_air", {"barometer": "1013", "barometer_on": "weather", "barometer_u": "1"}
        )
    assert refused.value.field == "barometer"


def test_air_comes_from_barometer_or_altitude_or_sea_level():
    assert estimated(Settings(barometer_pa=99_000)).pressure_pa == 99_000
    # ISO 2533: 95 460.8 Pa at 500 m.
    assert estimated(Settings(altitude_m=500)).pressure_pa == pytest.approx(95_460.8, abs=0.1)
    assert estimated(Settings()).pressure_pa == pytest.approx(101_325)


def test_the_settings_say_how_long_a_figure_counts_and_where_the_bench_stands(bench):
    bench.session.go_by(
        BenchSettings(
            Settings(
                path_ratings=demo.RATINGS,
                altitude_m=500,
                air_holds_s=1800,
                barometer_holds_s=7200,
                room_change_k=3.6,
            )
        )
    )
    known = bench.session.known_air
    assert known.altitude_known
    assert known.estimate().pressure_pa == pytest.approx(95_460.8, abs=0.1)
    limits = known.limits
    assert (limits.temperature_holds_s, limits.barometer_holds_s) == (1800.0, 7200.0)
    assert limits.room_drift_k_s == pytest.approx(1e-3)


def test_since_when_it_is_here_may_be_said_as_a_unit_is_opened(bench):
    bench.sign_in()
    opening = {"serial": "T-9", "specification": "mr-46-front", "lot": demo.LOT_OF["mr-46-front"]}
    with pytest.raises(StationError, match="no time") as refused:
        act(bench, "open", **opening, since="always")
    assert refused.value.field == "since"
    assert bench.session.rebuild is None, "nothing was opened"
    act(bench, "open", **opening, since="yesterday 16:00")
    stay = bench.session.unit().in_room
    assert stay.person == "kofler"
    assert stay.since.astimezone().hour == 16
    assert f"In this room since {local_time(stay.since)}, " in bench.session.message.text
    typed = bench.clock.utc() - timedelta(hours=10)
    act(bench, "note_air", since=f"{typed.astimezone():%H:%M}")
    minute = typed.replace(second=0, microsecond=0)
    assert bench.session.message.text.startswith(
        f"On record: in this room since {local_time(minute)}, 10 h ago"
    ), "the day is said: it may be yesterday's"
    assert "since" in [f.id for f in view(make_again(bench)).task.fields]


def make_again(bench):
    act(bench, "abandon", reason="only opened")
    act(bench, "next")
    return bench


def test_the_head_of_the_page_shows_no_figure_that_nobody_read(bench):
    assert view(bench).surroundings == "air temperature not read   barometer not read"
    bench.sign_in()
    act(bench, "note_air", **WALL)
    assert view(bench).surroundings == "21.4 °C   1009 hPa"


def test_the_demonstrations_own_instruments_are_read_and_stand_behind_the_unit(tmp_path):
    with_devices = [
        Another(registered, "", device)
        for registered, device in zip(
            demo.air_instruments(START.date()),
            (VirtualThermometer, VirtualBarometer),
            strict=True,
        )
    ]
    bench = make_bench(tmp_path, others=with_devices, seconds=4.0)
    try:
        at_charge(bench)
        assert not bench.store.entries(kind=AirRead.kind), "a person types nothing"
        air = bench.session.air()
        assert air.temperature_k == pytest.approx(demo.AIR.temperature_k, abs=0.1)
        assert air.pressure_pa == pytest.approx(demo.AIR.pressure_pa, abs=20)
        assert air.u_temperature_k < 0.2
        unit = bench.session.unit().unit_id
        bench.work_to(None)
        behind = instruments_behind(bench.store, unit)
        assert {"thermometer-1", "barometer-1"} <= {one.instrument_id for one in behind}
    finally:
        bench.store.close()


def test_a_probe_that_was_just_put_on_is_waited_for(tmp_path):
    registered = replace(demo.air_instruments(START.date())[0], instrument_id="probe-1")
    probe = Another(registered, "", lambda m: VirtualThermometer(m, on_unit=True), "unit surface")
    bench = make_bench(tmp_path, others=[probe])
    try:
        session = at_charge(bench, here_for="")
        bench.run(6)
        bench.world.model.warm_unit(303.15)
        bench.run(4)
        with pytest.raises(StationError, match="it still moves"):
            act(bench, "measure_unit")
        assert session.unit().body_measured is None
        bench.run(40)
        act(bench, "measure_unit")
        measured = session.unit().body_measured.event
        truly = bench.world.model.unit_k
        assert abs(measured.value_k - truly) <= 2 * measured.u_k
        assert measured.instrument_id == "probe-1"
    finally:
        bench.store.close()


def test_oil_that_is_specified_as_poured_is_as_unsure_as_the_airs_temperature(bench):
    shop = bench.session.shop
    specification = shop.specifications["mr-46-front", 1]
    oil = specification.oil.model_copy(update={"basis": "as poured"})
    shop.specifications["mr-46-front", 1] = specification.model_copy(update={"oil": oil})
    bench.work_to(StepKind.WEIGH)
    bench.run(2)
    u = {row.name: row.u for row in present_pour(bench.session).budget.contributions}
    assert u[Row.OIL_TEMPERATURE] == bench.session.air().u_temperature_k > 0.2
