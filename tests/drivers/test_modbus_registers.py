"""Registers over a serial line, against the specification's frames and damage of every kind."""

import itertools
import re
import struct

import pytest
from hypothesis import given
from hypothesis import strategies as st

from benchstation.driver_api.errors import OptionError
from benchstation.driver_api.framing import crc16
from benchstation.driver_api.reading import Fault, FaultKind, Reading
from drivers.modbus_registers import ModbusRegistersDriver
from tests.reference_rows import row, rows

FILE = "modbus.csv"
CHANNEL = {"quantity": "pressure", "reference": "gauge"}


def driver(**changes):
    given_options = {
        "channel": CHANNEL,
        "device": 1,
        "function": 3,
        "address": 0,
        "type": "float32",
        "order": "ABCD",
        "unit": "bar",
        "factor": 1.0,
    }
    given_options |= changes
    return ModbusRegistersDriver({k: v for k, v in given_options.items() if v is not None})


def with_crc(body):
    return body + crc16(body).to_bytes(2, "little")


def answer(registers, device=1, function=3):
    return with_crc(bytes((device, function, len(registers))) + registers)


def hexed(reference, column="value"):
    return bytes.fromhex(reference[column])


def readings(items):
    return [item for item in items if isinstance(item, Reading)]


# --- published frames ----------------------------------------------------------------------------


def frames(kind, status):
    """Requests or answers of a read of holding or input registers, with their device address."""
    found = [
        r
        for r in rows(FILE, quantity=status)
        if hexed(r)[1] & 0x7F in (3, 4) and r["unit_id"] != "0"
    ]
    assert found
    return [pytest.param(r, id=f"{kind} {r['id']}") for r in found]


@pytest.mark.parametrize("reference", frames("request", "rtu_adu_request"))
def test_the_request_is_that_of_the_specification(reference):
    device, function, address, count = struct.unpack_from(">BBHH", hexed(reference))
    # A status register at the far end makes one request over as many registers as published.
    status = {"address": address + count - 1, "codes": {"0": "good"}}
    made = driver(
        device=device,
        function=function,
        address=address,
        type="uint16",
        order=None,
        status=status if count > 1 else None,
    )
    assert made.poll() == hexed(reference)


@pytest.mark.parametrize("reference", frames("answer", "rtu_adu_response"))
def test_the_answer_of_the_specification_is_read(reference):
    frame = hexed(reference)
    count = frame[2] // 2
    stated = re.search(r"= (-?[0-9]+)", reference["decoded"])
    assert stated is not None
    made = driver(
        device=frame[0],
        function=frame[1],
        type="int16",
        order=None,
        status={"address": count - 1, "codes": {str(int.from_bytes(frame[-4:-2])): "good"}}
        if count > 1
        else None,
    )
    (reading,) = made.feed(frame, 1.0)
    assert (reading.value, reading.raw, reading.at) == (float(stated[1]), frame, 1.0)


@pytest.mark.parametrize("reference", frames("exception", "rtu_adu_exception"))
def test_the_exception_of_the_specification_is_a_fault(reference):
    frame = hexed(reference)
    (fault,) = driver(device=frame[0]).feed(frame, 0.0)
    assert fault.kind is FaultKind.DEVICE_ERROR
    assert "exception 2: it has no such register" in fault.detail


@pytest.mark.parametrize(
    ("quantity", "code"),
    [
        ("exception:ILLEGAL_DATA_ADDRESS", 2),
        ("exception:ILLEGAL_DATA_VALUE", 3),
        ("exception:SERVER_DEVICE_FAILURE", 4),
    ],
)
def test_exceptions_are_named(quantity, code):
    assert int(row(FILE, quantity=quantity)["value"], 16) == code
    (fault,) = driver().feed(with_crc(bytes((1, 0x83, code))), 0.0)
    assert f"exception {code}:" in fault.detail
    assert "unknown" not in fault.detail


@pytest.mark.parametrize("reference", rows(FILE, quantity="crc_seen_wrong_on_the_web"), ids=str)
def test_a_published_wrong_crc_is_refused(reference):
    frame = hexed(reference, "input_hex")
    assert crc16(frame[:-2]).to_bytes(2, "little") != frame[-2:]


# --- types and byte orders -----------------------------------------------------------------------

ORDERED = [
    *rows(FILE, quantity="float32_registers_big_word_order"),
    *rows(FILE, quantity="float32_registers_little_word_order"),
    *rows(FILE, quantity="float32_computed_order"),
    *rows(FILE, quantity="float32_bytes_ABCD"),
    *rows(FILE, quantity="float32_byte_orders"),
]


@pytest.mark.parametrize("reference", ORDERED, ids=str)
def test_float_orders(reference):
    """Value and bytes are printed in either column: the bytes have letters or are four pairs."""
    order = reference["kind"].split()[0]
    made = driver(order=order)
    (reading,) = made.feed(answer(hexed(reference)), 0.0)
    assert reading.value == pytest.approx(float(reference["decoded"]), rel=6e-8)


