"""The data sheet of a charged unit: figures, with what the rules say beside them."""

import pytest

from benchstation.physics.damper import charged_to_specification
from benchstation.physics.errors import RangeError
from benchstation.physics.shipping import NOTE, SHIPPING_K, shipping_figures
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


def test_without_test_and_burst_pressure_there_is_no_ratio():
    found = shipping_figures(UNIT)
    assert found.test_ratio is None
    assert found.burst_ratio is None
    assert len(found.asked) == 5


def test_ratios_and_what_is_asked():
    """49 CFR 173.306 (f)(2), as quoted in public guides: 200 psig, 2500 in3, 3 times, 120 psi;
    (f)(1): burst 5 times. ADR special provision 283: 1.6 L, 280 bar, 80 bar L, 4 times to 0.5 L."""
    found = shipping_figures(UNIT, test_gauge_pa=120 * BAR, burst_gauge_pa=240 * BAR)
    charge = found.charge_70f_gauge_pa
    assert found.test_ratio == pytest.approx(120 * BAR / charge)
    assert found.burst_ratio == pytest.approx(240 * BAR / charge)
    asked = {(a.rule, a.what): a for a in found.asked}
    cfr, adr = "49 CFR 173.306", "ADR 3.3, special provision 283"
    assert asked[f"{cfr} (f)(2)", "charge at 70 °F, gauge"].asked == pytest.approx(13.7895e5, abs=5)
    assert asked[f"{cfr} (f)(2)(ii)", "gas space"].asked == pytest.approx(0.0409677, abs=1e-7)
    assert asked[f"{cfr} (f)(2)(iii)", "test pressure to charge"].asked == 3.0
    assert asked[f"{cfr} (f)(1), (f)(3)", "burst pressure to charge"].asked == 5.0
    assert asked[adr, "burst pressure to charge"].asked == 4.0
    assert asked[adr, "gas space times charge"].asked == pytest.approx(8000.0)
    assert [a.at_most for a in found.asked] == [True] * 5 + [False] * 4


def test_no_verdict_is_given():
    assert "Figures only" in NOTE
    assert not hasattr(shipping_figures(UNIT).asked[0], "met")


def test_impossible_pressures_are_refused():
    with pytest.raises(RangeError, match="burst pressure"):
        shipping_figures(UNIT, burst_gauge_pa=0.0)
    with pytest.raises(RangeError, match="test pressure"):
        shipping_figures(UNIT, test_gauge_pa=-5.0)
