"""Fields of a text frame: status bits, implied decimals, filler, every form of check characters."""

import pytest
from hypothesis import given
from hypothesis import strategies as st

from benchstation.driver_api.errors import OptionError
from benchstation.driver_api.framing import CHECKSUMS
from benchstation.driver_api.reading import Fault, FaultKind, Reading
from drivers.text_line import TextLineDriver

SIGN = {"kind": "sign", "plus": "+", "minus": "-"}
NUMBER = {"kind": "number", "width": 6, "pad": "zero"}
UNIT = {"kind": "unit", "width": 2, "align": "right"}


def driver(*fields, **changes):
    given_options = {"channel": {"quantity": "mass"}, "units": {"g": 0.001, "kg": 1.0}}
    return TextLineDriver(given_options | {"fields": [dict(f) for f in fields]} | changes)


def one(made, data):
    (item,) = made.feed(data, 0.0)
    return item


# --- numbers, filler, states ---------------------------------------------------------------------


@pytest.mark.parametrize(("decimals", "value"), [(0, 123.456), (2, 1.23456), (5, 0.00123456)])
def test_implied_decimals(decimals, value):
    """The device sends 123456; where the point belongs is known from its manual."""
    reading = one(driver(SIGN, {**NUMBER, "decimals": decimals}, UNIT), b"+123456 g\r\n")
    assert reading.value == pytest.approx(value, rel=1e-15)
    assert reading.resolution == pytest.approx(1e-3 / 10**decimals)


def test_a_point_where_none_is_sent_is_damage():
    made = driver(SIGN, {**NUMBER, "decimals": 2}, UNIT)
    assert one(made, b"+123.56 g\r\n").kind is FaultKind.BAD_FRAME


def test_filler_may_be_anything_of_its_kind():
    made = driver(SIGN, NUMBER, UNIT, {"kind": "other", "width": 3, "holds": "digits"})
    assert one(made, b"+123.45 g 07\r\n").value == pytest.approx(0.12345)
    assert one(made, b"+123.45 g x7\r\n").kind is FaultKind.BAD_FRAME
    made = driver(SIGN, NUMBER, UNIT, {"kind": "other", "width": 3, "holds": "printable"})
    assert one(made, b"+123.45 g x7\r\n").value == pytest.approx(0.12345)
    assert one(made, b"+123.45 g \x007\r\n").kind is FaultKind.BAD_FRAME


def test_steady_at_zero_is_steady():
    status = {"kind": "status", "codes": {"Z": "zero", "S": "stable", "M": "moving"}}
    made = driver(status, SIGN, NUMBER, UNIT)
    assert [one(made, b"%c+000.00 g\r\n" % c).stable for c in b"ZSM"] == [True, True, False]


# --- status bits ---------------------------------------------------------------------------------

BITS = {
    "kind": "bits",
    "always": {"mask": 0xC0, "value": 0x40},
    "bits": [
        {"mask": 1, "value": 1, "means": "minus"},
        {"mask": 2, "value": 2, "means": "moving"},
        {"mask": 2, "value": 0, "means": "stable"},
        {"mask": 4, "value": 4, "means": "unit kg"},
        {"mask": 4, "value": 0, "means": "unit g"},
        {"mask": 8, "value": 8, "means": "decimals 3"},
        {"mask": 16, "value": 16, "means": "overload"},
    ],
}


@given(st.integers(0, 255), st.integers(0, 999_999))
def test_every_status_byte_says_what_its_bits_say(byte, digits):
    """Worked out beside the driver: sign, unit, point and motion from the bits of one byte."""
    made = driver(BITS, {**NUMBER, "decimals": 0}, unterminated=True)
    line = bytes((byte,)) + b"%06d" % digits
    items = made.feed(line, 0.0)
    if byte & 0xC0 != 0x40:
        assert all(isinstance(item, Fault) for item in items)
        return
    (item,) = items
    if byte & 16:
        assert item.kind is FaultKind.OVER_RANGE
        return
    value = digits / (1000 if byte & 8 else 1) * (1.0 if byte & 4 else 0.001)
    assert item.value == pytest.approx(-value if byte & 1 else value, rel=1e-15)
    assert item.unit == ("kg" if byte & 4 else "g")
    assert item.stable is not bool(byte & 2)


def test_bits_in_hexadecimal_digits():
    bits = {**BITS, "form": "hex", "width": 4, "always": {"mask": 0xFFE0, "value": 0x1200}}
    made = driver(bits, {"kind": "literal", "text": ":"}, NUMBER)
    assert one(made, b"1205:123.45\r\n").value == pytest.approx(-123.45)
    assert one(made, b"1210:------\r\n").kind is FaultKind.OVER_RANGE
    assert one(made, b"1300:123.45\r\n").kind is FaultKind.BAD_FRAME
    assert one(made, b"120g:123.45\r\n").kind is FaultKind.BAD_FRAME


