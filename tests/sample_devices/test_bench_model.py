"""The virtual bench: oil is conserved, gas heats and cools as gas does."""

import math

import pytest
from hypothesis import given, settings
from hypothesis import strategies as st

from sample_devices import bench_model
from sample_devices.bench_model import R_N2, BenchModel, BenchSetup

CoolProp = pytest.importorskip("CoolProp.CoolProp")
AMBIENT_K = 294.55
AMBIENT_PA = 100_900.0


def unit(gauge_pa=0.0, seed=0, **setup):
    """A bench with a closed unit on it: 365 mL inside, 264 mL of oil in it."""
    model = BenchModel(seed, BenchSetup(**setup))
    model.bring_in(
        free_volume_m3=365e-6, rho_oil_kg_m3=847.3, oil_kg=264e-6 * 847.3, gauge_pa=gauge_pa
    )
    return model


def open_body():
    model = BenchModel()
    model.put_on_pan("body")
    return model


def run(model, start, seconds, step=0.05):
    """Move on from ``start`` and give the time reached."""
    for count in range(1, round(seconds / step) + 1):
        model.advance(start + count * step)
    return start + seconds


def fill(model, valve=1.0, seconds=20.0):
    model.advance(0.0)
    model.valve_opening = valve
    end = run(model, 0.0, seconds)
    model.valve_opening = 0.0
    return end


# --- oil -----------------------------------------------------------------------------------------


@given(st.lists(st.tuples(st.floats(0, 1), st.floats(0.1, 3.0)), min_size=1, max_size=6))
@settings(max_examples=30)
def test_oil_in_body_and_tray_is_what_was_poured(pours):
    model = open_body()
    model.advance(0.0)
    t, poured = 0.0, 0.0
    for opening, seconds in pours:
        model.pour_opening = opening
        before = model.oil_kg
        t = run(model, t, seconds)
        poured += model.oil_kg - before
        model.bleed(0.3 * model.oil_kg)
    assert model.oil_kg + model.tray_kg == pytest.approx(poured, rel=1e-12, abs=1e-15)
    assert poured <= sum(s for _, s in pours) * model.setup.largest_flow_kg_s * (1 + 1e-9)


def test_the_flow_lags_the_hand_and_stops():
    model = open_body()
    model.advance(0.0)
    model.pour_opening = 1.0
    t = run(model, 0.0, 5.0)
    steady = (5.0 - bench_model.JUG_LAG_S) * model.setup.largest_flow_kg_s
    assert model.oil_kg == pytest.approx(steady, rel=0.02)
    model.pour_opening = 0.0
    t = run(model, t, 5.0)
    after = model.oil_kg
    run(model, t, 5.0)
    assert model.oil_kg == after


def test_no_more_can_be_bled_than_is_there():
    model = open_body()
    model.oil_kg = 0.1
    model.bleed(0.25)
    assert (model.oil_kg, model.tray_kg) == (0.0, 0.1)
    model.oil_kg = 0.1
    model.take_out(1.0)
    assert model.oil_kg == 0.0


def test_the_scale_feels_oil_lighter_than_it_is():
    """W/m = (1 - 1.19/847.3) / (1 - 1.19/8000), OIML D 28: 1.26 g in a kilogram."""
    model = open_body()
    model.oil_kg = 1.0
    assert model.pan_load_kg() - model.setup.body_kg == pytest.approx(0.998744, abs=2e-6)
    model.bleed(1.0)
    model.put_on_pan("tray")
    assert model.pan_load_kg() - bench_model.TRAY_KG == pytest.approx(0.998744, abs=2e-6)
    model.put_on_pan("nothing")
    assert model.pan_load_kg() == 0.0


def test_the_check_weight_is_what_it_is():
    model = BenchModel()
    model.put_on_pan("check weight")
    assert model.pan_load_kg() == bench_model.CHECK_WEIGHT_KG
    with pytest.raises(ValueError, match="elephant"):
        model.put_on_pan("elephant")


@given(st.floats(0.0, 0.4))
@settings(max_examples=20)
def test_body_jug_and_unit_show_the_same_oil(mass_kg):
    """What a body gains, a jug loses and a unit differs by is one mass in air (OIML D 28)."""
    model = open_body()
    loads = {}
    for what in ("body", "jug", "unit"):
        model.put_on_pan(what)
        loads[what] = model.pan_load_kg()
    model.oil_kg += mass_kg
    model.jug_kg -= mass_kg
    lift = (1 - 1.19 / model.rho_oil_kg_m3) / (1 - 1.19 / 8000)
    for what, sign in (("body", 1), ("jug", -1), ("unit", 1)):
        model.on_pan = what
        assert sign * (model.pan_load_kg() - loads[what]) == pytest.approx(
            mass_kg * lift, abs=1e-12
        )


