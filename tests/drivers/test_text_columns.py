"""Columns that are not always there or not always as wide, and further channels of a line."""

import pytest

from benchstation.driver_api.errors import OptionError
from benchstation.driver_api.reading import Fault, FaultKind, Reading
from drivers.text_line import TextLineDriver

SIGN = {"kind": "sign", "plus": "+", "minus": "-"}
NUMBER = {"kind": "number", "width": 6, "pad": "space"}
UNIT = {"kind": "unit", "width": 2, "align": "left"}
SPACE = {"kind": "literal", "text": " "}


def driver(*fields, **changes):
    given_options = {
        "channel": {"quantity": "mass"},
        "units": {"g": 0.001, "kg": 1.0},
        "poll": "W",
        "fields": [dict(field) for field in fields],
    }
    return TextLineDriver(given_options | changes)


def one(made, line):
    (item,) = made.feed(line + b"\r\n", 0.0)
    return item


def value(made, line):
    item = one(made, line)
    assert isinstance(item, Reading), item
    return item.value


# --- what may be absent --------------------------------------------------------------------------


def test_a_mark_that_stands_only_while_moving():
    mark = {"kind": "status", "codes": {"": "stable", " (moving)": "moving", " OL": "overload"}}
    made = driver(SIGN, NUMBER, UNIT, mark)
    steady, moving = one(made, b"+123.45g "), one(made, b"+123.45g  (moving)")
    assert (steady.stable, moving.stable) == (True, False)
    assert steady.value == moving.value == pytest.approx(0.12345)
    assert one(made, b"+123.45g  OL").kind is FaultKind.OVER_RANGE
    for spoilt in (b"+123.45g  (movin", b"+123.45g   (moving)", b"+123.45g  (moving) "):
        assert one(made, spoilt).kind is FaultKind.BAD_FRAME


def test_a_mark_before_the_number_may_be_absent_too():
    made = driver({"kind": "status", "codes": {"": "stable", "~": "moving"}}, NUMBER, UNIT)
    assert one(made, b"123.45g ").stable is True
    assert one(made, b"~123.45g ").stable is False
    assert one(made, b"~~23.45g ").kind is FaultKind.BAD_FRAME


def test_a_sign_that_is_sent_only_below_zero():
    made = driver({**SIGN, "optional": True}, {"kind": "number"}, UNIT)
    assert value(made, b"12.5g ") == pytest.approx(0.0125)
    assert value(made, b"-12.5g ") == pytest.approx(-0.0125)
    assert one(made, b"--12.5g ").kind is FaultKind.BAD_FRAME


def test_text_that_may_be_absent():
    filler = {"kind": "other", "width": 2, "holds": "digits", "optional": True}
    made = driver({"kind": "literal", "text": "W:", "optional": True}, SIGN, NUMBER, UNIT, filler)
    for line in (b"W:+123.45g ", b"+123.45g ", b"W:+123.45g 07", b"+123.45g 07"):
        assert value(made, line) == pytest.approx(0.12345)
    for line in (b"W+123.45g ", b"W:W:+123.45g ", b"+123.45g 7", b"+123.45g 0707"):
        assert one(made, line).kind is FaultKind.BAD_FRAME


def test_an_unpadded_unit_that_is_absent_while_moving():
    made = driver(NUMBER, {"kind": "unit", "blank_when_moving": True})
    assert one(made, b"123.45").kind is FaultKind.UNKNOWN_UNIT
    assert one(made, b"  1.25kg").stable is True
    moving = one(made, b"  1.24")
    assert (moving.value, moving.stable) == (pytest.approx(1.24), False)


def test_a_unit_of_any_width_may_stand_before_its_number():
    made = driver({"kind": "unit"}, NUMBER)
    assert value(made, b"kg  1.25") == pytest.approx(1.25)
    assert value(made, b"g  1.25") == pytest.approx(0.00125)


# --- skipped text of any width -------------------------------------------------------------------


