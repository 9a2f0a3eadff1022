"""Units against NIST SP 811 (units.csv names the source of each row), and what must be refused."""

import csv
import math
import re
import subprocess
import sys
from pathlib import Path

import pytest
from hypothesis import given, settings
from hypothesis import strategies as st

from benchstation.quantities.notation import NO_VALUE
from benchstation.quantities.units import (
    Dimension,
    UnitError,
    UnitSystem,
    barometer_unit,
    decimals_that_tell,
    display_unit,
    from_display,
    little,
    next_system,
    parse,
    shown,
    shown_amount,
    shown_barometer,
    to_display,
)

METRIC, INCH_POUND = UnitSystem.METRIC, UnitSystem.INCH_POUND
REFERENCE = Path(__file__).parents[1] / "reference" / "units.csv"
ROWS = {row["id"]: row for row in csv.DictReader(REFERENCE.read_text("utf-8").splitlines())}
CONVERSIONS = [row for row in ROWS.values() if row["quantity"] == "conversion"]
TEMPERATURES = [row for row in ROWS.values() if row["quantity"] == "temperature"]
GAUGE = [row for row in ROWS.values() if row["quantity"] == "gauge_psi_to_bar_gauge"]


def ratio(from_unit: str, to_unit: str) -> float:
    """Convert one ``from_unit`` to ``to_unit`` with the first dimension that takes both."""
    for dimension in Dimension:
        try:
            return parse(f"1 {from_unit}", dimension) / parse(f"1 {to_unit}", dimension)
        except UnitError:
            continue
    raise AssertionError(f"no dimension takes {from_unit} and {to_unit}")


def relative_tolerance(row: dict[str, str]) -> float:
    # "exact" rows are printed to ten significant digits.
    return float(row["tolerance"].removeprefix("rel:")) if "rel:" in row["tolerance"] else 1e-9


@pytest.mark.parametrize("row", CONVERSIONS, ids=lambda row: row["id"])
def test_conversion_agrees_with_the_published_factor(row):
    stiffness = {"lbf/inch", "N/mm"}
    if row["from_unit"] in stiffness:
        # Stiffness is no dimension of a field: force over length is the same relation.
        top, bottom = row["from_unit"].split("/")
        to_top, to_bottom = row["to_unit"].split("/")
        value = ratio(top, to_top) / ratio(bottom, to_bottom)
    else:
        value = ratio(row["from_unit"], row["to_unit"])
    assert value == pytest.approx(float(row["value"]), rel=relative_tolerance(row))


@pytest.mark.parametrize("row", TEMPERATURES, ids=lambda row: row["id"])
def test_temperature_agrees_with_sp_811_b9(row):
    kelvin = parse(row["from_unit"], Dimension.TEMPERATURE)
    expected = float(row["value"]) + (0.0 if row["unit"] == "K" else 273.15)
    # The table prints ten digits: half of the last one comes on top of its 1e-9.
    decimals = len(row["value"].partition(".")[2])
    assert kelvin == pytest.approx(
        expected, abs=max(1e-9, 0.5 * 10.0**-decimals if decimals else 0)
    )


@pytest.mark.parametrize("row", GAUGE, ids=lambda row: row["id"])
def test_gauge_pressure_converts_without_an_offset(row):
    pressure = parse(row["from_unit"].replace("psig", "psi"), Dimension.PRESSURE)
    bar = to_display(pressure, Dimension.PRESSURE, METRIC)
    assert bar == pytest.approx(float(row["value"]), rel=1e-9)


def test_fluid_ounces_are_us_ones_unless_said_otherwise():
    imperial = float(ROWS["units-060"]["value"]) * 1e-6
    assert parse("1 imp fl oz", Dimension.VOLUME) == pytest.approx(imperial, rel=1e-9)
    us = float(ROWS["units-009"]["value"]) * 1e-6
    for text in ("1 fl oz", "1 FL OZ", "1 fl. oz.", "1floz", "1 us fl oz"):
        assert parse(text, Dimension.VOLUME) == pytest.approx(us, rel=1e-9)


