"""What is typed of a certificate: points in any layout, figures, units, and refusals by field."""

from datetime import date

import pytest

from benchstation.bench.certificate_form import certificate_from, is_given
from benchstation.domain.instrument_roles import InstrumentRole
from benchstation.driver_api.errors import StationError
from benchstation.quantities.units import UnitSystem

TODAY = date(2026, 3, 3)
USUAL = {
    "certificate": "C-26-118",
    "laboratory": "Kalibrierlabor Süd",
    "on": "2026-02-20",
    "until": "2027-02-20",
}
POINTS = "0 0.00\n100 100,01\n200 200.03\n100 100.02\n0 0.01"


def read(role=InstrumentRole.SCALE, units=UnitSystem.METRIC, **fields):
    return certificate_from({**USUAL, **fields}, role, units, TODAY, step=1e-5)


def test_points_are_in_the_unit_that_is_shown_and_their_way_follows():
    made = read(points=POINTS)
    assert [p.reference for p in made.left.points] == pytest.approx([0, 0.1, 0.2, 0.1, 0])
    assert [p.reading for p in made.left.points] == pytest.approx(
        [0, 0.10001, 0.20003, 0.10002, 0.00001]
    )
    assert [p.down for p in made.left.points] == [False, False, False, True, True]
    assert made.left.hysteresis == pytest.approx(1e-5)
    assert (made.low, made.high) == pytest.approx((0.0, 0.2))
    assert made.found is made.left
    assert not made.adjusted


@pytest.mark.parametrize(
    "line", ["50 50.002 up 0.001", "50;50,002;UP;0,001", "50\t50.002\t0.001", "50 | 50.002 | 0.001"]
)
def test_a_point_is_read_in_any_layout(line):
    made = read(points=f"0 0\n{line}\n100 100")
    point = made.left.points[1]
    assert (point.reference, point.reading) == pytest.approx((0.05, 0.050002))
    assert point.u_reference == pytest.approx(1e-6)
    assert not point.down


def test_one_decimal_comma_says_what_the_others_are():
    made = read(points="0 0,00\n50 50,002\n100 100,003")
    assert made.left.points[1].reading == pytest.approx(0.050002)
    with pytest.raises(StationError, match="may mean two numbers"):
        read(points="0 0\n50 50,002\n100 100,003")


def test_the_unit_of_the_points_may_be_another():
    points = "0 0.1\n300 300.2\n600 600.1"
    made = read(InstrumentRole.GAUGE, points=points, points_unit="psi", low="0", high="600")
    assert made.left.points[2].reference == pytest.approx(600 * 6894.757293)
    assert made.high == pytest.approx(600 * 6894.757293)


def test_a_barometer_is_typed_as_the_weather_is():
    made = read(
        InstrumentRole.BAROMETER, points="980 980.4\n1000 1000.5\n1020 1020.4", u_reference="0.1"
    )
    assert made.left.points[1].reading == pytest.approx(100050.0)
    assert made.left.points[1].u_reference == pytest.approx(10.0)


def test_degrees_are_values_in_points_and_differences_in_u():
    points = "0 0.2\n20 20.1\n40 40.1"
    made = read(InstrumentRole.THERMOMETER, points=points, u_reference="0.05")
    assert made.left.points[0].reference == pytest.approx(273.15)
    assert made.left.points[0].u_reference == pytest.approx(0.05)
    figures = read(InstrumentRole.THERMOMETER, gain="1", offset="-0.2 K", u="0.1")
    assert figures.left.offset == pytest.approx(-0.2)
    # True is 1.01 times the degrees and 0.1 K more: 25.35 at 25 degrees.
    steep = read(InstrumentRole.THERMOMETER, gain="1.01", offset="0.1", u="0.1").left
    assert steep.gain * 298.15 + steep.offset == pytest.approx(298.50)
    fahrenheit = {"units": UnitSystem.INCH_POUND, "gain": "1.01", "offset": "0 °F", "u": "0.1 °F"}
    warm = read(InstrumentRole.THERMOMETER, **fahrenheit).left
    assert (warm.gain * 298.15 + warm.offset) * 1.8 - 459.67 == pytest.approx(1.01 * 77.0)
    assert figures.left.u == pytest.approx(0.1)


def test_gain_offset_and_u_with_units():
    made = read(gain="1,0002", offset="-0.01 g", u="0.02 g", low="0 g", high="6 kg")
    assert (made.left.gain, made.left.offset, made.left.u) == pytest.approx((1.0002, -1e-5, 2e-5))
    assert (made.low, made.high) == (0.0, 6.0)


def test_u_alone_is_a_certificate_without_a_correction():
    made = read(InstrumentRole.GAUGE, u="30 mbar")
    assert (made.left.gain, made.left.offset) == (1.0, 0.0)
    assert made.left.u == pytest.approx(3000.0)


def test_as_found_before_an_adjustment():
    made = read(points=POINTS, adjusted="yes", found_points="0 0\n100 100.5\n200 201")
    assert made.found.gain == pytest.approx(1 / 1.005)
    known = read(u="0.02 g", adjusted="yes", found_gain="0.998")
    assert known.found.gain == 0.998
    assert known.found.u == known.left.u
    unknown = read(u="0.02 g", adjusted="yes")
    assert unknown.found is None


@pytest.mark.parametrize(
    ("given", "field"),
    [
        ({"certificate": "", "u": "1 g"}, "certificate"),
        ({"certificate": "x" * 201, "u": "1 g"}, "certificate"),
        ({"laboratory": " ", "u": "1 g"}, "laboratory"),
        ({"on": "", "u": "1 g"}, "on"),
        ({"on": "20.02.2026", "u": "1 g"}, "on"),
        ({"on": "2026-03-04", "u": "1 g"}, "on"),
        ({"until": "2026-02-20", "u": "1 g"}, "until"),
        ({}, "points"),
        ({"u": "1 bar"}, "u"),
        ({"u": "0 g"}, "u"),
        ({"u": "-1 g"}, "u"),
        ({"gain": "0", "u": "1 g"}, "gain"),
        ({"gain": "1 g", "u": "1 g"}, "gain"),
        ({"gain": "1e400", "u": "1 g"}, "gain"),
        ({"gain": "1"}, "u"),
        ({"points": "0 0\n1 1"}, "points"),
        ({"points": "0 0\n100\n200 200"}, "points"),
        ({"points": "0 0\nhundred 100\n200 200"}, "points"),
        ({"points": "0 0\n100 1\x0000\n200 200"}, "points"),
        ({"points": "0 0\n" * 201}, "points"),
        ({"points": POINTS, "gain": "1.001"}, "gain"),
        ({"points": POINTS, "u": "1 g"}, "u"),
        ({"points": POINTS, "points_unit": "bar"}, "points_unit"),
        ({"points": POINTS, "low": "200", "high": "100"}, "high"),
        ({"points": POINTS, "found_gain": "1.001"}, "adjusted"),
        ({"points": POINTS, "u_reference": "-1"}, "u_reference"),
    ],
)
def test_what_cannot_be_is_refused_by_its_field(given, field):
    with pytest.raises(StationError) as refused:
        read(**given)
    assert refused.value.field == field


def test_an_empty_form_gives_no_certificate():
    assert not is_given({"title": "Scale", "points_unit": "g"})
    assert is_given({"u": "0.02 g"})
