"""The gas in a filled damper: the charge to aim for and what follows from it."""

import pytest
from hypothesis import given, settings
from hypothesis import strategies as st

from benchstation.physics import nitrogen
from benchstation.physics.air import STANDARD_PRESSURE_PA
from benchstation.physics.damper import charge_target_pa, charged_to_specification
from benchstation.physics.errors import RangeError
from benchstation.physics.oil import Oil
from tests.physics.conftest import damper
from tests.reference_rows import rows

CoolProp = pytest.importorskip("CoolProp.CoolProp")
BAR, OIL, ALPHA = 1e5, 262e-6, 7.4e-4
fills = st.floats(180e-6, 285e-6)
charges = st.floats(5 * BAR, 25 * BAR)
bench = st.floats(263.15, 323.15)


def target(**changes):
    given_values = {
        "charge_gauge_pa": 15 * BAR,
        "oil_volume_m3": OIL,
        "oil_alpha_per_k": ALPHA,
        "bench_k": 293.15,
        "ambient_pa": STANDARD_PRESSURE_PA,
    }
    return charge_target_pa(damper(), **(given_values | changes))


def charged(oil=OIL, charge=15 * BAR, alpha=ALPHA):
    return charged_to_specification(
        damper(), charge_gauge_pa=charge, oil_volume_m3=oil, oil_alpha_per_k=alpha
    )


# --- the target ----------------------------------------------------------------------------------


@given(charges, fills)
def test_at_the_reference_the_target_is_the_specification(charge, oil):
    found = target(charge_gauge_pa=charge, oil_volume_m3=oil)
    assert found.target_gauge_pa == pytest.approx(charge, rel=1e-9)
    assert found.oil_expansion_m3 == pytest.approx(0.0, abs=1e-18)


def test_the_barometer_moves_the_gauge_and_not_the_gas():
    low = target(ambient_pa=84_556.0)
    assert low.target_pa == target().target_pa
    assert low.target_gauge_pa - target().target_gauge_pa == pytest.approx(101_325.0 - 84_556.0)


@given(charges, fills, bench)
@settings(max_examples=50)
def test_the_target_against_the_reference_equation(charge, oil, temperature):
    """Same amount of gas in the chamber that the warmer oil leaves (Span et al. 2000)."""
    found = target(charge_gauge_pa=charge, oil_volume_m3=oil, bench_k=temperature)
    gas = damper().free_volume_m3 - oil
    density = CoolProp.PropsSI("D", "T", 293.15, "P", charge + STANDARD_PRESSURE_PA, "Nitrogen")
    left = gas - oil * ALPHA * (temperature - 293.15)
    expected = CoolProp.PropsSI("P", "T", temperature, "D", density * gas / left, "Nitrogen")
    assert found.target_pa == pytest.approx(expected, rel=2e-4)


@pytest.mark.parametrize(
    "expected",
    [
        r
        for r in rows("vessel_temperature_pressure.csv", quantity="isochoric_p2_abs")
        if r.number("T1_C") == 20.0 and r.number("T2_C") <= 40.0
    ],
    ids=str,
)
def test_oil_that_does_not_expand_leaves_a_plain_vessel(expected):
    ambient = expected.number("p_baro_bar") * BAR
    found = target(
        charge_gauge_pa=expected.number("p1_gauge_bar") * BAR,
        oil_alpha_per_k=0.0,
        bench_k=expected.number("T2_C") + 273.15,
        ambient_pa=ambient,
        reference_ambient_pa=ambient,
    )
    assert found.target_gauge_pa / BAR == pytest.approx(expected.number("p2_gauge_bar"), rel=3e-4)


def test_warmer_oil_adds_to_the_pressure():
    """10 K: 3.4 % of absolute pressure by the gas alone; the oil's growth adds about as much."""
    plain = target(oil_alpha_per_k=0.0, bench_k=303.15)
    full = target(bench_k=303.15)
    grown = OIL * ALPHA * 10.0 / (damper().free_volume_m3 - OIL)
    assert full.target_pa / plain.target_pa == pytest.approx(1.0 + grown, rel=2e-3)