def test_text_of_any_width_is_skipped_up_to_a_literal():
    skipped = {"kind": "other", "holds": "printable", "longest": 20}
    made = driver(skipped, {"kind": "literal", "text": "; "}, SIGN, NUMBER, UNIT)
    for text in (b"", b"Oven 3", b"a;b", b"+999.99g ", b"x" * 20):
        assert value(made, text + b"; +123.45g ") == pytest.approx(0.12345)
    for line in (b"x" * 21 + b"; +123.45g ", b"a\x00b; +123.45g ", b"; ; +123.45g "):
        assert one(made, line).kind is FaultKind.BAD_FRAME


def test_text_of_any_width_is_skipped_up_to_the_end():
    made = driver(SIGN, NUMBER, UNIT, {"kind": "other", "holds": "printable", "longest": 12})
    for text in (b"", b" by Anna", b"x" * 12):
        assert value(made, b"+123.45g " + text) == pytest.approx(0.12345)
    assert one(made, b"+123.45g " + b"x" * 13).kind is FaultKind.BAD_FRAME


def test_a_number_behind_skipped_text_keeps_its_width():
    skipped = {"kind": "other", "holds": "digits", "longest": 9}
    made = driver(skipped, {"kind": "literal", "text": ":"}, NUMBER, {"kind": "unit"})
    assert value(made, b"12:  1.25g") == pytest.approx(0.00125)
    assert one(made, b"12: 1.25g").kind is FaultKind.BAD_FRAME
    assert one(made, b"12:   1.25g").kind is FaultKind.UNKNOWN_UNIT  # which is 5g


# --- thousands -----------------------------------------------------------------------------------


@pytest.mark.parametrize(
    ("thousands", "decimal", "line"),
    [
        (",", ".", b"  1,234,567.8g "),
        (".", ",", b"  1.234.567,8g "),
        ("'", ".", b"  1'234'567.8g "),
        (" ", ".", b"  1 234 567.8g "),
    ],
)
def test_groups_of_three_digits(thousands, decimal, line):
    made = driver({**NUMBER, "width": 13, "thousands": thousands}, UNIT, decimal=decimal)
    reading = one(made, line)
    assert reading.value == pytest.approx(1234.5678)
    assert reading.resolution == pytest.approx(1e-4)
    assert value(made, b"%13dg " % 42) == pytest.approx(0.042)


def test_groups_that_are_none_are_refused():
    made = driver({**NUMBER, "width": 9, "thousands": ","}, UNIT)
    for number in (b" 1,23,456", b"  1234567", b",,123,456", b" 1,234,56", b"1,234,.56"):
        assert one(made, number + b"g ").kind is FaultKind.BAD_FRAME
    assert value(driver({"kind": "number", "thousands": ","}, UNIT), b"1,234.5g ") == 1.2345


def test_a_separator_cannot_be_both():
    with pytest.raises(OptionError, match="'thousands'"):
        driver({**NUMBER, "thousands": ","}, UNIT, decimal=",")


def test_a_plus_may_stand_before_the_first_digit():
    made = driver({**NUMBER, "floating_plus": True, "floating_minus": True}, UNIT)
    assert value(made, b"  +1.5g ") == pytest.approx(0.0015)
    assert value(made, b"  -1.5g ") == pytest.approx(-0.0015)
    assert one(made, b"+ 1.5 g ").kind is FaultKind.BAD_FRAME


# --- further channels ----------------------------------------------------------------------------

CLIMATE = [
    {"kind": "status", "codes": {"*": "stable", "~": "moving"}},
    {**NUMBER, "codes": {"------": "error"}},
    {"kind": "unit"},
    SPACE,
    {"kind": "number", "of": "humidity", "width": 5, "pad": "space", "codes": {"-----": "error"}},
    {"kind": "unit", "of": "humidity"},
]
ALSO = {"humidity": {"units": {"%": 0.01}, "low": 0.0, "high": 1.0}}
CELSIUS = {"C": {"factor": 1.0, "offset": 273.15}}


def climate(*fields, **changes):
    changes = {"channel": {"quantity": "temperature"}, "units": CELSIUS, "also": ALSO} | changes
    return driver(*(fields or CLIMATE), **changes)