@pytest.mark.parametrize(
    ("kind", "order", "value", "registers"),
    [
        ("int16", "AB", -5.0, "FFFB"),
        ("uint16", "AB", 65531.0, "FFFB"),
        ("int16", "BA", -5.0, "FBFF"),
        ("int32", "ABCD", -2.0, "FFFFFFFE"),
        ("uint32", "CDAB", 65538.0, "00020001"),
    ],
)
def test_whole_numbers(kind, order, value, registers):
    """-5 and 65531 as in the published answer for register 101 (modbus-076)."""
    made = driver(type=kind, order=order, factor=2.0, offset=1.0)
    (reading,) = made.feed(answer(bytes.fromhex(registers)), 0.0)
    assert (reading.value, reading.resolution) == (2.0 * value + 1.0, 2.0)


@given(st.floats(width=32, allow_nan=False, allow_infinity=False))
def test_any_float_is_read_as_sent(value):
    (reading,) = driver().feed(answer(struct.pack(">f", value)), 0.0)
    assert reading.value == value


# --- damage --------------------------------------------------------------------------------------


@given(st.floats(-100, 100, width=32), st.integers(0, 71))
def test_no_wrong_bit_is_ever_read(value, bit):
    frame = bytearray(answer(struct.pack(">f", value)))
    frame[bit // 8] ^= 1 << bit % 8
    made = driver()
    assert readings(made.feed(bytes(frame), 0.0)) == []
    made.reset()
    assert readings(made.feed(answer(struct.pack(">f", value)), 0.0))


@given(st.floats(-100, 100, width=32), st.integers(0, 71), st.integers(1, 0xFFFF))
def test_no_burst_of_sixteen_bits_is_ever_read(value, start, burst):
    """A CRC of 16 bits finds every burst up to 16 bits long."""
    frame = answer(struct.pack(">f", value))
    spoilt = int.from_bytes(frame) ^ (burst << min(start, 8 * len(frame) - 16))
    assert readings(driver().feed(spoilt.to_bytes(len(frame)), 0.0)) == []


GOOD = answer(struct.pack(">f", 15.5))
pieces = st.one_of(
    st.binary(max_size=24),
    st.sampled_from([GOOD, GOOD[:4], GOOD[4:], b"\x01", b"\x01\x83", with_crc(b"\x01\x83\x02")]),
)


@given(st.lists(pieces, max_size=12), st.lists(st.integers(0, 200), max_size=8))
def test_any_bytes_in_any_chunks(parts, cuts):
    data = b"".join(parts)
    edges = [0, *sorted(min(cut, len(data)) for cut in cuts), len(data)]
    chunked, whole = driver(), driver()
    items = [i for a, b in itertools.pairwise(edges) for i in chunked.feed(data[a:b], 0.0)]
    assert items == whole.feed(data, 0.0)
    assert {item.raw for item in readings(items)} <= {GOOD}
    assert whole.counts.discarded_bytes == chunked.counts.discarded_bytes


def test_a_good_answer_is_found_behind_a_damaged_one():
    items = driver().feed(GOOD[:5] + GOOD, 0.0)
    assert readings(items)[-1].raw == GOOD
    assert any(isinstance(item, Fault) for item in items)


def test_discarded_bytes_are_counted():
    made = driver()
    made.feed(b"\x00\x02\x03noise" + GOOD, 0.0)
    assert (made.counts.discarded_bytes, made.counts.readings) == (8, 1)
    made.feed(GOOD[:4], 0.0)
    made.reset()
    assert made.counts.discarded_bytes == 12


# --- options -------------------------------------------------------------------------------------


@pytest.mark.parametrize(
    ("changes", "named"),
    [
        ({"device": 0}, "device"),
        ({"device": 248}, "device"),
        ({"function": 6}, "function"),
        ({"address": -1}, "address"),
        ({"address": 65535}, "address"),
        ({"address": True}, "address"),
        ({"type": "float64"}, "type"),
        ({"order": "ABDC"}, "order"),
        ({"type": "int16", "order": "ABCD"}, "order"),
        ({"factor": 0.0}, "factor"),
        ({"factor": float("inf")}, "factor"),
        ({"status": {"address": 300, "codes": {"0": "good"}}}, "address"),
        ({"status": {"address": 2, "codes": {"0": "fine"}}}, "0"),
        ({"status": {"address": 2, "codes": {"1": "error"}}}, "codes"),
        ({"status": {"address": 2, "codes": {"x": "good"}}}, "x"),
        ({"unit": None}, "unit"),
    ],
)
def test_an_option_that_makes_no_sense_is_refused_by_name(changes, named):
    with pytest.raises(OptionError) as refused:
        driver(**changes)
    assert named in str(refused.value)


def test_the_largest_request_is_that_of_the_specification():
    """125 registers in one read, frames of at most 256 bytes (V1.02, 2.5.1)."""
    far = {"address": 124, "codes": {"0": "good"}}
    made = driver(status=far)
    assert struct.unpack_from(">H", made.poll(), 4) == (125,)
    assert len(answer(bytes(250))) <= int(row(FILE, quantity="limit:max_serial_ADU_bytes")["value"])
    with pytest.raises(OptionError):
        driver(status={"address": 125, "codes": {"0": "good"}})
