"""One full worked example for each formula, in plain arithmetic beside the function it checks.

The steps are written out as on paper, with their figures, and use nothing of the physics but the
result under test.
"""

import math

import pytest

from benchstation.physics import air, compression, leak, nitrogen, oil, oil_60f
from benchstation.physics.damper import (
    DamperGeometry,
    cavitation_force_n,
    charge_target_pa,
    charged_to_specification,
)
from tests.reference_rows import assert_agrees, row, rows

OIL_FILE = "oil_density_temperature.csv"


def test_oil_density_at_the_bench():
    """860 kg/m3 at 15 degC, wanted at 35 degC (ASTM D1250-04, ISO 91)."""
    a = 0.6278 / 860  # 7.3e-4 1/K
    step = a * (35 - 15)  # 0.0146
    vcf = math.exp(-step * (1 + 0.8 * step))  # exp(-0.014770525) = 0.985338
    assert (a, step, vcf) == pytest.approx((7.3e-4, 0.0146, 0.985338), rel=1e-6)
    assert oil.density_kg_m3(860.0, 308.15) == pytest.approx(860 * vcf, rel=1e-12)  # 847.391
    assert 860 * vcf == pytest.approx(847.391, abs=1e-3)


def test_oil_volume_back_at_15_degrees():
    """100 L of 954 kg/m3 at 150 degC: rho15 = 1040.47, so 91.69 L at 15 degC."""
    expected = row(OIL_FILE, quantity="worked_example_volume_at_15C")
    observed = expected.number("rho_base_kg_m3")
    rho15 = oil.density_at_15_kg_m3(observed, expected.number("temp") + 273.15)
    assert rho15 == pytest.approx(1040.47, abs=0.01)
    assert_agrees(expected, 100.0 * observed / rho15)


@pytest.mark.parametrize(
    "expected", rows(OIL_FILE, quantity="linear_vs_exponential_density_error"), ids=str
)
def test_what_a_straight_line_would_cost(expected):
    rho15, delta = expected.number("rho_base_kg_m3"), expected.number("temp") - 15.0
    line = rho15 * (1.0 - oil.expansion_per_k(rho15) * delta)
    table = oil.density_kg_m3(rho15, delta + 288.15)
    assert_agrees(expected, 100.0 * (line / table - 1.0))


def test_oil_correction_at_the_60_fahrenheit_base():
    """860 kg/m3 at 60 degF, wanted at 100 degF; the shifts to IPTS-68 are left out: below 2e-6."""
    a = 0.34878 / 860  # 4.0556e-4 1/degF
    step = a * 40  # 0.016222
    ctl = math.exp(-step * (1 + 0.8 * step))  # exp(-0.016433) = 0.983701
    assert ctl == pytest.approx(0.983701, abs=2e-6)
    assert oil_60f.volume_correction_60f(860.0, (100 + 459.67) / 1.8) == pytest.approx(
        ctl, abs=1e-5
    )


def test_air_density():
    """1013.25 hPa, 20 degC, 50 %: (0.34848 * 1013.25 - 0.009 * 50 * exp(1.22)) / 293.15."""
    dry = 0.34848 * 1013.25  # 353.097
    wet = 0.009 * 50 * math.exp(0.061 * 20)  # 1.524
    assert (dry, wet) == pytest.approx((353.097, 1.524), abs=1e-3)
    assert air.air_density_kg_m3(293.15, 101325.0, 0.5) == pytest.approx(
        (dry - wet) / 293.15, rel=1e-12
    )
    assert (dry - wet) / 293.15 == pytest.approx(1.1993, abs=1e-4)


def test_buoyancy():
    """860 kg/m3 in air of 1.2: (1 - 1.39535e-3) / (1 - 1.5e-4) = 0.998754."""
    factor = (1 - 1.2 / 860) / (1 - 1.2 / 8000)
    assert factor == pytest.approx(0.998754, abs=1e-6)
    assert air.indicated_mass_kg(0.2222, 860.0) == pytest.approx(0.2222 * factor, rel=1e-12)


@pytest.mark.parametrize(
    "expected", rows("air_buoyancy.csv", quantity="EURAMET_approx_factor"), ids=str
)
def test_the_short_form_of_the_buoyancy_factor_agrees(expected):
    """1 + rho_air (1/rho - 1/rho_weights), first order of the inverse: to 2e-6 for oil."""
    factor = air.buoyancy_factor(
        expected.number("rho_sample_kg_m3"), expected.number("rho_air_kg_m3")
    )
    assert 1.0 / factor == pytest.approx(expected.number(), abs=3e-6)


