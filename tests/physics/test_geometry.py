"""Volumes and positions inside a damper, worked by hand and by properties."""

import math

import pytest
from hypothesis import given
from hypothesis import strategies as st

from benchstation.physics.errors import RangeError
from tests.physics.conftest import damper

oil = st.floats(50e-6, 280e-6)
travel = st.floats(0.0, 0.15)


def test_volumes_by_hand(geometry):
    """pi/4 46 mm squared is 1661.9 mm2, pi/4 14 mm squared is 153.938 mm2."""
    assert geometry.bore_area_m2 == pytest.approx(1661.9e-6, rel=1e-5)
    assert geometry.rod_area_m2 == pytest.approx(153.938e-6, rel=1e-5)
    assert geometry.tube_volume_m3 == pytest.approx(440.40e-6, rel=1e-4)
    assert geometry.stroke_volume_m3 == pytest.approx(23.09e-6, rel=1e-3)
    assert geometry.free_volume_m3 == pytest.approx((440.40 - 29.91 - 47.0) * 1e-6, rel=1e-4)


def test_every_millilitre_of_oil_is_one_of_gas(geometry):
    assert geometry.gas_volume_m3(262e-6) - geometry.gas_volume_m3(263e-6) == pytest.approx(1e-6)


@given(oil, travel, st.floats(253.15, 393.15), st.floats(0, 1e-3))
def test_gas_volume(volume, moved, temperature, alpha):
    """V_free - V_oil (1 + a dT) - A_rod x."""
    geometry = damper()
    gas = geometry.gas_volume_m3(volume, temperature, oil_alpha_per_k=alpha, travel_m=moved)
    expected = geometry.free_volume_m3 - volume * (1 + alpha * (temperature - 293.15))
    assert gas == pytest.approx(expected - geometry.rod_area_m2 * moved, rel=1e-9, abs=1e-15)


@given(oil, travel)
def test_lengths_add_up_to_the_tube(volume, moved):
    """Gas, floating piston, clearance, what the main piston takes, travel: the tube's length."""
    geometry = damper(gas_recess_m3=2e-6)
    gas = geometry.gas_volume_m3(volume, travel_m=moved)
    room = geometry.floating_piston_room_m(gas)
    clearance = geometry.floating_piston_clearance_m(gas, moved)
    total = room + geometry.floating_piston_thickness_m + clearance + geometry.piston_depth_m
    assert total + moved == pytest.approx(geometry.internal_length_m, rel=1e-12)
    depth = geometry.floating_piston_depth_m(gas)
    assert depth - geometry.guide_depth_m == pytest.approx(
        clearance + geometry.piston_depth_m + moved, rel=1e-9, abs=1e-12
    )


def test_a_recess_is_gas_that_the_piston_does_not_see():
    plain, hollow = damper(), damper(gas_recess_m3=5e-6)
    assert hollow.free_volume_m3 - plain.free_volume_m3 == pytest.approx(5e-6)
    volume = plain.gas_volume_m3(262e-6)
    assert hollow.floating_piston_room_m(volume + 5e-6) == pytest.approx(
        plain.floating_piston_room_m(volume)
    )


def test_push_force(geometry):
    """15 bar over ambient on 153.94 mm2 is 230.9 N."""
    assert geometry.push_force_n(16.01325e5, 1.01325e5) == pytest.approx(230.9, abs=0.05)
    assert geometry.push_force_n(1.01325e5, 1.01325e5) == 0.0


def test_too_much_oil_comes_out_negative(geometry):
    assert geometry.gas_volume_m3(geometry.free_volume_m3 + 1e-6) == pytest.approx(-1e-6)


@pytest.mark.parametrize(
    ("changes", "named"),
    [
        ({"bore_m": 46.0}, "bore"),
        ({"bore_m": math.nan}, "bore"),
        ({"rod_diameter_m": 0.05}, "rod diameter"),
        ({"internal_length_m": 265.0}, "internal length"),
        ({"stroke_m": 0.3}, "stroke"),
        ({"floating_piston_thickness_m": 0.2}, "floating piston thickness"),
        ({"hardware_volume_m3": 47.0}, "hardware volume"),
        ({"hardware_volume_m3": -1e-6}, "hardware volume"),
        ({"piston_depth_m": 0.2}, "piston depth"),
        ({"guide_depth_m": -0.001}, "guide depth"),
        ({"gas_recess_m3": 1e-3}, "gas recess"),
        ({"hardware_volume_m3": 390e-6}, "rod fully in"),
    ],
)
def test_a_body_that_cannot_be_is_refused_by_name(changes, named):
    with pytest.raises(RangeError, match=named):
        damper(**changes)


@given(st.floats(20e-6, 150e-6))
def test_depth_and_fill_undo_each_other(volume):
    body = damper(gas_recess_m3=5e-6)
    depth = body.floating_piston_depth_m(volume)
    assert body.gas_volume_at_depth_m3(depth) == pytest.approx(volume, rel=1e-12)
    assert body.gas_volume_m3(body.oil_volume_m3(volume)) == pytest.approx(volume, rel=1e-12)


def test_depth_by_hand(geometry):
    """46 mm bore: 16.619 cm2. 90 mL of gas is 54.155 mm; 24 + 265 - 54.155 - 18 = 216.845 mm."""
    assert geometry.floating_piston_depth_m(90e-6) == pytest.approx(216.845e-3, abs=1e-6)
    assert geometry.gas_volume_at_depth_m3(216.845e-3) == pytest.approx(90e-6, abs=2e-9)


def test_floating_piston_travel_by_hand(geometry):
    """(14/46)**2 of 150 mm: 13.894 mm."""
    assert geometry.floating_piston_travel_m(0.150) == pytest.approx(13.894e-3, abs=1e-6)
    unit_gas = 100e-6
    moved = geometry.floating_piston_room_m(unit_gas) - geometry.floating_piston_room_m(
        unit_gas - geometry.stroke_volume_m3
    )
    assert moved == pytest.approx(geometry.floating_piston_travel_m(geometry.stroke_m), rel=1e-9)