def test_what_is_poured_from_the_jug_is_in_the_body_beside_it():
    model = BenchModel()
    model.put_on_pan("jug")
    assert model.open_top
    model.advance(0.0)
    model.pour_opening = 1.0
    run(model, 0.0, 3.0)
    assert model.oil_kg > 0.05
    assert model.oil_kg + model.jug_kg == pytest.approx(bench_model.FULL_JUG_KG, abs=1e-12)
    model.take_out(0.01)
    assert model.oil_kg + model.jug_kg == pytest.approx(bench_model.FULL_JUG_KG, abs=1e-12)


def test_an_empty_jug_pours_nothing_and_comes_back_full():
    model = BenchModel()
    model.put_on_pan("jug")
    model.advance(0.0)
    model.pour_opening = 1.0
    run(model, 0.0, 60.0)
    assert model.jug_kg == pytest.approx(0.0, abs=1e-12)
    assert model.oil_kg == pytest.approx(bench_model.FULL_JUG_KG)
    model.put_on_pan("nothing")
    model.put_on_pan("jug")
    assert model.jug_kg == bench_model.FULL_JUG_KG


def test_a_closed_unit_is_topped_up_and_not_opened():
    model = unit()
    model.put_on_pan("body")
    model.oil_kg = 0.2
    model.put_on_pan("tray")
    for what in ("unit", "jug", "drip tray"):
        model.put_on_pan(what)
        assert not model.open_top
        assert model.oil_kg == 0.2
    model.take_out(0.004)
    assert model.drip_kg == pytest.approx(0.004)
    assert model.pan_load_kg() > bench_model.DRIP_TRAY_KG


# --- gas -----------------------------------------------------------------------------------------


def density(model):
    return model.gas_kg / model.gas_volume_m3


def test_at_rest_it_is_nitrogen_within_one_percent():
    """Against Span et al. (2000) as evaluated by CoolProp, after the charge has cooled."""
    model = unit()
    run(model, fill(model), 120.0)
    assert model.gas_k == pytest.approx(AMBIENT_K, abs=0.01)
    real = CoolProp.PropsSI("P", "T", model.gas_k, "D", density(model), "Nitrogen")
    assert model.gas_pressure_pa == pytest.approx(real, rel=0.01)
    assert model.gas_gauge_pa == model.gas_pressure_pa - AMBIENT_PA


def test_a_fast_charge_heats_and_then_settles():
    model = unit()
    t = fill(model, seconds=2.0)
    hot, high = model.gas_k, model.gas_pressure_pa
    assert hot > AMBIENT_K + 5.0
    samples = []
    for _ in range(20):
        t = run(model, t, 0.5)
        samples.append(model.gas_pressure_pa)
    assert samples == sorted(samples, reverse=True)
    run(model, t, 120.0)
    assert model.gas_pressure_pa == pytest.approx(high * AMBIENT_K / hot, rel=1e-4)


def test_an_insulated_fill_from_vacuum_reaches_gamma_times_the_supply():
    """First law for an open chamber filled from a line at T: T_end = (cp/cv) T = 1.4 T."""
    model = unit(cooling_s=1e9)
    model.gas_kg = 1e-9
    fill(model, seconds=20.0)
    assert model.gas_k == pytest.approx(1.4 * AMBIENT_K, rel=0.01)


def test_an_insulated_charge_keeps_the_energy_balance():
    """m2 cv T2 - m1 cv T1 = (m2 - m1) cp T_in, solved for T2."""
    model = unit(cooling_s=1e9)
    m1, t1 = model.gas_kg, model.gas_k
    fill(model, seconds=3.0)
    m2 = model.gas_kg
    t2 = (m1 * t1 + (m2 - m1) * 1.4 * AMBIENT_K) / m2
    assert model.gas_k == pytest.approx(t2, rel=1e-6)


def test_venting_cools_and_ends_at_ambient():
    model = unit(15e5)
    assert model.gas_gauge_pa == pytest.approx(15e5)
    model.advance(0.0)
    model.vent_opening = 1.0
    t = run(model, 0.0, 0.4)
    assert model.gas_k < AMBIENT_K - 5.0
    run(model, t, 120.0)
    assert model.gas_gauge_pa == pytest.approx(0.0, abs=200.0)


def test_what_goes_in_comes_out_of_the_bottle():
    model = unit()
    before_kg, before_pa = model.gas_kg, model.bottle_pa
    fill(model)
    given_off = before_pa - model.bottle_pa
    taken = given_off * bench_model.BOTTLE_VOLUME_M3 / (bench_model.R_N2 * AMBIENT_K)
    assert model.gas_kg - before_kg == pytest.approx(taken, rel=1e-9)


