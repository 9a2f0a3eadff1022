"""Units by name in a profile, and quantities written with their units."""

import pytest

from benchstation.devices.profile import load_profile, profile_from, profile_ids
from benchstation.driver_api.errors import StationError
from benchstation.driver_api.reading import Reading

LINE = """
id = "p"
title = "P"
kind = "{kind}"
driver = "text_line"
[rate]
expected_hz = 5.0
[channel]
{channel}
[options]
poll = "W"
units = {units}
fields = [{{ kind = "number", longest = 9 }}, {{ kind = "unit" }}]
"""
REGISTER = """
id = "p"
title = "P"
kind = "{kind}"
driver = "modbus_registers"
[rate]
expected_hz = 5.0
[options]
device = 1
function = 3
address = 0
type = "int16"
{options}
"""


def made(text):
    return profile_from(text.encode(), "p")


def line(units, kind="mass", channel=""):
    return made(LINE.format(units=units, kind=kind, channel=channel))


def one(profile, data):
    (item,) = profile.make_driver().feed(data + b"\r\n", 0.0)
    assert isinstance(item, Reading), item
    return item


@pytest.mark.parametrize(
    ("units", "kind", "sent", "value"),
    [
        ('{ KG = "kg" }', "mass", b"1.25KG", 1.25),
        ('["g", "lb"]', "mass", b"1lb", 0.45359237),
        ('{ g = 0.001, kg = "kg" }', "mass", b"1.5g", 0.0015),
        ('{ C = "degC" }', "temperature", b"21.4C", 294.55),
        ('{ F = "degF" }', "temperature", b"32F", 273.15),
        ('{ "%RH" = "%" }', "humidity", b"45%RH", 0.45),
        ('{ mA = "mA" }', "current", b"12mA", 0.012),
    ],
)
def test_a_unit_is_looked_up_by_its_name(units, kind, sent, value):
    if kind == "current":
        with pytest.raises(StationError, match="kind"):
            line(units, kind)
        return
    assert one(line(units, kind), sent).value == pytest.approx(value, rel=1e-12)


@pytest.mark.parametrize(
    ("units", "kind", "said"),
    [
        ('{ kg = "kilo" }', "mass", "units.kg: 'kilo' is not a mass"),
        ('{ kg = "bar" }', "mass", "units.kg: 'bar' is not a mass"),
        ('{ b = "barg" }', "temperature", "units.b"),
        ("7", "mass", "units: a table is required"),
        ("{ kg = true }", "mass", "'kg'"),
    ],
)
def test_what_is_no_unit_is_refused_by_its_place(units, kind, said):
    with pytest.raises(StationError) as refused:
        line(units, kind).make_driver()
    assert said in str(refused.value)
    assert "\n" not in str(refused.value)


@pytest.mark.parametrize(
    ("options", "kind", "sent", "value", "shown"),
    [
        ('unit = "mbar"', "pressure", "0103020960", 2400 * 100.0, "2400 mbar"),
        ('unit = "degC"\ndecimals = 1', "temperature", "01030200d6", 294.55, "21.4 degC"),
        ('unit = "x"\nfactor = 2.0', "pressure", "0103020002", 4.0, "2 x"),
    ],
)
def test_a_register_takes_its_factor_from_the_units_name(options, kind, sent, value, shown):
    from benchstation.driver_api.framing import crc16

    text = REGISTER.format(kind=kind, options=options)
    if kind == "pressure":
        text += '[channel]\nreference = "gauge"\n'
    profile = made(text)
    body = bytes.fromhex(sent)
    (item,) = profile.make_driver().feed(body + crc16(body).to_bytes(2, "little"), 0.0)
    assert item.value == pytest.approx(value)
    assert profile.in_unit(item) == shown


def test_units_of_a_register_of_codes_are_names_too():
    codes = (
        'units = { bar = "bar", psi = "psi" }\nunit_code = { address = 1, codes = { "0" = "psi" } }'
    )
    profile = made(
        REGISTER.format(kind="pressure", options=codes) + '[channel]\nreference = "gauge"'
    )
    assert profile.make_driver().poll()[2:6] == bytes.fromhex("00000002")


def test_a_range_may_be_written_with_its_unit():
    channel = 'low = "0 g"\nhigh = "6.2 kg"\nresolution = "10 mg"'
    made = line('["g"]', channel=channel).channel
    assert (made.low, made.high, made.resolution) == (0.0, 6.2, pytest.approx(1e-5))
    channel = 'low = "-40 °C"\nresolution = "0.1 K"'
    made = line('{ C = "degC" }', "temperature", channel).channel
    assert (made.low, made.resolution) == (pytest.approx(233.15), pytest.approx(0.1))
    with pytest.raises(StationError, match=r"high: '6 bar' is not a mass"):
        line('["g"]', channel='high = "6 bar"')


@pytest.mark.parametrize(("sent", "shown"), [(b"123.45g", "123.45 g"), (b"-1kg", "-1 kg")])
def test_a_reading_is_shown_as_the_device_shows_it(sent, shown):
    text = LINE.replace("longest = 9", "longest = 9, floating_minus = true")
    profile = made(text.format(units='["g", "kg"]', kind="mass", channel=""))
    assert profile.in_unit(one(profile, sent)) == shown


def test_a_transmitters_reading_is_shown_in_the_unit_of_its_kind():
    profile = load_profile("transmitter-current-text")
    (item,) = profile.make_driver().feed(b"+12.0000 mA\r\n", 0.0)
    assert profile.in_unit(item) == "20 bar"


@pytest.mark.parametrize("profile_id", profile_ids())
def test_shipped_profiles_name_their_units(profile_id):
    """A factor in a profile is a second copy of what the units' module knows."""
    options = load_profile(profile_id).options
    for table in (options, options.get("source", {})):
        assert "factor" not in table
        assert all(isinstance(unit, str) for unit in table.get("units", {}).values())
