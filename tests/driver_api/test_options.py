"""Options are taken one by one, each refused by name, and what is left over is refused too."""

import pytest

from benchstation.driver_api.errors import OptionError
from benchstation.driver_api.options import Options, channel_from
from benchstation.driver_api.reading import PressureReference, Quantity


def refused(take, named):
    with pytest.raises(OptionError) as error:
        take()
    assert named in error.value.what
    assert error.value.where
    assert error.value.advice


@pytest.mark.parametrize("value", [1, "", "x" * 65, b"x", ["x"]])
def test_text(value):
    refused(lambda: Options({"t": value}, "here").text("t"), "'t'")


@pytest.mark.parametrize("value", [1.0, True, "1", 0, 11])
def test_integer(value):
    refused(lambda: Options({"n": value}, "here").integer("n", 1, 10), "'n'")


@pytest.mark.parametrize("value", [float("nan"), float("inf"), True, "1", 10.1])
def test_number(value):
    refused(lambda: Options({"n": value}, "here").number("n", 0.0, 10.0), "'n'")


@pytest.mark.parametrize("value", ["c", 1, ["a"]])
def test_choice(value):
    refused(lambda: Options({"c": value}, "here").choice("c", ("a", "b")), "'c'")


@pytest.mark.parametrize("value", [0, "true", "no"])
def test_flag(value):
    refused(lambda: Options({"f": value}, "here").flag("f"), "'f'")


@pytest.mark.parametrize("value", [[], "x", 3])
def test_tables(value):
    refused(lambda: Options({"t": value}, "here").tables("t"), "'t'")
    refused(lambda: Options({"t": value}, "here").table("t"), "'t'")


def test_missing_and_left_over():
    refused(lambda: Options({}, "here").text("t"), "'t' is missing")
    refused(lambda: Options({}, "here").table("t", required=True), "'t' is missing")
    refused(lambda: Options({"spare": 1}, "here").finish(), "spare")
    refused(lambda: Options("text", "here"), "not a table")


def test_defaults_and_nesting():
    take = Options({"one": {"deep": 3}, "list": [{"a": 1}, {"b": 2}]}, "here")
    assert take.integer("absent", 0, 9, 7) == 7
    assert take.table("one").integer("deep", 0, 9) == 3
    second = take.tables("list")[1]
    refused(second.finish, "b")
    take.finish()
    with pytest.raises(OptionError, match="here, list 2"):
        second.finish()


def test_a_channel():
    table = {"quantity": "pressure", "reference": "gauge", "low": -1e5, "high": 4e6}
    channel = channel_from(Options({"channel": table}, "here"))
    assert (channel.name, channel.quantity) == ("pressure", Quantity.PRESSURE)
    assert channel.reference is PressureReference.GAUGE
    assert (channel.low, channel.high, channel.resolution) == (-1e5, 4e6, None)


@pytest.mark.parametrize(
    ("table", "named"),
    [
        ({"quantity": "mass", "reference": "gauge"}, "reference"),
        ({"quantity": "pressure"}, "reference"),
        ({"quantity": "mass", "low": float("nan")}, "low"),
        ({"quantity": "mass", "colour": "red"}, "colour"),
        ({}, "quantity"),
    ],
)
def test_a_channel_that_makes_no_sense(table, named):
    refused(lambda: channel_from(Options({"channel": table}, "here")), named)


def test_the_rest_is_taken_whole():
    take = Options({"a": 1, "b": {"c": 2}}, "here")
    take.integer("a", 0, 9)
    assert take.rest() == {"b": {"c": 2}}
    take.finish()