@given(bench, fills)
def test_the_slope_with_temperature(temperature, oil):
    here = target(bench_k=temperature, oil_volume_m3=oil)
    step = 0.5
    above = target(bench_k=temperature + step, oil_volume_m3=oil)
    below = target(bench_k=temperature - step, oil_volume_m3=oil)
    slope = (above.target_pa - below.target_pa) / (2 * step)
    if abs(temperature - 293.15) > 0.01:
        assert here.per_k_pa == pytest.approx(slope, rel=2e-3)


def test_the_slope_at_the_reference_temperature_itself():
    slope = (target(bench_k=293.65).target_pa - target(bench_k=292.65).target_pa) / 1.0
    assert target().per_k_pa == pytest.approx(slope, rel=2e-3)


# --- what follows --------------------------------------------------------------------------------


@pytest.mark.parametrize("gas_ml", [70.0, 90.0, 110.0])
@pytest.mark.parametrize("temperature", [253.15, 293.15, 333.15])
def test_full_bump_against_the_reference_equation(gas_ml, temperature):
    """Slow at constant temperature, fast at constant entropy (Span et al. 2000)."""
    unit = charged(damper().free_volume_m3 - gas_ml * 1e-6)
    before = unit.amount_kg / unit.gas_volume_m3(temperature)
    after = unit.amount_kg / unit.gas_volume_m3(temperature, 0.15)
    slow = CoolProp.PropsSI("P", "T", temperature, "D", after, "Nitrogen")
    entropy = CoolProp.PropsSI("S", "T", temperature, "D", before, "Nitrogen")
    fast = CoolProp.PropsSI("P", "D", after, "S", entropy, "Nitrogen")
    assert unit.full_bump_pa(temperature) == pytest.approx(slow, rel=2e-4)
    assert unit.full_bump_fast_pa(temperature) == pytest.approx(fast, rel=1e-3)


def test_overfill_is_felt_most_when_hot():
    """90 mL of gas, 6 mL too much oil, charged to the same pressure: 9 % more at a hot bump."""
    oil = damper().free_volume_m3 - 90e-6
    rises = [
        charged(oil + 6e-6).full_bump_fast_pa(t) / charged(oil).full_bump_fast_pa(t)
        for t in (253.15, 293.15, 333.15, 373.15)
    ]
    assert rises == sorted(rises)
    assert rises[-1] == pytest.approx(1.089, abs=0.002)


@given(fills, charges)
@settings(max_examples=50)
def test_more_oil_is_less_gas_and_more_pressure(oil, charge):
    less, more = charged(oil, charge), charged(oil + 1e-6, charge)
    assert more.gas_volume_m3(293.15) < less.gas_volume_m3(293.15)
    assert more.full_bump_pa(293.15) > less.full_bump_pa(293.15)
    assert more.floating_piston_room_m(293.15) < less.floating_piston_room_m(293.15)
    assert more.floating_piston_clearance_m(293.15, 0.1) > less.floating_piston_clearance_m(
        293.15, 0.1
    )
    assert more.amount_kg < less.amount_kg


@given(st.floats(0.0, 0.149), st.floats(263.15, 353.15))
def test_pressure_rises_with_travel_and_faster_when_fast(travel, temperature):
    unit = charged()
    slow, deeper = unit.pressure_pa(temperature, travel), unit.pressure_pa(temperature, 0.15)
    assert slow < deeper
    assert unit.fast_pressure_pa(temperature, travel) >= slow * (1 - 1e-9)
    assert unit.pressure_pa(temperature + 1.0, travel) > slow


def test_full_bump_is_the_end_of_the_stroke():
    unit = charged()
    assert unit.full_bump_pa(293.15) == unit.pressure_pa(293.15, 0.15)
    assert unit.full_bump_fast_pa(293.15) == unit.fast_pressure_pa(293.15, 0.15)
    assert unit.fast_pressure_pa(293.15, 0.0) == pytest.approx(unit.pressure_pa(293.15))


