"""Lines of text: what the profile's columns allow is read, and nothing else is."""

import itertools
import time
from collections import Counter

import pytest
from hypothesis import given
from hypothesis import strategies as st

from benchstation.driver_api.errors import OptionError, UnsupportedCommandError
from benchstation.driver_api.framing import crc16
from benchstation.driver_api.reading import Fault, FaultKind, Reading
from drivers.text_line import TextLineDriver

CHANNEL = {"quantity": "mass"}
GAUGE = {"quantity": "pressure", "reference": "gauge"}
UNITS = {"g": 0.001, "kg": 1.0}
SIGN = {"kind": "sign", "plus": "+", "minus": "-"}
NUMBER = {"kind": "number", "width": 8, "pad": "zero"}
UNIT = {"kind": "unit", "width": 3, "align": "right"}


def options(*fields, **changes):
    fields = fields or (SIGN, NUMBER, UNIT)
    given_options = {"channel": CHANNEL, "units": UNITS, "fields": [dict(f) for f in fields]}
    return {k: v for k, v in (given_options | changes).items() if v is not None}


def driver(*fields, **changes):
    return TextLineDriver(options(*fields, **changes))


def one(made, data):
    (item,) = made.feed(data, 0.0)
    return item


# --- what the columns may hold -------------------------------------------------------------------


def test_decimal_comma():
    made = driver(decimal=",")
    assert one(made, b"+00123,45  g\r\n").value == pytest.approx(0.12345, rel=1e-15)
    assert one(made, b"+00123.45  g\r\n").kind is FaultKind.BAD_FRAME


def test_a_unit_with_an_offset():
    """Zero degrees Celsius are 273.15 K by definition."""
    made = driver(
        channel={"quantity": "temperature"},
        units={"C": {"factor": 1.0, "offset": 273.15}},
    )
    assert one(made, b"+00021.50  C\r\n").value == pytest.approx(294.65, rel=1e-15)
    assert one(made, b"-00001.50  C\r\n").value == pytest.approx(271.65, rel=1e-15)


def test_minus_zero_is_zero():
    assert str(one(driver(), b"-00000.00  g\r\n").value) == "0.0"


@pytest.mark.parametrize(
    ("line", "step"),
    [(b"+00123.45  g\r\n", 1e-5), (b"+000123.4 kg\r\n", 0.1), (b"+00000123 kg\r\n", 1.0)],
)
def test_the_resolution_is_one_step_of_the_last_digit(line, step):
    assert one(driver(), line).resolution == pytest.approx(step)


def test_a_gauge_without_unit_column_has_one_unit():
    made = driver({"kind": "number", "longest": 8}, channel=GAUGE, unit="kPa", units={"kPa": 1e3})
    made.feed(b"cut off\r\n", 0.0)  # a streaming line of any length is joined at a line's end
    assert one(made, b"101.3\r\n").value == pytest.approx(101_300.0)


def test_streaming_numbers_of_any_length_are_joined_at_a_line_end():
    """The tail of a number looks like a smaller number: it must not become a reading."""
    made = driver({"kind": "number", "longest": 8}, channel=GAUGE, unit="kPa", units={"kPa": 1e3})
    assert made.feed(b"1.3\r\n", 0.0) == []
    assert made.counts.discarded_bytes == 5
    assert one(made, b"101.3\r\n").value == pytest.approx(101_300.0)
    made.reset()
    assert made.feed(b"1.3\r\n", 0.0) == []


# --- checksums, start bytes, frames without an end -----------------------------------------------

CHECKED = (SIGN, NUMBER, UNIT, {"kind": "checksum", "algorithm": "xor"})


def checked_line(body):
    check = 0
    for byte in body:
        check ^= byte
    return body + b"%02X\r\n" % check


def test_a_check_character_is_checked():
    good = checked_line(b"+00123.45  g")
    assert one(driver(*CHECKED), good).value == pytest.approx(0.12345)
    wrong = one(driver(*CHECKED), good.replace(b"3.4", b"3.5"))
    assert wrong.kind is FaultKind.BAD_CHECKSUM