@pytest.mark.parametrize(
    "text",
    [
        "8.1 Nm",
        "8.1Nm",
        "8,1 N m",
        "8.1 N*m",
        "8.1 N·m",
        "8.1 N•m",
        "8.1 N.m",
        "8.1 N-m",
        "810 Ncm",
    ],
)
def test_a_torque_is_taken_as_people_write_it(text):
    assert parse(text, Dimension.TORQUE) == pytest.approx(8.1, rel=1e-12)


@pytest.mark.parametrize(
    "text",
    [
        *("72 lbf in", "72 in-lb", "72 in·lbf", "72 in.lbf", "72 inlbs", "72 inch pounds"),
        *("6 ft lb", "6 ft·lbf", "6 lb-ft", "6 ft·lb", "6 ft-lbs", "6 FT-LBS"),
    ],
)
def test_a_torque_in_pounds_is_one_of_force(text):
    """1 lbf in is 0.1129848 N m: NIST SP 811, appendix B.8."""
    assert parse(text, Dimension.TORQUE) == pytest.approx(72 * 0.1129848, rel=1e-6)


@pytest.mark.parametrize(
    ("text", "dimension", "value"),
    [
        ("0.25 L", Dimension.VOLUME, 0.25e-3),
        ("0,32 l", Dimension.VOLUME, 0.32e-3),
        ("−40 °F", Dimension.TEMPERATURE, 233.15),
        ("20 ℃", Dimension.TEMPERATURE, 293.15),
        ("20 °C", Dimension.TEMPERATURE, 293.15),
        ("20 degC", Dimension.TEMPERATURE, 293.15),
        ("20ºC", Dimension.TEMPERATURE, 293.15),
        ("68F", Dimension.TEMPERATURE, 293.15),
        ("9 °F", Dimension.TEMPERATURE_DIFFERENCE, 5.0),
        ("5 degC", Dimension.TEMPERATURE_DIFFERENCE, 5.0),
        ('2"', Dimension.LENGTH, 0.0508),
        ("150 PSI", Dimension.PRESSURE, 1034213.5939752546),
        ("1 kgf/cm2", Dimension.PRESSURE, 98066.5),
        ("1e-4 Pa·m³/s", Dimension.LEAK, 1e-4),
        ("1 mbar L/s", Dimension.LEAK, 0.1),
        ("7.5e-4 /K", Dimension.EXPANSION, 7.5e-4),
        ("1.8e-3 1/°F", Dimension.EXPANSION, 3.24e-3),
        ("0.86 g/mL", Dimension.DENSITY, 860.0),
        ("2 g/s", Dimension.FLOW, 0.002),
        ("12 in²", Dimension.AREA, 12 * 0.0254**2),
        ("1234,567 g", Dimension.MASS, 1.234567),
        ("250 ML", Dimension.VOLUME, 0.25e-3),
        ("250 ccm", Dimension.VOLUME, 0.25e-3),
        ("1013 hPa", Dimension.PRESSURE, 101300.0),
        ("1.2 × 10⁻⁶ Pa m³/s", Dimension.LEAK, 1.2e-6),
        ("1,2x10^-6 mbar l/s", Dimension.LEAK, 1.2e-7),
        ("3 × 10⁶ Pa", Dimension.PRESSURE, 3e6),
    ],
)
def test_spellings_that_people_type(text, dimension, value):
    assert parse(text, dimension) == pytest.approx(value, rel=1e-12)