def test_it_never_passes_the_regulator_when_slow():
    model = unit()
    fill(model, valve=0.5, seconds=120.0)
    assert model.gas_gauge_pa == pytest.approx(model.regulator_gauge_pa, rel=0.01)
    assert model.gas_gauge_pa <= model.regulator_gauge_pa


def test_more_oil_leaves_less_gas():
    model = unit(15e5)
    before = model.gas_pressure_pa * model.gas_volume_m3
    model.oil_kg += 6e-6 * 847.3
    assert model.gas_volume_m3 == pytest.approx(95e-6)
    assert model.gas_pressure_pa * model.gas_volume_m3 == pytest.approx(before)


def test_an_open_body_holds_air_at_ambient():
    model = unit(15e5)
    model.put_on_pan("body")
    model.advance(0.0)
    model.advance(1.0)
    assert model.oil_kg == 0.0
    assert model.gas_gauge_pa == pytest.approx(0.0, abs=1e-6)


def test_a_leak_loses_what_it_says():
    """q = 1e-3 Pa m3/s over 101 mL: dp = q t / V = 594 Pa in a minute (EN 1779)."""
    model = unit(15e5, leak_m3_s=1e-3)
    model.advance(0.0)
    before = model.gas_pressure_pa
    run(model, 0.0, 60.0)
    assert before - model.gas_pressure_pa == pytest.approx(594.0, rel=0.05)


# --- time ----------------------------------------------------------------------------------------


def test_steps_of_any_length_give_the_same():
    fine, coarse = unit(), unit()
    for model, step in ((fine, 0.02), (coarse, 1.0)):
        model.advance(0.0)
        model.valve_opening = 0.5
        run(model, 0.0, 10.0, step)
    assert coarse.gas_pressure_pa == pytest.approx(fine.gas_pressure_pa, rel=1e-6)


def test_time_does_not_go_back():
    model = unit()
    model.put_on_pan("body")
    model.advance(10.0)
    model.pour_opening = 1.0
    model.advance(5.0)
    assert model.oil_kg == 0.0
    model.advance(11.0)
    assert model.oil_kg > 0.0
    assert math.isfinite(model.gas_pressure_pa)


def test_a_closed_gas_screw_keeps_the_charge_while_the_line_is_let_down():
    model = unit(gauge_pa=12e5)
    model.advance(0.0)
    model.close_gas_screw()
    model.vent_opening = 0.1
    end = run(model, 0.0, 10.0)
    assert model.line_gauge_pa == pytest.approx(0.0, abs=100.0)
    assert model.gas_gauge_pa == pytest.approx(12e5, rel=1e-6)
    model.vent_opening = 0.0
    model.open_gas_screw()
    run(model, end, 10.0)
    assert model.line_gauge_pa == model.gas_gauge_pa


def test_the_valve_fills_the_line_behind_a_closed_gas_screw():
    model = unit()
    model.advance(0.0)
    model.close_gas_screw()
    model.valve_opening = 1.0
    run(model, 0.0, 10.0)
    assert model.line_gauge_pa == pytest.approx(model.regulator_gauge_pa, rel=0.01)
    assert model.gas_gauge_pa == pytest.approx(0.0, abs=1e-6)


def test_a_skin_that_holds_heat_back_gives_a_second_slower_rate():
    """Two bodies alone: ``s + (1 - s) exp(-t / (tau (1 - s)))`` of the difference is left."""
    model = unit(slow_share=0.2, slow_s=30.0)
    with model.lock:
        model.gas_kg *= 15.0
        model.gas_k += 50.0
    model.advance(0.0)
    run(model, 0.0, 6.0)
    alone = 50.0 * (0.2 + 0.8 * math.exp(-6.0 / (6.0 * 0.8)))
    assert model.gas_k - model.unit_k == pytest.approx(alone, rel=0.1)
    run(model, 6.0, 60.0)
    assert 0.5 < model.gas_k - model.unit_k < 3.0


def test_a_night_passes_at_once_and_a_leak_goes_on_in_it():
    model = unit(gauge_pa=10e5, leak_m3_s=1e-3)
    model.close_gas_screw()
    model.advance(0.0)
    before = model.gas_kg
    model.advance(10_000.0)
    assert before - model.gas_kg == pytest.approx(10_000 * 1e-3 / (R_N2 * model.unit_k), rel=0.01)
    model.advance(1e6)
    assert model.gas_gauge_pa == pytest.approx(0.0, abs=1.0)


def test_a_leak_takes_no_more_than_presses_outward_while_the_room_drifts_either():
    model = unit(gauge_pa=0.0, leak_m3_s=8e-3)
    model.room_drift_k_s = -2.0 / 3600.0
    model.advance(0.0)
    model.advance(10_000.0)
    assert -5e3 < model.gas_gauge_pa < 1.0
