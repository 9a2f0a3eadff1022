"""Framers: the same frames for any chunking, nothing kept beyond the cap, every byte accounted."""

import itertools

import pytest
from hypothesis import given
from hypothesis import strategies as st

from benchstation.driver_api.framing import (
    CHECKSUMS,
    DelimitedFramer,
    FixedFramer,
    LineFramer,
    complement8,
    crc16,
    crc16_ccitt,
    sum8,
    xor8,
)
from tests.reference_rows import rows

CAP = 32
MAKERS = {
    "line": lambda: LineFramer(b"\r\n", CAP),
    "bare line": lambda: LineFramer(b"\r", CAP),
    "delimited": lambda: DelimitedFramer(b"\x02", b"\x03", CAP),
    "tailed": lambda: DelimitedFramer(b"\x02", b"\x03", CAP, tail=2),
    "fixed": lambda: FixedFramer(5, lambda data: data[:1] == b"A" and data[-1:] == b"Z"),
}
alphabet = st.sampled_from([b"\r", b"\n", b"\x02", b"\x03", b"A", b"Z", b"12", b"AbcdZ", b"\x00"])
streams = st.lists(alphabet | st.binary(max_size=60), max_size=30).map(b"".join)


def cut(data, edges):
    places = [0, *sorted(min(edge, len(data)) for edge in edges), len(data)]
    return [data[a:b] for a, b in itertools.pairwise(places)]


@pytest.mark.parametrize("kind", MAKERS)
@given(data=streams, edges=st.lists(st.integers(0, 400), max_size=10))
def test_chunking_changes_nothing(kind, data, edges):
    whole, chunked = MAKERS[kind](), MAKERS[kind]()
    frames = whole.push(data)
    assert [f for piece in cut(data, edges) for f in chunked.push(piece)] == frames
    assert (chunked.discarded, chunked.pending) == (whole.discarded, whole.pending)
    assert sum(map(len, frames)) + whole.discarded + whole.pending == len(data)
    assert whole.pending <= CAP + 1
    whole.clear()
    assert whole.pending == 0
    assert sum(map(len, frames)) + whole.discarded == len(data)


@pytest.mark.parametrize("kind", MAKERS)
@pytest.mark.parametrize("filler", [b"\x00", b"\x02", b"A", b"1"])
def test_a_megabyte_without_an_end(kind, filler):
    framer = MAKERS[kind]()
    for _ in range(256):
        assert framer.push(filler * 4096) == []
        assert framer.pending <= CAP
    assert framer.discarded + framer.pending == 1 << 20


def test_lines_keep_their_ends():
    framer = LineFramer(b"\r\n")
    assert framer.push(b"one\r\ntwo\nthr") == [b"one\r\n", b"two\n"]
    assert framer.push(b"ee\r\n") == [b"three\r\n"]


def test_a_line_over_the_cap_is_dropped_whole():
    framer = LineFramer(b"\n", CAP)
    assert framer.push(b"x" * 31 + b"\n") == [b"x" * 31 + b"\n"]
    assert framer.push(b"x" * 32 + b"\nnext\n") == [b"next\n"]
    assert framer.push(b"x" * 20) == framer.push(b"x" * 20) == []
    assert framer.push(b"tail\nnext\n") == [b"next\n"]
    assert framer.discarded == 33 + 45


def test_a_second_start_begins_anew():
    framer = DelimitedFramer()
    assert framer.push(b"noise\x02lost\x02kept\x03lost\x03") == [b"\x02kept\x03"]
    assert framer.discarded == len(b"noise\x02lostlost\x03")


def test_a_tail_belongs_to_the_frame_whatever_it_is():
    framer = DelimitedFramer(tail=1)
    assert framer.push(b"\x02one\x03\x02\x02two\x03") == [b"\x02one\x03\x02"]
    assert framer.push(b"\x03\x02three") == [b"\x02two\x03\x03"]
    assert framer.discarded == 0


@pytest.mark.parametrize(
    "make",
    [
        lambda: LineFramer(b""),
        lambda: LineFramer(b"\r\n", 1),
        lambda: DelimitedFramer(b"\x02", b"\x02"),
        lambda: DelimitedFramer(b"ab", b"\x03"),
        lambda: DelimitedFramer(tail=-1),
        lambda: FixedFramer(0, bool),
    ],
)
def test_a_framer_that_cannot_work_is_refused(make):
    with pytest.raises(ValueError):
        make()


@pytest.mark.parametrize(
    "reference",
    [*rows("modbus.csv", quantity="crc16_modbus_check_value"),
     *rows("modbus.csv", quantity="crc16_frame")],
    ids=str,
)  # fmt: skip
def test_crc_check_values(reference):
    """On the wire the low byte goes first; the check value is printed as a number."""
    crc = crc16(bytes.fromhex(reference["input_hex"]))
    text = reference["value"]
    printed = bytes.fromhex(text.removeprefix("0x"))
    assert crc == int.from_bytes(printed, "big" if text.startswith("0x") else "little")


@pytest.mark.parametrize(
    "reference",
    [
        r
        for quantity in ("rtu_adu_request", "rtu_adu_response", "rtu_adu_exception")
        for r in rows("modbus.csv", quantity=quantity)
    ],
    ids=str,
)
def test_crc_of_every_published_serial_frame(reference):
    frame = bytes.fromhex(reference["value"])
    assert crc16(frame[:-2]).to_bytes(2, "little") == frame[-2:]


@given(st.binary(min_size=1, max_size=40), st.integers(0))
def test_every_checksum_sees_a_wrong_bit(data, bit):
    spoilt = bytearray(data)
    spoilt[bit // 8 % len(data)] ^= 1 << bit % 8
    for function, width in CHECKSUMS.values():
        assert 0 <= function(data) < 256**width
        assert function(bytes(spoilt)) != function(data)


def test_sum_and_exclusive_or():
    """Worked by hand: 0x31 + 0xFF = 0x130, 0x31 xor 0xFF = 0xCE."""
    assert (sum8(b"\x31\xff"), xor8(b"\x31\xff")) == (0x30, 0xCE)


def test_the_complement_makes_the_sum_zero():
    """Worked by hand: 0x100 - (0x02 + 0x41) = 0xBD."""
    assert complement8(b"\x02\x41") == 0xBD
    assert sum8(b"\x02\x41\xbd") == 0


def test_the_check_value_of_the_ccitt_crc():
    """The catalogued check value of polynomial 0x1021 with start value zero, from memory."""
    assert crc16_ccitt(b"123456789") == 0x31C3
