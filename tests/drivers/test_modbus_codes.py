"""Registers beside the value: its unit, its point, its state, and texts for no value."""

import struct

import pytest

from benchstation.driver_api.errors import OptionError
from benchstation.driver_api.framing import crc16
from benchstation.driver_api.reading import FaultKind
from drivers.modbus_registers import ModbusRegistersDriver

UNITS = {"bar": 1e5, "C": {"factor": 1.0, "offset": 273.15}}
UNIT_CODE = {"address": 1, "codes": {"0": "bar", "7": "C"}}


def driver(**changes):
    options = {
        "channel": {"quantity": "temperature"},
        "device": 1,
        "function": 3,
        "address": 0,
        "type": "int16",
        "unit": "C",
        "factor": 1.0,
        "offset": 273.15,
    } | changes
    return ModbusRegistersDriver({k: v for k, v in options.items() if v is not None})


def coded(**changes):
    given = {"unit": None, "factor": None, "offset": None, "unit_code": UNIT_CODE, "units": UNITS}
    return driver(**given | changes)


def one(made, *registers):
    body = bytes((1, 3, 2 * len(registers))) + struct.pack(f">{len(registers)}h", *registers)
    (item,) = made.feed(body + crc16(body).to_bytes(2, "little"), 0.0)
    return item


def test_the_unit_is_what_its_register_says():
    made = coded()
    assert made.poll()[2:6] == bytes.fromhex("00000002")
    assert (one(made, 2, 0).value, one(made, 2, 0).unit) == (2e5, "bar")
    assert (one(made, 21, 7).value, one(made, 21, 7).unit) == (294.15, "C")
    fault = one(made, 21, 3)
    assert (fault.kind, fault.detail) == (FaultKind.UNKNOWN_UNIT, "no unit has the code 3")


def test_bits_beside_the_code_are_masked_away():
    made = coded(unit_code={**UNIT_CODE, "mask": 0x0F})
    assert one(made, 2, 0x30).unit == "bar"


def test_the_point_is_stated_or_stands_in_a_register():
    reading = one(driver(decimals=1), 214)
    assert (reading.value, reading.resolution) == (pytest.approx(294.55), pytest.approx(0.1))
    made = driver(decimals_code={"address": 1})
    assert one(made, 2140, 2).value == pytest.approx(294.55)
    assert one(made, 21, 0).value == pytest.approx(294.15)
    assert one(made, 21, 12).kind is FaultKind.DEVICE_ERROR
    assert one(made, 21, -1).kind is FaultKind.DEVICE_ERROR


def test_a_number_may_stand_for_no_value():
    made = driver(codes={"32767": "error", "-32768": "underload"})
    assert one(made, 32767).kind is FaultKind.DEVICE_ERROR
    assert one(made, -32768).kind is FaultKind.UNDER_RANGE
    assert one(made, 32766).value == pytest.approx(32766 + 273.15)


def test_all_of_them_come_in_one_answer():
    made = coded(
        address=4,
        unit_code={**UNIT_CODE, "address": 2},
        decimals_code={"address": 5},
        status={"address": 3, "codes": {"0": "good", "1": "overload"}},
    )
    assert made.poll()[2:6] == bytes.fromhex("00020004")
    assert one(made, 7, 0, 214, 1).value == pytest.approx(294.55)
    assert one(made, 7, 1, 214, 1).kind is FaultKind.OVER_RANGE
    assert one(made, 7, 9, 214, 1).kind is FaultKind.DEVICE_ERROR


@pytest.mark.parametrize(
    ("changes", "named"),
    [
        ({"factor": None}, "factor"),
        ({"unit": None}, "unit"),
        ({"unit_code": UNIT_CODE, "unit": None, "factor": None, "offset": None}, "units"),
        ({"decimals": 10}, "decimals"),
        ({"decimals_code": {"address": 200}}, "address"),
        ({"decimals_code": {}}, "address"),
        ({"codes": {"1.5": "error"}}, "1.5"),
        ({"codes": {"1": "good"}}, "1"),
        ({"status": {"address": 1, "codes": {"-1": "good"}}}, "-1"),
        ({"status": {"address": 1, "codes": {"1": "error"}}}, "status"),
    ],
)
def test_registers_that_make_no_sense_are_refused_by_name(changes, named):
    with pytest.raises(OptionError) as refused:
        driver(**changes)
    assert f"'{named}'" in str(refused.value)


@pytest.mark.parametrize("codes", [{"0": "psi"}, {"70000": "bar"}, {}])
def test_a_unit_code_is_of_the_unit_table(codes):
    with pytest.raises(OptionError):
        driver(
            unit=None,
            factor=None,
            offset=None,
            units=UNITS,
            unit_code={"address": 1, "codes": codes},
        )
