"""Budgets against the propagation of distributions (JCGM 101:2008): drawn, not derived.

Each contribution is drawn from its own shape and summed; the budget must agree in its standard
uncertainty always, and in its coverage interval where the result is near normal.
"""

import math

import numpy as np
import pytest

from benchstation.metrology.calibration import LinearCalibration
from benchstation.metrology.conformity import conformity_probability
from benchstation.metrology.distributions import normal_quantile
from benchstation.metrology.net_mass import net_budget
from benchstation.metrology.risk import global_risk, normal_process
from benchstation.metrology.uncertainty import (
    Budget,
    Distribution,
    arcsine,
    normal,
    rectangular,
    resolution,
    trapezoid,
    triangular,
)
from tests.reference_rows import assert_agrees, row, rows

FILE = "uncertainty.csv"
DRAWS = 1_000_000


@pytest.fixture
def random():
    return np.random.default_rng(2718)


def draw(random, part, beta=0.5):
    """JCGM 101 6.4: values of one contribution around zero."""
    a = part.half_width
    match part.distribution:
        case Distribution.NORMAL:
            return random.normal(0.0, part.u, DRAWS)
        case Distribution.RECTANGULAR:
            return random.uniform(-a, a, DRAWS)
        case Distribution.TRIANGULAR:
            return random.triangular(-a, 0.0, a, DRAWS)
        case Distribution.TRAPEZOID:
            wide, narrow = 0.5 * a * (1 + beta), 0.5 * a * (1 - beta)
            return random.uniform(-wide, wide, DRAWS) + random.uniform(-narrow, narrow, DRAWS)
        case Distribution.ARCSINE:
            return a * np.sin(random.uniform(-np.pi, np.pi, DRAWS))


def draws(random, budget):
    return sum(part.sensitivity * draw(random, part) for part in budget.contributions)


def half_width_95(values):
    low, high = np.quantile(values, [0.025, 0.975])
    return 0.5 * (high - low)


@pytest.mark.parametrize(
    "part",
    [
        normal("x", 2.0, 2.0),
        rectangular("x", 1.0),
        triangular("x", 1.0),
        trapezoid("x", 1.0, 0.5),
        arcsine("x", 1.0),
        resolution("x", 0.1),
    ],
    ids=lambda part: part.distribution.value,
)
def test_each_shape_has_the_spread_it_says(random, part):
    assert part.u == pytest.approx(draw(random, part).std(), rel=0.004)


def test_a_mixed_budget(random):
    budget = Budget(
        (
            normal("calibration", 0.4, 2.0),
            rectangular("display", 0.15, sensitivity=-2.0),
            triangular("drift", 0.5),
            arcsine("swing", 0.2, sensitivity=0.5),
            trapezoid("density", 0.3, 0.5),
        )
    )
    values = draws(random, budget)
    assert budget.combined() == pytest.approx(values.std(), rel=0.004)
    # 8.1 of JCGM 101: the two intervals may differ by the last digit that counts.
    assert budget.expanded(0.95).value == pytest.approx(half_width_95(values), rel=0.03)


def test_four_rectangles(random):
    """JCGM 101 9.2.3: u = 2 as for normals, but 3.88 instead of 3.92 for 95 %."""
    budget = Budget(tuple(rectangular(f"x{n}", math.sqrt(3.0)) for n in range(4)))
    values = draws(random, budget)
    drawn = row(FILE, example="JCGM 101 9.2.3", quantity="coverage95_half_width")
    assert_agrees(drawn, half_width_95(values))
    assert budget.expanded(0.95).value == pytest.approx(3.92, abs=0.005)
    assert_agrees(row(FILE, example="JCGM 101 9.2.3", quantity="u_of_sum"), budget.combined())


