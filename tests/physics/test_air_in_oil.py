"""The air in a fill of oil: sizes worked out by hand."""

import pytest

from benchstation.physics.air_in_oil import bubbles_m3, dissolved_kg


def test_dissolved_air_is_a_hundredth_of_a_percent_of_the_oil():
    """0.09 of 262 mL are 23.6 mL of air of 1.293 g/L: 30 mg beside 225 g of oil."""
    assert dissolved_kg(262e-6) == pytest.approx(30.5e-6, rel=0.01)


def test_bubbles_shrink_as_the_pressure_grows():
    """One percent of 262 mL: 2.6 mL at the pour, a sixteenth of it at 15 bar gauge."""
    assert bubbles_m3(262e-6, 0.01, 101_325.0, 101_325.0) == pytest.approx(2.62e-6)
    assert bubbles_m3(262e-6, 0.01, 1_601_325.0, 101_325.0) == pytest.approx(0.166e-6, rel=0.01)