@pytest.mark.parametrize(
    ("text", "dimension", "words"),
    [
        ("10 oz", Dimension.VOLUME, "not a volume.*fl oz"),
        ("12", Dimension.MASS, "no unit.*g, kg"),
        ("", Dimension.MASS, "Nothing is entered.*g, kg"),
        ("  ", Dimension.MASS, "Nothing is entered"),
        ("nan g", Dimension.MASS, "not a number"),
        ("inf bar", Dimension.PRESSURE, "not a number"),
        ("1e999 g", Dimension.MASS, "too large"),
        ("1,000 g", Dimension.MASS, "thousands"),
        ("1,000.5 g", Dimension.MASS, "thousands"),
        ("1 000 g", Dimension.MASS, "not a mass"),
        ("1,000 × 10⁻³ g", Dimension.MASS, "thousands"),
        ("5³ g", Dimension.MASS, "not a mass"),
        ("8.1 in in", Dimension.TORQUE, "not a torque"),
        ("1 1/2 in", Dimension.LENGTH, "not a length"),
        ("-300 °C", Dimension.TEMPERATURE, "absolute zero"),
        ("5 delta_degC", Dimension.TEMPERATURE, "not a temperature"),
        ("1 m**9**9**9", Dimension.LENGTH, "not a length"),
        ("1 " + "m*" * 60 + "m", Dimension.LENGTH, "not a number"),
        ("1 __import__('os')", Dimension.LENGTH, "not a length"),
    ],
)
def test_anything_else_is_refused_in_words(text, dimension, words):
    with pytest.raises(UnitError, match=words):
        parse(text, dimension)


@pytest.mark.parametrize(
    "text", ["150 psig", "150 psia", "10 barg", "10 bar abs", "10 bar(g)", "5 kPa a", "1 bar gauge"]
)
def test_gauge_or_absolute_belongs_to_the_field(text):
    with pytest.raises(UnitError, match="belongs to the field"):
        parse(text, Dimension.PRESSURE)


def test_a_default_unit_serves_bare_numbers_only():
    with pytest.raises(UnitError, match=r"N m, lbf in.* A number alone is in N m\."):
        parse("eight", Dimension.TORQUE, default_unit="N m")
    with pytest.raises(UnitError) as refused:
        parse("eight", Dimension.TORQUE)
    assert "alone" not in refused.value.advice
    assert parse("46", Dimension.LENGTH, default_unit="mm") == 0.046
    assert parse("46 in", Dimension.LENGTH, default_unit="mm") == pytest.approx(46 * 0.0254)


@pytest.mark.parametrize("system", UnitSystem)
@pytest.mark.parametrize("dimension", Dimension)
def test_every_shown_text_can_be_typed_back(dimension, system):
    value = 301.5
    text = str(shown(value, dimension, system, decimals=9))
    assert parse(text, dimension) == pytest.approx(value, abs=2e-6)


@pytest.mark.parametrize("system", UnitSystem)
@pytest.mark.parametrize("value", [1.23e-7, 4.5e4])
def test_a_shown_power_of_ten_can_be_typed_back(value, system):
    text = str(shown(value, Dimension.LEAK, system))
    assert "× 10" in text
    assert parse(text, Dimension.LEAK) == pytest.approx(value, rel=5e-3)


@given(st.floats(-1e9, 1e9), st.sampled_from(Dimension), st.sampled_from(UnitSystem))
def test_display_and_back_is_the_identity(value, dimension, system):
    back = from_display(to_display(value, dimension, system), dimension, system)
    assert back == pytest.approx(value, rel=1e-12, abs=1e-9)


@settings(max_examples=400)
@given(st.text(max_size=80) | st.from_regex(r"[0-9]{1,3} ?.{0,12}"), st.sampled_from(Dimension))
def test_any_text_gives_a_finite_number_or_a_worded_refusal(text, dimension):
    try:
        value = parse(text, dimension)
    except UnitError as error:
        assert error.advice  # noqa: PT017
    else:
        assert math.isfinite(value)
        assert re.search(r"\d", text)


def test_values_are_shown_rounded_and_kept_whole():
    charge = shown(1_034_213.594, Dimension.PRESSURE, INCH_POUND)
    assert (charge.number, charge.unit) == ("150.0", "psi")
    assert charge.value == pytest.approx(150.0, abs=1e-6)
    assert str(shown(0.2613, Dimension.MASS, METRIC)) == "261.3 g"
    assert str(shown(294.15, Dimension.TEMPERATURE, METRIC)) == "21.0 °C"
    assert shown(0.001234, Dimension.LEAK, METRIC).number == "1.23 × 10⁻³"
    assert shown(-1e-9, Dimension.MASS, METRIC).number == "0.0"