@pytest.mark.parametrize("reference", rows(FILE, quantity="coverage95_k_rect_plus_normal"), ids=str)
def test_a_budget_never_promises_less_than_a_rectangle_with_a_normal(random, reference):
    """The budget's k of 1.96 is on the safe side of the exact one; drawing finds the exact one."""
    ratio = float(reference["inputs"].split("=")[1])
    budget = Budget((rectangular("r", ratio * math.sqrt(3.0)), normal("n", 1.0)))
    drawn = half_width_95(draws(random, budget)) / budget.combined()
    assert drawn == pytest.approx(reference.number(), abs=0.006)
    assert budget.expanded(0.95).k >= reference.number()


def test_where_the_first_order_is_not_enough(random):
    """NPL DEM-ES-011 9.2, y = ln(x): the budget says 0.481, drawing 0.606."""
    example = "y=ln(x)"
    budget = Budget((rectangular("x", 0.5, sensitivity=1.0 / 0.6),))
    assert_agrees(row(FILE, example=example, quantity="gum_u"), budget.combined())
    assert_agrees(row(FILE, example=example, quantity="gum_estimate"), math.log(0.6))
    x = random.uniform(0.1, 1.1, DRAWS)
    published = row(FILE, example=example, quantity="mc_u").number()
    assert np.log(x).std() == pytest.approx(published, abs=0.002)
    # JCGM 101 5.3.4: the shortest interval that holds 95 %; the budget's misses it by far.
    y = np.sort(np.log(x))
    held = int(0.95 * DRAWS)
    start = int(np.argmin(y[held:] - y[:-held]))
    assert y[start] == pytest.approx(row(FILE, quantity="mc_shortest_low").number(), abs=0.01)
    assert y[start + held] == pytest.approx(
        row(FILE, quantity="mc_shortest_high").number(), abs=0.001
    )
    assert math.log(0.6) - budget.expanded(0.95).value > y[start] + 0.4


def test_net_mass_with_its_correlated_calibration(random):
    """One drawn line serves tare and gross; the budget's correlation does the same."""
    calibration = LinearCalibration(1.001, 0.002, u_offset=0.003, u_gain=0.002, correlation=-0.6)
    gross, tare, step, scatter = 1.9, 0.6, 0.001, 0.0008
    budget = net_budget(gross, tare, calibration, step=step, repeatability=scatter)
    u0, u1 = calibration.u_offset, calibration.u_gain
    covariance = [[u0 * u0, -0.6 * u0 * u1], [-0.6 * u0 * u1, u1 * u1]]
    offset, gain = random.multivariate_normal([0.002, 1.001], covariance, DRAWS).T

    def shown(mass):
        return mass + random.normal(0, scatter, DRAWS) + random.uniform(-step / 2, step / 2, DRAWS)

    net = (gain * shown(gross) + offset) - (gain * shown(tare) + offset)
    assert net.mean() == pytest.approx(calibration.apply(gross) - calibration.apply(tare), abs=1e-5)
    assert budget.combined() == pytest.approx(net.std(), rel=0.004)
    assert budget.expanded(0.95).value == pytest.approx(half_width_95(net), rel=0.01)


def test_probability_of_conformity(random):
    values = random.normal(10.12, 0.05, DRAWS)
    drawn = np.mean((values >= 9.8) & (values <= 10.2))
    assert conformity_probability(10.12, 0.05, 9.8, 10.2) == pytest.approx(drawn, abs=0.001)


def test_global_risk(random):
    """What is made and what is measured, both drawn and counted."""
    made = random.normal(0.1, 0.6, DRAWS)
    shown = made + random.normal(0.0, 0.2, DRAWS)
    guard = normal_quantile(0.8) * 0.2
    inside, accepted = np.abs(made) <= 1.0, np.abs(shown) <= 1.0 - guard
    risk = global_risk(normal_process(0.1, 0.6), 0.2, -1.0, 1.0, guard)
    assert risk.consumer == pytest.approx(np.mean(~inside & accepted), abs=0.0005)
    assert risk.producer == pytest.approx(np.mean(inside & ~accepted), abs=0.002)
