"""One ordinary damper for the tests of its physics."""

import pytest

from benchstation.physics.damper import DamperGeometry


def damper(**changes):
    """46 mm bore, 14 mm rod, 265 mm inside, 150 mm of travel, 18 mm floating piston."""
    given = {
        "bore_m": 0.046,
        "rod_diameter_m": 0.014,
        "internal_length_m": 0.265,
        "stroke_m": 0.150,
        "floating_piston_thickness_m": 0.018,
        "hardware_volume_m3": 47e-6,
        "piston_depth_m": 0.032,
        "guide_depth_m": 0.024,
    }
    return DamperGeometry(**(given | changes))


@pytest.fixture
def geometry():
    return damper()