def test_columns_keep_their_say_where_the_bits_are_silent():
    bits = {"kind": "bits", "bits": [{"mask": 1, "value": 1, "means": "net"}]}
    status = {"kind": "status", "codes": {"S": "stable", "M": "moving"}}
    made = driver(status, SIGN, bits, NUMBER, UNIT)
    reading = one(made, b"S-1123.45 g\r\n")
    assert (reading.stable, reading.net, reading.value) == (True, True, pytest.approx(-0.12345))
    assert one(made, b"S-0123.45 g\r\n").net is None


def test_a_line_cut_to_nothing_is_a_fault():
    made = driver(BITS, {"kind": "number"}, {"kind": "unit"}, poll="P")
    assert one(made, b"\r\n").kind is FaultKind.BAD_FRAME


# --- check characters ----------------------------------------------------------------------------

FORMS = [
    {"algorithm": algorithm, "form": form, **place}
    for algorithm in CHECKSUMS
    for form in ("hex", "byte")
    for place in ({}, {"after_end": True}, {"after_end": True, "covers_start": True})
]


def framed(check, body):
    """Build a frame as the manual of such a device says, without the driver's own code."""
    function, size = CHECKSUMS[check["algorithm"]]
    after = check.get("after_end", False)
    covered = (b"\x02" if check.get("covers_start") else b"") + body + (b"\x03" if after else b"")
    value = function(covered)
    digits = b"%0*X" % (2 * size, value) if check["form"] == "hex" else value.to_bytes(size, "big")
    return b"\x02" + body + (b"\x03" + digits if after else digits + b"\x03")


def usable(check):
    return check["form"] == "hex" or check.get("after_end")


@pytest.mark.parametrize("check", [form for form in FORMS if usable(form)], ids=str)
def test_every_form_of_check_characters(check):
    fields = (SIGN, NUMBER, UNIT, {"kind": "checksum", **check})
    ends = {"start": "\x02", "terminator": "\x03"}
    for digits in range(0, 99_999, 997):
        body = b"+%06.2f g" % (digits / 100)
        good = framed(check, body)
        made = driver(*fields, **ends)
        assert one(made, good).value == pytest.approx(digits / 1e5, rel=1e-14)
        assert one(made, good).raw == good
    for bit in range(8 * len(good)):
        spoilt = bytearray(good)
        spoilt[bit // 8] ^= 1 << bit % 8
        items = driver(*fields, **ends).feed(bytes(spoilt) + good, 0.0)
        assert {item.raw for item in items if isinstance(item, Reading)} <= {good}, bytes(spoilt)


def test_frames_of_fixed_length_are_found_by_their_check_byte():
    check = {"kind": "checksum", "algorithm": "sum", "form": "byte"}
    made = driver(SIGN, NUMBER, UNIT, check, unterminated=True)
    frame = b"+123.45 g" + bytes((sum(b"+123.45 g") & 0xFF,))
    items = made.feed(b"\x00" + frame + b"+123.45 g!" + frame, 0.0)
    assert [item.value for item in items] == [pytest.approx(0.12345)] * 2
    assert made.counts.discarded_bytes == 11


# --- what makes no sense -------------------------------------------------------------------------

FRAMED = {"start": "\x02", "terminator": "\x03"}
CHECK = {"kind": "checksum", "algorithm": "xor"}


@pytest.mark.parametrize(
    ("fields", "changes", "named"),
    [
        ([{**BITS, "bits": []}, NUMBER], {}, "bits"),
        ([{**BITS, "always": {"mask": 1, "value": 2}}, NUMBER], {}, "value"),
        ([{**BITS, "bits": [{"mask": 256, "value": 0, "means": "net"}]}, NUMBER], {}, "mask"),
        ([{**BITS, "bits": [{"mask": 1, "value": 1, "means": "unit lb"}]}, NUMBER], {}, "means"),
        ([{**BITS, "bits": [{"mask": 1, "value": 1, "means": "decimals x"}]}, NUMBER], {}, "means"),
        ([{**BITS, "bits": [{"mask": 1, "value": 1, "means": "plain"}]}, NUMBER], {}, "means"),
        ([{**BITS, "width": 2}, NUMBER], {}, "width"),
        ([{"kind": "number"}, BITS], {}, "kind"),
        ([SIGN, NUMBER, UNIT, {"kind": "other", "width": 0, "holds": "digits"}], {}, "width"),
        ([SIGN, NUMBER, UNIT, {"kind": "other", "width": 1, "holds": "hopes"}], {}, "holds"),
        ([SIGN, {**NUMBER, "decimals": 10}, UNIT], {}, "decimals"),
        ([SIGN, NUMBER, UNIT, {**CHECK, "form": "byte"}], {}, "form"),
        ([SIGN, NUMBER, UNIT, {**CHECK, "after_end": True}], {}, "after_end"),
        ([SIGN, NUMBER, UNIT, {**CHECK, "algorithm": "hope"}], {}, "algorithm"),
        (
            [SIGN, NUMBER, UNIT, {**CHECK, "after_end": True}],
            {**FRAMED, "messages": {"OL": "overload"}},
            "fields",
        ),
    ],
)
def test_fields_that_make_no_sense_are_refused_by_name(fields, changes, named):
    with pytest.raises(OptionError) as refused:
        driver(*fields, **changes)
    assert f"'{named}'" in str(refused.value)