def test_the_amount_of_gas_does_not_change():
    unit = charged()
    for temperature, travel in ((253.15, 0.0), (293.15, 0.1), (353.15, 0.15)):
        pressure = unit.pressure_pa(temperature, travel)
        volume = unit.gas_volume_m3(temperature, travel)
        if pressure <= nitrogen.HIGH_PA:
            density = nitrogen.density_kg_m3(pressure, temperature)
            assert density * volume == pytest.approx(unit.amount_kg, rel=1e-10)


# --- refusals ------------------------------------------------------------------------------------


@pytest.mark.parametrize(
    ("changes", "named"),
    [
        ({"charge_gauge_pa": 15.0e6}, "charge"),
        ({"charge_gauge_pa": -1.0}, "charge"),
        ({"charge_gauge_pa": float("nan")}, "charge"),
        ({"oil_volume_m3": 262.0}, "oil volume"),
        ({"oil_volume_m3": 363.6e-6}, "oil volume"),
        ({"oil_alpha_per_k": 0.74}, "expansion"),
        ({"bench_k": 20.0}, "gas volume|nitrogen temperature"),
        ({"ambient_pa": 1013.25}, "barometric"),
    ],
)
def test_out_of_range_is_refused_by_name(changes, named):
    with pytest.raises(RangeError, match=named):
        target(**changes)


def test_travel_beyond_the_stroke_is_refused():
    with pytest.raises(RangeError, match="rod travel"):
        charged().pressure_pa(293.15, 0.151)


def test_oil_that_leaves_no_room_is_refused():
    with pytest.raises(RangeError, match="gas volume left"):
        charged(350e-6).pressure_pa(293.15, 0.15)


@given(st.floats(255, 390), st.floats(240e-6, 290e-6))
@settings(max_examples=25)
def test_with_an_oil_the_expansion_is_exact_at_every_temperature(temperature, volume):
    oil = Oil(851.0)
    unit = charged_to_specification(
        damper(),
        charge_gauge_pa=15e5,
        oil_volume_m3=volume,
        oil_alpha_per_k=oil.mean_expansion_per_k(293.15, 393.15),
        oil=oil,
    )
    grown = volume * oil.density(293.15) / oil.density(temperature)
    assert unit.gas_volume_m3(temperature) == pytest.approx(
        damper().free_volume_m3 - grown, rel=1e-9
    )


def test_one_mean_expansion_up_to_the_hot_limit_errs_on_the_safe_side_when_cold():
    """It shrinks cold oil too much: pressure and cavitation force come out low, never high."""
    oil = Oil(851.0)
    exact, mean = (
        charged_to_specification(
            damper(),
            charge_gauge_pa=15e5,
            oil_volume_m3=262e-6,
            oil_alpha_per_k=oil.mean_expansion_per_k(293.15, 393.15),
            oil=given_oil,
        )
        for given_oil in (oil, None)
    )
    assert mean.pressure_pa(393.15) == pytest.approx(exact.pressure_pa(393.15), rel=1e-12)
    assert 0.99 < mean.pressure_pa(253.15) / exact.pressure_pa(253.15) < 1.0


@pytest.mark.parametrize("off_k", [-15.0, 0.0, 5.0, 15.0])
def test_what_the_target_leaves_out_is_within_its_bound(off_k):
    """The chamber worked out anew with an aluminium tube and compressible oil, 1.4 GPa."""
    found = target(bench_k=293.15 + off_k)
    more_pa = found.target_pa - (15 * BAR + STANDARD_PRESSURE_PA)
    tube_m3 = damper().free_volume_m3 * 6.9e-5 * off_k
    pressed_m3 = OIL * 7e-10 * (more_pa + 0.006 * off_k * found.target_pa)
    room_m3 = found.gas_volume_m3 + tube_m3 + pressed_m3
    truly = nitrogen.pressure_pa(found.amount_kg / room_m3, found.bench_k)
    bound = found.left_out_pa
    assert abs(truly - found.target_pa) <= 1.25 * (bound.tube_pa + bound.oil_pa) + 1e-6
    assert (bound.tube_pa + bound.oil_pa > 1e-6) is (off_k != 0.0)
    if off_k:
        assert bound.tube_pa < 0.15 * abs(more_pa)
        assert bound.oil_pa < 0.05 * abs(more_pa)
