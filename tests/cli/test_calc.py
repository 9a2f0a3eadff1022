"""Sheets and options of ``calc``: figures in formulas, ranges, words."""

import argparse
import json
import math

import pytest

from benchstation.cli.calc import SHEETS, add_commands, compute, joined
from benchstation.cli.calc.given import Given, Option, in_words
from benchstation.cli.calc.sheet import Sheet
from benchstation.driver_api.errors import StationError
from benchstation.physics.errors import RangeError
from benchstation.quantities.units import Dimension, UnitError, UnitSystem

METRIC = UnitSystem.METRIC
OIL = Option("volume", "volume", Dimension.VOLUME, "262 mL", "1 mL", "2 L")
WARM = Option(
    "at", "temperature", Dimension.TEMPERATURE, "20 degC", "-20 degC", "50 degC", "20 degC"
)
RATIO = Option("ratio", "a ratio", None, "0.6", "0.05", "20")


def sheet_of_two():
    sheet = Sheet(METRIC)
    sheet.heading("Mass")
    sheet.put("V", "Volume", 262e-6, Dimension.VOLUME, decimals=2)
    sheet.put("rho", "Density", 848.0, Dimension.DENSITY, source="a table")
    sheet.put("m", "Mass", 0.222176, Dimension.MASS, decimals=2, working="V rho")
    return sheet


def test_the_figures_stand_in_the_formula():
    text = sheet_of_two().readable(explain=True)
    assert "Mass\nVolume   262.00 mL" in text
    assert "    m = V rho\n      = (262.00 mL) (0.8480 g/mL)" in text
    assert "    source: a table" in text


def test_without_explain_there_is_one_line_for_each_figure():
    assert sheet_of_two().readable(explain=False).splitlines() == [
        "Mass",
        "Volume   262.00 mL",
        "Density  0.8480 g/mL",
        "Mass     222.18 g",
    ]


def test_symbols_are_replaced_whole_and_only_as_symbols():
    sheet = Sheet(METRIC)
    sheet.put("p", "p", 2.0, None, decimals=0)
    sheet.put("p_amb", "ambient", 1.0, None, decimals=0)
    sheet.put("T", "T", 293.15, Dimension.TEMPERATURE)
    sheet.put("q", "q", 3.0, None, working="p(rho, T) + p p_amb / pp + rho(T)")
    assert sheet.lines[-1].figures == "p(rho, (20.0 °C)) + 2 1 / pp + rho(20.0 °C)"


def test_what_cannot_be_told_is_null():
    sheet = Sheet(METRIC)
    sheet.put("x", "x", math.nan, Dimension.PRESSURE)
    sheet.put("y", "y", math.inf, None)
    found = json.loads(sheet.as_json())
    assert found["x"]["value_si"] is None
    assert found["y"]["value_si"] is None
    assert "—" in found["y"]["text"]


def test_an_option_reads_any_unit_and_a_bare_number_in_its_own():
    for text in ("262 mL", "0.262 L", "262", "2.62e-4 m**3"):
        assert OIL.read(text) == pytest.approx(262e-6, rel=1e-12)
    assert RATIO.read("0,6") == 0.6


@pytest.mark.parametrize(
    ("option", "text", "words"),
    [
        (OIL, "3 L", "--volume: '3 L' is out of range. Allowed is 0.001 L to 2 L."),
        (OIL, "262 bar", "--volume: '262 bar' is not a volume"),
        (OIL, "much", "--volume: 'much' is not a number"),
        (WARM, "51 degC", "--at: '51 degC' is out of range. Allowed is −20 degC to 50 degC."),
        (RATIO, "half", "--ratio: 'half' is not a number. Allowed is 0.05 to 20."),
        (RATIO, "nan", "--ratio: 'nan' is out of range. Allowed is 0.05 to 20."),
        (RATIO, "30", "--ratio: '30' is out of range. Allowed is 0.05 to 20."),
    ],
)
def test_a_wrong_text_is_refused_with_field_text_and_what_is_allowed(option, text, words):
    with pytest.raises(UnitError) as refused:
        option.read(text)
    assert words in str(refused.value)
    assert "\n" not in str(refused.value)


def test_default_missing_and_given():
    given = Given({"at": None})
    assert given.need(WARM) == pytest.approx(293.15)
    assert not given.has(WARM)
    assert given.maybe(OIL) is None
    with pytest.raises(UnitError, match=r"--volume: is missing\. Give it like '262 mL'"):
        given.need(OIL)


def test_a_refusal_of_the_physics_is_worded_in_the_readers_units():
    error = RangeError("gas volume", -5e-6, 1e-9, 3e-4, "m3")
    assert str(in_words(error, METRIC)) == (
        "the gas volume comes out as −5.0 mL. Allowed is 0.0 mL to 300.0 mL."
    )
    open_end = RangeError("travel", -0.01, 0.0, math.inf, "m")
    assert "Allowed is above 0.000 in." in str(in_words(open_end, UnitSystem.INCH_POUND))
    ratio = RangeError("volume ratio", 30.0, 0.05, 20.0, "1")
    assert "comes out as 30." in str(in_words(ratio, METRIC))
    apart = RangeError("distance of the two temperatures", 1.0, 5.0, 200.0, "K")
    assert "1.0 K. Allowed is 5.0 K" in str(in_words(apart, METRIC))


def test_a_value_with_a_minus_is_a_value():
    assert joined(["calc", "--to", "-20degC", "--json"]) == ["calc", "--to=-20degC", "--json"]
    assert joined(["--altitude", "-5 m"]) == ["--altitude=-5 m"]
    assert joined(["--json", "--explain", "-h"]) == ["--json", "--explain", "-h"]


def test_every_sheet_can_be_asked_for():
    parser = argparse.ArgumentParser()
    add_commands(parser)
    for name in SHEETS:
        options = parser.parse_args([name, "--inch-pound", "--json"])
        assert options.sheet == name
        assert options.inch_pound
        with pytest.raises(StationError):
            compute(name, {}, METRIC)
