"""The data sheet of a charged unit: figures, with what the rules say beside them."""

import pytest

from benchstation.physics.damper import charged_to_specification
from benchstation.physics.errors import RangeError
from benchstation.physics.shipping import (
    NOTE,
    PSI_PA,
    SHIPPING_K,
    UN_ENTRY,
    Standing,
    _absorber_figures,
    shipping_figures,
)
from tests.physics.conftest import damper

BAR, ML, AMBIENT = 1e5, 1e-6, 101_325.0
UNIT = charged_to_specification(
    damper(), charge_gauge_pa=15 * BAR, oil_volume_m3=262 * ML, oil_alpha_per_k=7.4e-4
)


def test_the_temperature_is_seventy_fahrenheit():
    assert pytest.approx(21.111 + 273.15, abs=1e-3) == SHIPPING_K


def test_charge_and_volume_by_hand():
    """1.11 K above the reference: oil grows 262 * 7.4e-4 * 1.11 = 0.215 mL into 101.49 mL of gas,
    so 16.013 bar * (294.26/293.15) * 101.49/101.27 = 16.108 bar absolute (ideal)."""
    found = shipping_figures(UNIT)
    volume = UNIT.gas_volume_m3(293.15) - 262 * ML * 7.4e-4 * (SHIPPING_K - 293.15)
    ideal = 16.01325 * SHIPPING_K / 293.15 * UNIT.gas_volume_m3(293.15) / volume
    assert found.gas_volume_m3 == pytest.approx(volume, rel=1e-12)
    assert found.charge_70f_gauge_pa / BAR == pytest.approx(ideal - AMBIENT / BAR, rel=5e-4)
    assert found.charge_20c_gauge_pa == pytest.approx(15 * BAR, rel=1e-9)
    assert found.pressure_volume_pa_m3 == pytest.approx(volume * 15 * BAR, rel=1e-9)


FIGURES = {"test_gauge_pa": 120 * BAR, "burst_gauge_pa": 70 * BAR}


def clause(name, unit=UNIT, **given):
    return next(c for c in shipping_figures(unit, **given).clauses if c.id == name)


def charged(bar, oil_ml=262):
    return charged_to_specification(
        damper(), charge_gauge_pa=bar * BAR, oil_volume_m3=oil_ml * ML, oil_alpha_per_k=7.4e-4
    )


def test_shock_absorbers_by_173_306_f_4():
    """Applies to shock absorbers, gas springs and the like (PHMSA letter 15-0179). Its figures,
    from memory, are special provision 283's: 1.6 L, 280 bar, 80 bar L, burst 4 times to 0.5 L."""
    found = clause("cfr_f4", **FIGURES)
    assert found.standing is Standing.OPEN
    assert [c.most for c in found.conditions[:3]] == [1.6e-3, 280 * BAR, pytest.approx(8000.0)]
    burst = found.conditions[3]
    assert burst.least == pytest.approx(4 * 15 * BAR)
    assert any("fire test" in words for words in found.to_show)
    assert any("quality assurance programme" in words for words in found.to_show)
    assert clause("cfr_f4").standing is Standing.NOT_TOLD
    assert [c.what for c in clause("cfr_f4").missing] == [burst.what]
    weak = clause("cfr_f4", burst_gauge_pa=59 * BAR)
    assert weak.standing is Standing.RULED_OUT
    assert weak.against == (weak.conditions[3],)


def test_special_provision_283_has_five_conditions():
    """ADR 3.3.1: volume and charge, burst, material, quality standard, fire test."""
    found = clause("sp_283", **FIGURES)
    assert found.standing is Standing.OPEN
    assert len(found.to_show) == 3
    assert "fragment" in found.to_show[0]


@pytest.mark.parametrize(("litres", "bar"), [(0.5, 160), (1, 80), (1.6, 50), (0.28, 280)])
def test_the_examples_of_special_provision_283(litres, bar):
    """Its text gives these four as just inside."""
    figures = _absorber_figures(litres * 1e-3, bar * BAR, 2000 * BAR)
    assert all(c.met for c in figures)
    assert not all(c.met for c in _absorber_figures(litres * 1.03e-3, bar * BAR, 2000 * BAR))


def test_a_larger_chamber_wants_five_times():
    assert _absorber_figures(0.5e-3, BAR, None)[3].least == pytest.approx(4 * BAR)
    assert _absorber_figures(0.51e-3, BAR, None)[3].least == pytest.approx(5 * BAR)


def test_a_unit_by_itself_and_in_a_vehicle():
    """(f)(1), PHMSA letter 03-0133: installed, burst 5 times the charge at 70 degF."""
    assert clause("cfr_f1", **FIGURES).standing is Standing.RULED_OUT
    assert clause("cfr_f1", burst_gauge_pa=80 * BAR).standing is Standing.OPEN


def test_accumulators_below_and_above_200_psi():
    """(f)(2) and (f)(3), quoted in public guides: 200 psig, 2500 in3, 3 times, 120 psi; 5 times."""
    low, high = clause("cfr_f2", **FIGURES), clause("cfr_f3", **FIGURES)
    assert low.conditions[0].most == pytest.approx(13.7895e5, abs=5)
    assert low.conditions[1].most == pytest.approx(0.0409677, abs=1e-7)
    assert low.standing is Standing.RULED_OUT
    assert [c.what for c in high.against] == ["burst pressure, 5 times the charge at 70 °F"]
    assert clause("cfr_f2", charged(8), **FIGURES).standing is Standing.OPEN
    assert clause("cfr_f3", charged(8), **FIGURES).standing is Standing.RULED_OUT
    assert clause("cfr_f2", charged(2)).conditions[2].least == pytest.approx(120 * PSI_PA)


def test_a_unit_without_charge_is_below_division_2_2():
    """Division 2.2 begins at 200 kPa gauge at 20 degC (49 CFR 173.115 (b), from memory)."""
    for bar, expected in ((0, Standing.OPEN), (1.9, Standing.OPEN), (2.1, Standing.RULED_OUT)):
        assert clause("low_pressure", charged(bar)).standing is expected


def test_a_slight_vacuum_is_asked_the_same():
    cold = charged_to_specification(
        damper(), charge_gauge_pa=0.0, oil_volume_m3=262 * ML, oil_alpha_per_k=7.4e-4,
        reference_k=300.0,
    )  # fmt: skip
    found = shipping_figures(cold, **FIGURES)
    assert found.charge_70f_gauge_pa < 0
    assert all(c.standing in Standing for c in found.clauses)


def test_no_verdict_is_given():
    assert "the shipper decides" in NOTE
    assert "UN 3164" in UN_ENTRY
    assert "Division 2.2" in UN_ENTRY


def test_impossible_pressures_are_refused():
    with pytest.raises(RangeError, match="burst pressure"):
        shipping_figures(UNIT, burst_gauge_pa=0.0)
    with pytest.raises(RangeError, match="test pressure"):
        shipping_figures(UNIT, test_gauge_pa=-5.0)
