"""The whole check of one build, and what a millilitre and a bar do to it."""

from dataclasses import fields, replace

import numpy as np
import pytest
from hypothesis import given, settings
from hypothesis import strategies as st

from benchstation.physics.assessment import Build, DamperFigures, assess, per_charge_pa, per_oil_m3
from benchstation.physics.damper import DamperLimits, cavitation_force_n
from benchstation.physics.errors import RangeError
from tests.physics.conftest import damper

BAR, ML, AMBIENT = 1e5, 1e-6, 101_325.0
NAMES = [field.name for field in fields(DamperFigures)]


def build(**changes):
    given = {
        "geometry": damper(),
        "limits": DamperLimits(body_rating_gauge_pa=80 * BAR, hot_limit_k=373.15),
        "oil_volume_m3": 262 * ML,
        "charge_gauge_pa": 15 * BAR,
        "oil_alpha_per_k": 7.4e-4,
    }
    return Build(**(given | changes))


def test_the_figures_are_those_of_the_unit():
    found = assess(build())
    unit, figures = found.unit, found.figures
    assert found.holds
    assert figures.out_reference_pa == pytest.approx(15 * BAR + AMBIENT, rel=1e-12)
    assert figures.bump_fast_hot_pa == unit.full_bump_fast_pa(373.15)
    assert figures.bump_slow_cold_pa == unit.full_bump_pa(253.15)
    assert figures.cavitation_force_cold_n == cavitation_force_n(unit, 253.15)
    assert figures.push_force_n == pytest.approx(15e5 * damper().rod_area_m2, rel=1e-9)
    assert [curve.temperature_k for curve in found.curves] == [253.15, 293.15, 373.15]
    assert found.curves[2].fast_pa[-1] == pytest.approx(figures.bump_fast_hot_pa, rel=1e-9)
    assert found.fill.contains(262 * ML)
    assert found.charge.contains(15 * BAR)


@pytest.mark.parametrize("name", NAMES)
def test_a_small_change_is_what_the_sensitivity_says(name):
    here = build()
    base = getattr(here.figures(), name)
    for slope, changed in (
        (getattr(per_oil_m3(here), name) * 0.1 * ML, here.figures(more_oil_m3=0.1 * ML)),
        (getattr(per_charge_pa(here), name) * 0.05 * BAR, here.figures(more_charge_pa=0.05 * BAR)),
    ):
        change = getattr(changed, name) - base
        assert slope == pytest.approx(change, rel=0.01, abs=1e-9 * abs(base))


def test_sensitivities_by_hand():
    """A millilitre more oil is a millilitre less gas, moves the piston by 1 mL / 16.62 cm2 =
    0.602 mm and leaves the charge; a bar more charge pushes with 1e5 A_rod = 15.39 N more."""
    oil, charge = per_oil_m3(build()), per_charge_pa(build())
    assert oil.gas_volume_m3 * ML == pytest.approx(-1 * ML, rel=1e-6)
    assert oil.piston_depth_m * ML == pytest.approx(0.6017e-3, abs=1e-6)
    assert oil.out_reference_pa * ML == pytest.approx(0.0, abs=1e-3)
    assert charge.out_reference_pa == pytest.approx(1.0, rel=1e-9)
    assert charge.push_force_n * BAR == pytest.approx(15.39, abs=0.01)
    assert oil.bump_fast_hot_pa > oil.bump_slow_hot_pa > 0


def test_a_broken_limit_is_seen():
    found = assess(build(limits=DamperLimits(body_rating_gauge_pa=25 * BAR, hot_limit_k=373.15)))
    assert not found.holds
    assert not found.fill.contains(262 * ML)
    assert not found.charge.contains(15 * BAR)


def test_an_overfilled_unit_is_refused_in_words():
    with pytest.raises(RangeError, match="nitrogen"):
        assess(build(oil_volume_m3=damper().free_volume_m3 - 24 * ML))


def test_points_and_ambient_reach_the_curves():
    found = assess(replace(build(), ambient_pa=90e3), points=11)
    assert len(found.curves[0].travel_m) == 11
    expected = (found.curves[1].slow_pa - 90e3) * damper().rod_area_m2
    assert np.allclose(found.curves[1].slow_force_n, expected, rtol=1e-12)


@given(st.floats(0.6, 1.8))
@settings(max_examples=15)
def test_a_similar_body_scales_as_its_dimensions_say(scale):
    """Lengths by k: the same pressures, forces by k**2, rates by k, volumes by k**3."""
    plain = damper()
    similar = damper(
        **{
            field.name: getattr(plain, field.name)
            * scale ** (3 if field.name.endswith("m3") else 1)
            for field in fields(plain)
        }
    )
    here = assess(build(), points=5)
    there = assess(build(geometry=similar, oil_volume_m3=262 * ML * scale**3), points=5)
    powers = {"_pa": 0, "_n": 2, "_m": 1, "_m3": 3, "_kg": 3}
    for name in NAMES:
        power = powers["_" + name.rpartition("_")[2]]
        assert getattr(there.figures, name) == pytest.approx(
            getattr(here.figures, name) * scale**power, rel=1e-9
        )
    for first, second in zip(here.curves, there.curves, strict=True):
        assert np.allclose(second.fast_rate_n_m, first.fast_rate_n_m * scale, rtol=1e-8)
    assert there.fill.most_m3 == pytest.approx(here.fill.most_m3 * scale**3, rel=1e-7)
    assert there.charge.most_gauge_pa == pytest.approx(here.charge.most_gauge_pa, rel=1e-7)
