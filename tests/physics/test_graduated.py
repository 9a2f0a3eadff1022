"""What a graduated cylinder reads, and what eyeing a fill costs."""

import pytest
from hypothesis import given
from hypothesis import strategies as st

from benchstation.physics.errors import RangeError
from benchstation.physics.graduated import (
    BOROSILICATE_PER_K,
    as_poured_difference_kg,
    cylinder_reading_m3,
    mass_of_reading_kg,
)
from benchstation.physics.oil import Oil

ML = 1e-6


def test_at_20_degrees_the_cylinder_is_true():
    """ISO 4787: volumetric glassware is adjusted at 20 degC."""
    assert cylinder_reading_m3(0.2222, 848.16, 293.15) == pytest.approx(0.2222 / 848.16, rel=1e-15)


def test_warm_oil_by_hand():
    """222.22 g at 35 degC, 838.6 kg/m3: 264.989 mL; the glass has grown 1.485e-4: 264.950 mL."""
    reading = cylinder_reading_m3(0.22222, 838.6, 308.15)
    assert reading == pytest.approx(264.950 * ML, abs=2e-9)
    assert pytest.approx(3 * 3.3e-6) == BOROSILICATE_PER_K  # ISO 3585: linear 3.3e-6


def test_eyeing_a_fill_at_35_degrees_by_hand():
    """262 mL of 851.3 kg/m3 oil at 15: rho(20) 848.158, rho(35) 838.68: 2.48 g too little."""
    missing = as_poured_difference_kg(262 * ML, Oil(851.3), 293.15, 308.15)
    assert missing == pytest.approx(-2.48e-3, abs=0.02e-3)
    assert as_poured_difference_kg(262 * ML, Oil(851.3), 293.15, 293.15) == 0.0


@given(st.floats(0.01, 1.0), st.floats(800, 900), st.floats(255, 360))
def test_reading_and_mass_undo_each_other(mass, density, temperature):
    reading = cylinder_reading_m3(mass, density, temperature)
    assert mass_of_reading_kg(reading, density, temperature) == pytest.approx(mass, rel=1e-12)


@given(st.floats(275, 340), st.floats(0.1, 10))
def test_the_warmer_the_more_it_shows_and_the_more_is_missing(temperature, rise):
    oil = Oil(860.0)
    readings = [
        cylinder_reading_m3(0.2, oil.density(t), t) for t in (temperature, temperature + rise)
    ]
    assert readings[1] > readings[0]
    missing = [
        as_poured_difference_kg(250 * ML, oil, 293.15, t) for t in (temperature, temperature + rise)
    ]
    assert missing[1] < missing[0]


REFUSED = [
    lambda: cylinder_reading_m3(-0.1, 850.0, 293.15),
    lambda: cylinder_reading_m3(0.1, 0.0, 293.15),
    lambda: cylinder_reading_m3(0.1, 850.0, 20.0),
    lambda: cylinder_reading_m3(0.1, 850.0, 293.15, expansion_per_k=1.0),
    lambda: mass_of_reading_kg(5.0, 850.0, 293.15),
    lambda: as_poured_difference_kg(1.0, Oil(860.0), 293.15, 300.0),
]


@pytest.mark.parametrize("ask", REFUSED)
def test_out_of_range_is_refused_by_name(ask):
    with pytest.raises(RangeError) as refused:
        ask()
    assert refused.value.quantity in str(refused.value)