def test_barometer_from_altitude():
    """500 m: 1 - 0.0065 * 500 / 288.15 = 0.988721; to the 5.25588: 0.942126; 95 461 Pa."""
    ratio = 1 - 0.0065 * 500 / 288.15
    assert ratio**5.25588 == pytest.approx(0.942126, abs=2e-6)
    assert air.pressure_at_altitude_pa(500.0) == pytest.approx(101325 * ratio**5.25588, rel=1e-6)


@pytest.mark.parametrize(
    "expected", rows("isentropic_compression.csv", quantity="isentropic_p2_ideal"), ids=str
)
def test_ideal_fast_compression_is_a_polytropic_one(expected):
    end = compression.polytropic_pressure_pa(
        expected.number("p1_bar_abs") * 1e5,
        expected.number("exponent_n"),
        expected.number("volume_ratio_V2_V1"),
    )
    assert_agrees(expected, end / 1e5)


BODY = DamperGeometry(
    bore_m=0.046,
    rod_diameter_m=0.014,
    internal_length_m=0.265,
    stroke_m=0.150,
    floating_piston_thickness_m=0.018,
    hardware_volume_m3=47e-6,
)


def test_charge_target_with_a_nearly_ideal_gas():
    """15 bar gauge at 20 degC, wanted at 35 degC, 262 mL of oil with a = 7.5e-4 1/K.

    Room: pi/4 46^2 (265 - 18) = 410.49 mL, less 47 mL: 363.49 mL; gas 101.49 mL; the oil grows
    262 * 7.5e-4 * 15 = 2.948 mL, gas 98.54 mL. Ideal: 16.01325 * 308.15/293.15 * 101.49/98.54 =
    17.336 bar absolute, 16.323 gauge. The real gas is some 0.1 % more (Z rises with temperature).
    """
    room = math.pi / 4 * 4.6**2 * (26.5 - 1.8) - 47
    gas = room - 262
    grown = 262 * 7.5e-4 * 15
    ideal = 16.01325 * 308.15 / 293.15 * gas / (gas - grown)
    assert (room, gas, grown, ideal) == pytest.approx((363.49, 101.49, 2.9475, 17.336), abs=5e-3)
    found = charge_target_pa(
        BODY,
        charge_gauge_pa=15e5,
        oil_volume_m3=262e-6,
        oil_alpha_per_k=7.5e-4,
        bench_k=308.15,
        ambient_pa=101325.0,
    )
    assert found.gas_volume_m3 * 1e6 == pytest.approx(gas - grown, abs=1e-6)
    assert 1.0005 < found.target_pa / 1e5 / ideal < 1.003


def test_full_bump_push_and_cavitation_force():
    """Rod 14 mm: 1.5394 cm2, 23.09 mL over 150 mm. Slow bump, ideal: 16.01325 * 101.49/78.40 =
    20.73 bar. Push force out: 15e5 * 1.5394e-4 = 230.9 N. Before cavitation: 16.01325e5 (16.619 -
    1.539) cm2 = 2414.8 N."""
    rod, bore = math.pi / 4 * 1.4**2, math.pi / 4 * 4.6**2
    assert (rod, rod * 15, bore) == pytest.approx((1.5394, 23.091, 16.619), abs=1e-3)
    unit = charged_to_specification(
        BODY, charge_gauge_pa=15e5, oil_volume_m3=262e-6, oil_alpha_per_k=0.0
    )
    ideal = 16.01325 * 101.49 / (101.49 - rod * 15)
    assert ideal == pytest.approx(20.73, abs=5e-3)
    assert unit.full_bump_pa(293.15) / 1e5 == pytest.approx(ideal, rel=2e-3)
    push = BODY.push_force_n(unit.pressure_pa(293.15), 101325.0)
    assert push == pytest.approx(15e5 * rod * 1e-4, rel=1e-9)
    assert cavitation_force_n(unit, 293.15) == pytest.approx(2414.8, abs=0.2)


def test_leak_rate_by_its_definition():
    """1 mbar L/s: the pressure in a closed litre changes by 1 mbar in a second."""
    definition = row("leak.csv", quantity="published_definition")
    assert "1 L volume changes by 1 mbar in 1 s" in definition["value"]
    rate = leak.two_point_leak_pa_m3_s(100_100.0, 100_000.0, 1.0, 1e-3)
    assert rate / leak.PA_M3_S_PER_MBAR_L_S == pytest.approx(1.0, rel=1e-9)


def test_amount_of_nitrogen_by_the_ideal_law():
    """101.49 mL at 16.01325 bar and 20 degC: p V / (R T) = 1.868 g; Z = 0.9968 makes it 1.874."""
    ideal = 16.01325e5 * 101.49e-6 / (296.8039 * 293.15)
    real = 101.49e-6 * nitrogen.density_kg_m3(16.01325e5, 293.15)
    assert ideal * 1e3 == pytest.approx(1.868, abs=1e-3)
    assert real / ideal == pytest.approx(1 / 0.9968, abs=2e-4)
