"""Which scale is taken: it must bear the load, and of those that do the finest."""

import pytest
from hypothesis import given
from hypothesis import strategies as st

from benchstation.domain.oil_balance import Purpose
from benchstation.domain.scale_choice import (
    FULLER,
    VESSEL_KG,
    Against,
    Candidate,
    Why,
    choose,
    load_kg,
)
from benchstation.domain.specification import Method, OilFill

FINE = Candidate("fine", 3.0, 3e-5)
COARSE = Candidate("coarse", 15.0, 2e-4)
FILL = OilFill(grade="x", volume=250e-6, tolerance=1e-6, bleed_allowance=50e-6, typical_rho15=850.0)
OIL_KG = 0.255


@pytest.mark.parametrize(
    ("load", "taken"),
    [
        (0.3, ("fine", Why.FINEST)),
        (3.0, ("fine", Why.FINEST)),
        (3.001, ("coarse", Why.ONLY)),
        (15.0, ("coarse", Why.ONLY)),
        (15.001, None),
    ],
)
def test_the_finest_that_bears_the_load_is_taken(load, taken):
    assert choose([COARSE, FINE], load) == taken


def test_one_that_cannot_be_used_is_none_and_says_why():
    lost = Candidate("fine", 3.0, 3e-5, Against.NO_READING)
    assert choose([lost, COARSE], 0.3) == ("coarse", Why.ONLY)
    assert (lost.against(9.0), FINE.against(9.0), COARSE.against(9.0)) == (
        Against.NO_READING,
        Against.TOO_SMALL,
        None,
    )
    assert choose([lost], 0.3) is None


def test_the_one_that_weighed_the_unit_before_is_kept_while_it_will_do():
    assert choose([FINE, COARSE], 1.0, "coarse") == ("coarse", Why.BEFORE)
    assert choose([FINE, COARSE], 20.0, "coarse") is None
    assert choose([COARSE, FINE], 5.0, "fine") == ("coarse", Why.ONLY)


def test_of_equals_the_first_of_the_settings_is_taken():
    twins = [Candidate(name, None, 1e-4) for name in ("b", "a")]
    assert choose(twins, 1e3) == ("b", Why.FINEST), "a range that nobody stated bears all"


scales = st.builds(
    Candidate,
    st.sampled_from("abcdef"),
    st.none() | st.floats(0.1, 60),
    st.floats(1e-6, 1e-2),
    st.sampled_from([None, *Against]),
)


@given(st.lists(scales, unique_by=lambda one: one.id), st.floats(0, 60))
def test_no_scale_that_will_do_is_finer_than_the_one_taken(listed, load):
    taken = choose(listed, load)
    fit = [one for one in listed if one.against(load) is None]
    if taken is None:
        assert fit == []
    else:
        (found,) = (one for one in fit if one.id == taken[0])
        assert found.u_kg == min(one.u_kg for one in fit)


@pytest.mark.parametrize(
    ("purpose", "method", "unit_kg", "expected"),
    [
        (Purpose.POUR, Method.GAIN, 4.0, 4.0 + OIL_KG),
        (Purpose.POUR, Method.GAIN, None, OIL_KG),
        (Purpose.POUR, Method.DIFFERENCE, 4.0, 4.0 + OIL_KG),
        (Purpose.TOPUP, Method.LOSS, 4.0, VESSEL_KG + FULLER * OIL_KG),
        (Purpose.BLEED, Method.DIFFERENCE, 4.0, VESSEL_KG + OIL_KG),
        (Purpose.SPILL, Method.GAIN, 4.0, VESSEL_KG + OIL_KG),
    ],
)
def test_the_load_is_what_stands_on_the_scale(purpose, method, unit_kg, expected):
    assert load_kg(FILL, purpose, method, unit_kg) == pytest.approx(expected)


def test_a_fill_without_the_units_mass_keeps_its_content():
    """A specification from before has the same content, and so the same hash."""
    assert "unit_mass" not in FILL.model_dump()
    assert FILL.model_copy(update={"unit_mass": 2.0}).model_dump()["unit_mass"] == 2.0