def test_no_single_wrong_bit_of_a_checked_line_is_read():
    good = checked_line(b"+00123.45  g")
    for bit in range(8 * len(good)):
        spoilt = bytearray(good)
        spoilt[bit // 8] ^= 1 << bit % 8
        items = driver(*CHECKED).feed(bytes(spoilt), 0.0)
        assert not any(isinstance(item, Reading) for item in items), bytes(spoilt)


def test_a_crc_over_a_line():
    fields = (*CHECKED[:-1], {"kind": "checksum", "algorithm": "crc16"})
    body = b"+00123.45  g"
    line = body + b"%04X\r\n" % crc16(body)
    assert one(driver(*fields), line).value == pytest.approx(0.12345)
    assert one(driver(*fields), body + b"0000\r\n").kind is FaultKind.BAD_CHECKSUM


def test_start_and_end_bytes():
    made = driver(start="\x02", terminator="\x03")
    items = made.feed(b"rest\x03noise\x02+00001\x02+00123.45  g\x03+00123.45  g\x03", 0.0)
    assert [item.value for item in items] == [pytest.approx(0.12345)]
    assert made.counts.discarded_bytes == len(b"rest\x03noise\x02+00001+00123.45  g\x03")


def test_frames_without_an_end_are_found_in_a_running_stream():
    made = driver(unterminated=True)
    items = made.feed(b"23.45  g" + b"+00123.45  g" * 3, 0.0)
    assert [item.value for item in items] == [pytest.approx(0.12345)] * 3
    assert made.counts.discarded_bytes == 8


# --- damage --------------------------------------------------------------------------------------


def test_one_wrong_bit_in_ten_looks_plausible():
    """Why capture wants several frames that agree: a line without checksum cannot do better."""
    frame = b"+00123.45  g\r\n"
    outcomes = Counter()
    for bit in range(8 * len(frame)):
        spoilt = bytearray(frame)
        spoilt[bit // 8] ^= 1 << bit % 8
        items = driver().feed(bytes(spoilt), 0.0)
        outcomes["read" if any(isinstance(i, Reading) for i in items) else "refused"] += 1
    assert 0 < outcomes["read"] / outcomes.total() < 0.25


@given(st.integers(-999_999, 999_999), st.sampled_from(["g", "kg"]), st.data())
def test_what_was_sent_is_what_is_read(steps, unit, data):
    number = f"{abs(steps) / 100:08.2f}"
    line = f"{'-' if steps < 0 else '+'}{number}{unit:>3}\r\n".encode()
    cut = data.draw(st.integers(0, len(line)))
    made = driver()
    (reading,) = made.feed(line[:cut], 0.0) + made.feed(line[cut:], 0.0)
    assert reading.value == pytest.approx(steps / 100 * UNITS[unit], rel=1e-14, abs=1e-18)
    assert (reading.unit, reading.raw) == (unit, line)


pieces = st.one_of(
    st.binary(max_size=30),
    st.sampled_from([b"+00123.45  g\r\n", b"+00123.45", b"\r\n", b"\n", b"-00000.01 kg\r\n", b"+"]),
)


@given(st.lists(pieces, max_size=12), st.lists(st.integers(0, 200), max_size=8))
def test_any_bytes_in_any_chunks(parts, cuts):
    data = b"".join(parts)
    edges = [0, *sorted(min(cut, len(data)) for cut in cuts), len(data)]
    chunked, whole = driver(), driver()
    items = [i for a, b in itertools.pairwise(edges) for i in chunked.feed(data[a:b], 0.0)]
    assert items == whole.feed(data, 0.0)
    assert chunked.counts == whole.counts
    kept = len(data) - sum(len(item.raw) for item in items) - chunked.counts.discarded_bytes
    assert 0 <= kept <= 256
    assert chunked.counts.frames == chunked.counts.readings + chunked.counts.rejected


def test_the_worst_line_is_matched_in_no_time():
    """A line that almost matches, as long as a line may be, thousands of times over."""
    made = driver({"kind": "number", "longest": 16}, SIGN, {"kind": "unit"}, poll="P")
    line = b"1" * 250 + b"\r\n"
    start = time.perf_counter()
    items = made.feed(line * 2000, 0.0)
    assert time.perf_counter() - start < 2.0
    assert {item.kind for item in items} == {FaultKind.BAD_FRAME}


def test_a_fault_says_why_and_keeps_the_bytes():
    made = driver()
    short = one(made, b"+0123.45  g\r\n")
    assert short.detail == "11 characters where 12 are due"
    unit = one(made, b"+00123.45 <b\r\n")
    assert (unit.kind, unit.raw) == (FaultKind.UNKNOWN_UNIT, b"+00123.45 <b\r\n")
    assert "' <b'" in unit.detail
    assert "column 1" in one(made, b"?00123.45  g\r\n").detail


def test_damage_is_counted_by_kind():
    made = driver()
    made.feed(b"+00123.45  g\r\n+0123.45  g\r\n+00123.45 lb\r\n+00123.45 lb\r\n", 0.0)
    assert (made.counts.frames, made.counts.readings, made.counts.rejected) == (4, 1, 3)
    assert made.counts.by_kind == {FaultKind.BAD_FRAME: 1, FaultKind.UNKNOWN_UNIT: 2}


# --- options -------------------------------------------------------------------------------------


@pytest.mark.parametrize(
    ("changes", "named"),
    [
        ({"units": {}}, "units"),
        ({"units": {" g": 0.001}}, " g"),
        ({"units": {"g": 0.0}}, "g"),
        ({"units": {"g": float("nan")}}, "g"),
        ({"decimal": "x"}, "decimal"),
        ({"terminator": "\r\n\r\n"}, "terminator"),
        ({"terminator": ""}, "terminator"),
        ({"commands": {"explode": "X"}}, "explode"),
        ({"messages": {"OL": "stable"}}, "OL"),
        ({"replies": {"T S": {"command": "tare"}}}, "command"),
        ({"fields": []}, "fields"),
        ({"fields": "ST"}, "fields"),
        ({"start": "\x02"}, "terminator"),
        ({"channel": {"quantity": "pressure"}}, "reference"),
        ({"channel": {"quantity": "torque"}}, "quantity"),
        ({"poll": ""}, "poll"),
        ({"poll": "\u00e9"}, "poll"),
    ],
)
def test_an_option_that_makes_no_sense_is_refused_by_name(changes, named):
    with pytest.raises(OptionError) as refused:
        driver(**changes)
    assert named in str(refused.value)


@pytest.mark.parametrize(
    ("fields", "named"),
    [
        ([SIGN, UNIT], "number"),
        ([SIGN, NUMBER, NUMBER, UNIT], "number"),
        ([{"kind": "colour"}, NUMBER], "kind"),
        ([SIGN, NUMBER, {"kind": "unit", "width": 1, "align": "left"}], "width"),
        ([SIGN, {**NUMBER, "codes": {"^^": "overload"}}, UNIT], "codes"),
        ([{"kind": "status", "codes": {"OL": "overload"}}, NUMBER, UNIT], "codes"),
        ([{**SIGN, "minus": "+"}, NUMBER, UNIT], "minus"),
        ([{"kind": "checksum", "algorithm": "xor"}, NUMBER, UNIT], "checksum"),
        ([SIGN, {**NUMBER, "colour": 3}, UNIT], "colour"),
        ([SIGN, NUMBER], "unit"),
    ],
)
def test_columns_that_make_no_sense_are_refused_by_name(fields, named):
    with pytest.raises(OptionError) as refused:
        driver(*fields)
    assert named in str(refused.value)


def test_a_variable_width_needs_an_end():
    with pytest.raises(OptionError, match="unterminated"):
        driver({"kind": "number"}, UNIT, unterminated=True)


def test_commands_are_those_of_the_profile():
    made = driver(commands={"tare": "T\r\n"})
    assert made.capabilities == {"tare"}
    assert made.command("tare") == b"T\r\n"
    with pytest.raises(UnsupportedCommandError, match="zero"):
        made.command("zero")


def test_messages_stand_for_whole_lines():
    made = driver(messages={"E##": "error", "a.c": "overload"}, poll="P")
    assert one(made, b"E07\r\n").kind is FaultKind.DEVICE_ERROR
    assert one(made, b"a.c\r\n").kind is FaultKind.OVER_RANGE
    for line in (b"abc\r\n", b"E7\r\n", b"E077\r\n", b"E0x\r\n"):
        fault = one(made, line)
        assert isinstance(fault, Fault)
        assert fault.kind is FaultKind.BAD_FRAME
