"""A certificate evaluated: points up and down, figures, and what is no calibration."""

from datetime import date

import pytest

from benchstation.domain.calibrating import (
    Certificate,
    check_dates,
    line_of,
    result_in_force,
    result_of_figures,
    result_of_points,
)
from benchstation.domain.events import Compared, InstrumentRegistered
from benchstation.domain.refusals import NotAllowedError
from benchstation.metrology.errors import MetrologyError
from tests.reference_rows import assert_agrees, row

TODAY = date(2026, 3, 3)


def h3(quantity):
    return row("uncertainty.csv", example="GUM H.3", quantity=quantity)


def thermometer():
    """The thermometer of JCGM 100 H.3: readings less 20 degC, and their corrections."""
    text = h3("slope")["inputs"].split(";")
    t, b = ([float(v) for v in part.split()[1:]] for part in text[:2])
    return [(x - 20.0, y) for x, y in zip(t, b, strict=True)]


def test_the_corrections_of_gum_h3_as_a_calibration():
    """True value is reading plus correction, so gain is one plus the slope of H.3."""
    points = [Compared(x + b, x) for x, b in thermometer()]
    result = result_of_points(points, step=0.0, low=None, high=None)
    assert_agrees(h3("slope"), result.gain - 1.0)
    assert_agrees(h3("intercept"), result.offset)
    assert_agrees(h3("u_intercept"), result.u_offset)
    assert_agrees(h3("correlation"), result.correlation)
    assert_agrees(h3("correction_at_30C"), line_of(result).apply(10.0) - 10.0)


def test_u_is_the_largest_over_places_and_range_with_bend_and_hysteresis():
    points = [
        Compared(r, r + (0.02 if down else -0.02) * (1 - abs(r - 20) / 20), down, 0.002)
        for down, places in ((False, (0, 10, 20, 30, 40)), (True, (40, 30, 20, 10, 0)))
        for r in places
    ]
    inside = result_of_points(points, step=0.01, low=0.0, high=40.0)
    assert inside.hysteresis == pytest.approx(0.04)
    assert inside.own_u >= 0.02 / 3**0.5
    assert inside.u > line_of(inside).u(20.0)
    beyond = result_of_points(points, step=0.01, low=0.0, high=80.0)
    assert beyond.u > inside.u


def test_two_places_are_no_line():
    with pytest.raises(MetrologyError, match="three different places"):
        result_of_points([Compared(0, 0), Compared(1, 1)], step=0.0, low=None, high=None)


@pytest.mark.parametrize("gain", [0.0, -1.0, 0.5, 2.0, 1000.0, float("nan")])
def test_another_unit_is_no_correction(gain):
    with pytest.raises(NotAllowedError, match="another unit"):
        result_of_figures(gain, 0.0, 1e-5)


def test_points_in_two_units_are_noticed():
    points = [Compared(r, r * 1000) for r in (0.0, 0.1, 0.2)]
    with pytest.raises(NotAllowedError, match="another unit"):
        result_of_points(points, step=0.0, low=None, high=None)


@pytest.mark.parametrize("u", [0.0, -1e-5])
def test_figures_need_an_uncertainty(u):
    with pytest.raises(NotAllowedError, match="above zero"):
        result_of_figures(1.0, 0.0, u)


@pytest.mark.parametrize(
    ("on", "until", "said"),
    [
        (date(2026, 3, 4), date(2027, 3, 4), "still to come"),
        (date(2026, 3, 3), date(2026, 3, 3), "later day"),
        (date(2026, 3, 3), date(2025, 3, 3), "later day"),
    ],
)
def test_days_that_cannot_be(on, until, said):
    with pytest.raises(NotAllowedError, match=said):
        check_dates(on, until, TODAY)


def test_an_expired_one_is_over_from_the_day_after():
    result = result_of_figures(1.0, 0.0, 1e-5)
    made = Certificate(
        "C-1", "Lab", date(2025, 3, 2), TODAY, None, None, result, result, adjusted=False
    )
    assert not made.expired(TODAY)
    assert made.expired(date(2026, 3, 4))
    assert made.details("due").found == result


def test_what_an_earlier_registration_says_is_a_line_too():
    old = InstrumentRegistered("s", "scale", "S", "p", "", 1.001, 2e-5, 3e-5, "2025-03-02", "", "")
    line = line_of(result_in_force(old))
    assert line.apply(1.0) == pytest.approx(1.00102)
    assert line.u(0.5) == pytest.approx(3e-5)
