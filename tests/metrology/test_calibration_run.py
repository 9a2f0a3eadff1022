"""A calibration up and down: line, bend, hysteresis, repeatability, and what a use inherits."""

import math
from datetime import date

import pytest
from hypothesis import given
from hypothesis import strategies as st

from benchstation.metrology.calibration_run import Direction, Point, evaluate
from benchstation.metrology.errors import MetrologyError
from benchstation.metrology.line_fit import fit_line
from benchstation.metrology.net_mass import net_budget
from tests.reference_rows import assert_agrees, row

UP, DOWN = Direction.UP, Direction.DOWN
PLACES = (0.0, 10.0, 20.0, 30.0, 40.0)


def gauge(hysteresis=0.0, bend=0.0, runs=1, shifts=(0.0,)):
    """A gauge that reads 1 % high, with a parabola's bend and half the hysteresis either way."""
    points = []
    for run in range(runs):
        for way, sign in ((UP, -0.5), (DOWN, 0.5)):
            for true in PLACES:
                off = sign * hysteresis * math.sin(math.pi * true / 40.0)
                off += bend * (1.0 - ((true - 20.0) / 20.0) ** 2) + shifts[run]
                points.append(Point(true, 1.01 * true + off, way, u_reference=0.002))
    return points


def test_gum_h3_through_a_run():
    """The thermometer of GUM H.3 as a run of single points: its line is the same."""
    h3 = row("uncertainty.csv", example="GUM H.3", quantity="slope")
    t, b = (
        [float(v) for v in part.split()[1:]] for part in h3["inputs"].split(";")[:2] if part.strip()
    )
    run = evaluate([Point(y, x - 20.0) for x, y in zip(t, b, strict=True)])
    assert_agrees(h3, run.line.slope)
    assert run.hysteresis is None


def test_a_straight_gauge():
    run = evaluate(gauge())
    assert run.line.slope == pytest.approx(1 / 1.01)
    assert run.nonlinearity == pytest.approx(0.0, abs=1e-12)
    assert run.hysteresis == pytest.approx(0.0, abs=1e-12)
    assert run.repeatability is None
    assert [p.place for p in run.places] == list(PLACES)
    assert [p.error for p in run.places] == pytest.approx([0.01 * p for p in PLACES])


def test_hysteresis_is_the_widest_gap_between_down_and_up():
    run = evaluate(gauge(hysteresis=0.08))
    assert run.hysteresis == pytest.approx(0.08)
    assert [p.hysteresis for p in run.places][2] == pytest.approx(0.08)
    assert run.places[0].hysteresis == pytest.approx(0.0, abs=1e-12)


def test_hysteresis_with_references_that_do_not_come_back_exactly():
    points = [
        Point(p + 0.01 * n, p + 0.01 * n + (0.05 if way is DOWN else 0.0), way, nominal=p)
        for n, p in enumerate(PLACES)
        for way in (UP, DOWN)
    ]
    assert evaluate(points).hysteresis == pytest.approx(0.05)


def test_bend_is_the_largest_mean_residual():
    run = evaluate(gauge(bend=0.03))
    # A least squares line leaves the ends of a parabola through 0, 0.75, 1, 0.75, 0 half below.
    assert run.nonlinearity == pytest.approx(0.5 * 0.03 / 1.01, rel=2e-3)
    assert evaluate(gauge(hysteresis=0.03)).nonlinearity < 0.02


def test_repeatability_over_runs():
    """Two runs 0.02 apart: s = 0.02/sqrt(2) in each of ten pairs."""
    run = evaluate(gauge(runs=2, shifts=(0.0, 0.02)))
    assert run.repeatability.std == pytest.approx(0.02 / math.sqrt(2))
    assert run.repeatability.dof == 10


def test_budget_at_a_reading():
    run = evaluate(gauge(hysteresis=0.06, bend=0.03), step=0.01)
    parts = {c.name: c.u for c in run.budget(20.0).contributions}
    assert parts["line"] == run.line.u(20.0)
    assert parts["references"] == 0.002
    assert parts["display at calibration"] == pytest.approx(0.01 / math.sqrt(12))
    assert parts["hysteresis"] == pytest.approx(0.03 / math.sqrt(3))
    assert parts["nonlinearity"] == pytest.approx(run.nonlinearity / math.sqrt(3))


@given(st.floats(0, 40), st.floats(0, 0.1), st.floats(0, 0.1), st.floats(0, 0.05))
def test_the_calibration_in_use_carries_what_is_shared(reading, hysteresis, bend, step):
    run = evaluate(gauge(hysteresis, bend), step=step)
    calibration = run.calibration(date(2030, 1, 1))
    shared = math.sqrt(sum(c.u_result**2 for c in run.shared_parts(reading)))
    assert calibration.u(reading) == pytest.approx(shared, abs=1e-9)
    assert calibration.apply(reading) == run.line.value(reading)


def test_bend_does_not_cancel_in_net_mass():
    run = evaluate(gauge(bend=0.03))
    calibration = run.calibration(None)
    plain = net_budget(30.0, 29.9, calibration, step=0.0, repeatability=0.0)
    full = net_budget(30.0, 29.9, calibration, step=0.0, repeatability=0.0, others=run.own_parts())
    assert full.combined() > 10 * plain.combined()


def test_one_point_twice_counts_twice():
    points = [*gauge()[:5], gauge()[0]]
    assert evaluate(points).places[0].count == 2
    twice = fit_line([p.reading for p in points], [p.reference for p in points])
    assert evaluate(points).line == twice


@pytest.mark.parametrize(
    ("points", "step"),
    [
        ([Point(0.0, 0.0), Point(1.0, 1.0), Point(1.0, 1.1)], 0.0),
        ([], 0.0),
        (gauge(), -0.1),
        (gauge(), math.nan),
        ([*gauge(), Point(5.0, 5.0, u_reference=-0.1)], 0.0),
        ([*gauge(), Point(5.0, math.nan)], 0.0),
    ],
)
def test_what_is_no_calibration_is_refused(points, step):
    with pytest.raises(MetrologyError):
        evaluate(points, step=step)
