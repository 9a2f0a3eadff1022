"""Net mass: what tare and gross share in their calibration cancels."""

import math

import pytest
from hypothesis import given
from hypothesis import strategies as st

from benchstation.metrology.calibration import LinearCalibration
from benchstation.metrology.errors import MetrologyError
from benchstation.metrology.net_mass import net_budget
from benchstation.metrology.uncertainty import normal


def calibration_part(calibration, gross, tare):
    return net_budget(gross, tare, calibration, step=0.0, repeatability=0.0).combined()


@given(st.floats(0, 5), st.floats(0, 5), st.floats(0.001, 1), st.floats(0, 0.1), st.floats(-1, 1))
def test_only_the_gain_is_left(gross, tare, u_offset, u_gain, r):
    """GUM F.1.2.3: var((gross - tare) gain) = (gross - tare)**2 u_gain**2, whatever the offset."""
    calibration = LinearCalibration(u_offset=u_offset, u_gain=u_gain, correlation=r)
    expected = abs(gross - tare) * u_gain
    assert calibration_part(calibration, gross, tare) == pytest.approx(expected, abs=1e-6)


def test_as_independent_it_would_be_too_much():
    calibration = LinearCalibration(u_offset=0.1)
    assert calibration_part(calibration, 2.0, 1.0) == 0.0
    assert math.hypot(calibration.u(2.0), calibration.u(1.0)) == pytest.approx(0.1 * math.sqrt(2))


def test_display_and_scatter_enter_twice():
    """Two readings, each d/sqrt(12) and s."""
    budget = net_budget(1.2, 0.8, LinearCalibration(), step=0.1, repeatability=0.05)
    assert budget.combined() == pytest.approx(math.sqrt(2 * (0.1**2 / 12 + 0.05**2)))
    assert budget.correlations == {}


def test_other_parts_join():
    other = normal("oil lot", 0.3)
    budget = net_budget(
        1.2, 0.8, LinearCalibration(u_gain=0.1), step=0.0, repeatability=0.0, others=(other,)
    )
    assert budget.combined() == pytest.approx(math.hypot(0.3, 0.04))


def test_degrees_of_freedom_of_the_scatter():
    budget = net_budget(
        1.2, 0.8, LinearCalibration(), step=0.0, repeatability=0.1, repeatability_dof=9
    )
    assert budget.effective_dof() == pytest.approx(18.0)


@pytest.mark.parametrize(
    ("gross", "tare", "step"), [(math.nan, 0.0, 0.1), (1.0, math.inf, 0.1), (1.0, 0.0, -0.1)]
)
def test_what_gives_no_net_mass_is_refused(gross, tare, step):
    with pytest.raises(MetrologyError):
        net_budget(gross, tare, LinearCalibration(), step=step, repeatability=0.0)
