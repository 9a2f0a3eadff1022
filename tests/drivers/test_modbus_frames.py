"""Modbus over TCP against published headers: numbered requests, and no answer of the past."""

import itertools

import pytest
from hypothesis import given
from hypothesis import strategies as st

from benchstation.driver_api.errors import OptionError
from benchstation.driver_api.reading import FaultKind, Reading
from drivers.modbus_frames import Span, TcpFrames
from drivers.modbus_registers import ModbusRegistersDriver
from tests.reference_rows import rows

FILE = "modbus.csv"


def driver(**changes):
    options = {
        "channel": {"quantity": "pressure", "reference": "gauge"},
        "framing": "tcp",
        "device": 1,
        "function": 3,
        "address": 0,
        "type": "int16",
        "unit": "mbar",
        "factor": 100.0,
    }
    return ModbusRegistersDriver(options | changes)


def answer(transaction, value, device=1, function=3):
    body = bytes((device, function, 2)) + value.to_bytes(2, "big", signed=True)
    return transaction.to_bytes(2, "big") + b"\0\0" + len(body).to_bytes(2, "big") + body


PUBLISHED = [
    reference
    for quantity in ("tcp_adu_request", "tcp_adu")
    for reference in rows(FILE, quantity=quantity)
    if bytes.fromhex(reference["value"])[7] in (3, 4)
]


@pytest.mark.parametrize("reference", PUBLISHED, ids=lambda r: r["id"])
def test_the_request_is_the_published_one(reference):
    published = bytes.fromhex(reference["value"])
    span = Span(published[6], published[7], *(
        int.from_bytes(published[at : at + 2], "big") for at in (8, 10)
    ))  # fmt: skip
    frames = TcpFrames(span)
    frames._transaction = (int.from_bytes(published[:2], "big") - 1) % 0xFFFF
    built = frames.request()
    assert built[2:] == published[2:]
    if published[:2] != b"\0\0":
        assert built[:2] == published[:2]


def test_the_published_exception_is_a_fault():
    (reference,) = rows(FILE, id="modbus-067")
    frame = bytes.fromhex(reference["value"])
    (fault,) = driver(device=frame[6]).feed(frame, 0.0)
    assert fault.kind is FaultKind.DEVICE_ERROR
    assert "exception 2" in fault.detail


def test_requests_are_numbered_and_the_number_wraps_past_zero():
    made = driver()
    numbers = [int.from_bytes(made.poll()[:2], "big") for _ in range(0xFFFF + 2)]
    assert numbers[:2] == [1, 2]
    assert numbers[-3:] == [0xFFFF, 1, 2]


def test_an_answer_of_the_past_is_no_reading():
    """The request timed out; its answer comes after the next request and says an old pressure."""
    made = driver()
    made.poll()
    made.reset()
    made.poll()
    (reading,) = made.feed(answer(1, 40) + answer(2, 15), 0.0)
    assert reading.value == 1500.0
    assert made.counts.discarded_bytes == len(answer(1, 40))


@pytest.mark.parametrize("device", [0, 255])
def test_addresses_that_only_tcp_has(device):
    assert driver(device=device).poll()[6] == device
    with pytest.raises(OptionError, match="'device'"):
        driver(device=device, framing="rtu")


def test_a_status_is_read_through_its_mask():
    status = {"address": 1, "mask": 0x30, "codes": {"0": "good", "16": "overload"}}
    made = driver(status=status)

    def reply(state):
        return b"\0\1\0\0\0\7\1\3\4" + (15).to_bytes(2, "big") + state.to_bytes(2, "big")

    assert made.feed(reply(0xFFCF), 0.0)[0].value == 1500.0
    assert made.feed(reply(0x0010), 0.0)[0].kind is FaultKind.OVER_RANGE
    assert made.feed(reply(0x0020), 0.0)[0].kind is FaultKind.DEVICE_ERROR


pieces = st.one_of(
    st.binary(max_size=20),
    st.sampled_from([answer(1, 15), answer(1, 15)[:7], answer(2, -3), b"\0" * 9, b"\0\1\0\0"]),
)


@given(st.lists(pieces, max_size=10), st.lists(st.integers(0, 150), max_size=8), st.booleans())
def test_any_bytes_in_any_chunks(parts, cuts, asked):
    data = b"".join(parts)
    edges = [0, *sorted(min(cut, len(data)) for cut in cuts), len(data)]
    chunked, whole = driver(), driver()
    if asked:
        chunked.poll(), whole.poll()
    items = [i for a, b in itertools.pairwise(edges) for i in chunked.feed(data[a:b], 0.0)]
    assert items == whole.feed(data, 0.0)
    assert chunked.counts == whole.counts
    assert len(chunked._frames._buffer) < len(answer(1, 0))
    assert all(isinstance(item, Reading) for item in items)