def test_two_values_in_one_line():
    made = climate()
    assert [(c.name, c.quantity, c.high) for c in made.channels] == [
        ("temperature", "temperature", None),
        ("humidity", "humidity", 1.0),
    ]
    temperature, humidity = made.feed(b"* 21.40C  45.2%\r\n", 3.0)
    assert (temperature.channel, temperature.value) == ("temperature", pytest.approx(294.55))
    assert (humidity.channel, humidity.value) == ("humidity", pytest.approx(0.452))
    assert (temperature.stable, humidity.stable) == (True, True)
    assert temperature.raw == humidity.raw == b"* 21.40C  45.2%\r\n"
    assert (made.counts.frames, made.counts.readings) == (1, 2)


def test_a_value_that_fails_takes_not_the_other_with_it():
    made = climate()
    temperature, fault = made.feed(b"* 21.40C -----%\r\n", 0.0)
    assert isinstance(temperature, Reading)
    assert (fault.kind, fault.channel) == (FaultKind.DEVICE_ERROR, "humidity")
    fault, humidity = made.feed(b"*------C  45.2%\r\n", 0.0)
    assert (fault.kind, fault.channel) == (FaultKind.DEVICE_ERROR, "")
    assert humidity.value == pytest.approx(0.452)


def test_damage_anywhere_takes_the_whole_line():
    made = climate()
    for line in (b"* 21.40C  45..%", b"* 21..0C  45.2%", b"* 21.40C  45.2g", b"* 21.40C"):
        (item,) = made.feed(line + b"\r\n", 0.0)
        assert isinstance(item, Fault)


def test_a_further_channel_without_a_unit_column_has_one_unit():
    fields = [*CLIMATE[:-1], {"kind": "literal", "text": "%"}]
    also = {"humidity": {"units": {"%": 0.01}, "unit": "%"}}
    _, humidity = climate(*fields, also=also).feed(b"* 21.40C  45.2%\r\n", 0.0)
    assert humidity.value == pytest.approx(0.452)


@pytest.mark.parametrize(
    ("fields", "changes", "named"),
    [
        (CLIMATE[:4], {}, "number field of humidity"),
        (CLIMATE, {"also": {}}, "'of'"),
        (CLIMATE, {"also": {"temperature": ALSO["humidity"]}}, "'temperature'"),
        (CLIMATE, {"also": {"colour": ALSO["humidity"]}}, "'colour'"),
        (CLIMATE, {"also": {"humidity": {}}}, "'units'"),
        (CLIMATE, {"also": {"humidity": {**ALSO["humidity"], "hope": 1}}}, "hope"),
        ([*CLIMATE, {**SIGN, "of": "humidity", "minus": "+"}], {}, "'minus'"),
        ([*CLIMATE, {"kind": "other", "width": 2, "holds": "digits", "of": "humidity"}], {}, "of"),
    ],
)
def test_further_channels_that_make_no_sense_are_refused_by_name(fields, changes, named):
    with pytest.raises(OptionError) as refused:
        climate(*fields, **changes)
    assert named in str(refused.value)


@pytest.mark.parametrize(
    ("fields", "named"),
    [
        ([{"kind": "other", "holds": "digits", "longest": 9}, NUMBER, UNIT], "kind"),
        ([NUMBER, UNIT, {"kind": "other", "holds": "digits", "longest": 201}], "longest"),
        ([NUMBER, UNIT, {"kind": "other", "holds": "digits"}], "longest"),
        (
            [NUMBER, UNIT, {"kind": "other", "holds": "digits", "longest": 2, "optional": True}],
            "optional",
        ),
        ([{**NUMBER, "thousands": "x"}, UNIT], "thousands"),
        ([{**NUMBER, "optional": True}, UNIT], "optional"),
    ],
)
def test_widths_that_make_no_sense_are_refused_by_name(fields, named):
    with pytest.raises(OptionError) as refused:
        driver(*fields)
    assert named in str(refused.value)


# --- where a line differs ------------------------------------------------------------------------


@pytest.mark.parametrize(
    ("line", "place"),
    [
        (b"?123.45g ", 0),
        (b"+12x.45g ", 1),
        (b"+123.45lb", 7),
        (b"+123.45g", 7),
        (b"+123.45g  ", 9),
    ],
)
def test_a_fault_names_the_first_place_that_differs(line, place):
    assert one(driver(SIGN, NUMBER, UNIT), line).place == place