@pytest.mark.parametrize(
    ("mass_kg", "system", "words"),
    [
        # 1 lb = 0.453 592 37 kg exactly, 1 lb = 16 oz (NIST SP 811 appendix B.8).
        (49.176, METRIC, "49.18 kg"),
        (1.0, METRIC, "1.00 kg"),
        (0.2613, METRIC, "261.3 g"),
        (0.0, METRIC, "0.0 g"),
        (-2.5, METRIC, "−2.50 kg"),
        (49.176, INCH_POUND, "108.41 lb"),
        (0.5, INCH_POUND, "1.10 lb"),
        (0.45359237 / 2, INCH_POUND, "8.000 oz"),
        (math.nan, METRIC, f"{NO_VALUE} g"),
        (math.inf, INCH_POUND, f"{NO_VALUE} oz"),
    ],
)
def test_a_large_amount_is_shown_in_the_larger_unit(mass_kg, system, words):
    assert str(shown_amount(mass_kg, system)) == words


@given(st.floats(-1e4, 1e4), st.sampled_from(UnitSystem))
def test_an_amount_can_be_typed_back(mass_kg, system):
    typed = parse(str(shown_amount(mass_kg, system)), Dimension.MASS)
    assert typed == pytest.approx(mass_kg, abs=0.006)


@pytest.mark.parametrize("value", [math.nan, math.inf, -math.inf])
def test_no_value_is_never_shown_as_a_number(value):
    result = shown(value, Dimension.PRESSURE, METRIC)
    assert result.number == NO_VALUE
    assert math.isnan(result.value)


def test_display_units_name_the_two_systems():
    assert display_unit(Dimension.PRESSURE, METRIC) == "bar"
    assert display_unit(Dimension.VOLUME, INCH_POUND) == "fl oz"


def test_the_unit_library_is_loaded_on_first_use_even_without_a_cache(tmp_path):
    blocked = tmp_path / "file"
    blocked.write_text("not a folder", encoding="utf-8")
    code = (
        "import sys, benchstation.quantities.units as u; assert 'pint' not in sys.modules;"
        "print(u.parse('1 bar', u.Dimension.PRESSURE))"
    )
    done = subprocess.run(
        [sys.executable, "-c", code],
        env={
            "XDG_CACHE_HOME": str(blocked),
            "HOME": str(blocked),
            "PYTHONPATH": ":".join(sys.path),
        },
        capture_output=True,
        text=True,
        check=True,
    )
    assert done.stdout.strip() == "100000.0"


@pytest.mark.parametrize("system", UnitSystem)
@pytest.mark.parametrize("dimension", [Dimension.VOLUME, Dimension.PRESSURE])
def test_a_little_is_what_its_words_say(dimension, system):
    value, words = little(dimension, system)
    assert value == parse(words, dimension) > 0.0


@pytest.mark.parametrize(
    ("system", "text"), [(UnitSystem.METRIC, "1013 hPa"), (UnitSystem.INCH_POUND, "29.92 inHg")]
)
def test_the_barometer_is_told_as_weather_reports_have_it(system, text):
    # The standard atmosphere: ISO 2533.
    told = shown_barometer(101_325.0, system)
    assert str(told) == text
    assert told.unit == barometer_unit(system)
    assert str(shown_barometer(math.nan, system)) == f"{NO_VALUE} {told.unit}"


@pytest.mark.parametrize("system", UnitSystem)
@pytest.mark.parametrize("step_m", [1e-6, 1e-5, 2.54e-5, 1e-3, 0.1])
def test_so_many_decimals_tell_a_step_and_one_less_does_not(system, step_m):
    decimals = decimals_that_tell(step_m, Dimension.LENGTH, system)
    step = to_display(step_m, Dimension.LENGTH, system)
    assert 10.0**-decimals <= step * (1 + 1e-9)
    assert decimals == 0 or 10.0 ** (1 - decimals) > step * (1 + 1e-9)


def test_the_systems_follow_each_other_in_a_ring():
    seen = [UnitSystem.METRIC]
    while (after := next_system(seen[-1])) not in seen:
        seen.append(after)
    assert set(seen) == set(UnitSystem)
    assert after is seen[0]
