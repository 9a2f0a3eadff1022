import hashlib
import json
import math
from enum import StrEnum

import pytest
import rfc8785
from hypothesis import given
from hypothesis import strategies as st

from benchstation.store.canonical import SAFE_INTEGER, canonical, parsed
from benchstation.store.errors import NotStorableError

# RFC 8785, 3.2.2: the sample and its canonical form.
RFC_SAMPLE = r"""{
  "numbers": [333333333.33333329, 1E30, 4.50, 2e-3, 0.000000000000000000000000001],
  "string": "\u20ac$\u000F\u000aA'\u0042\u0022\u005c\\\"\/",
  "literals": [null, true, false]
}"""
RFC_CANONICAL = (
    r'{"literals":[null,true,false],"numbers":[333333333.3333333,1e+30,4.5,0.002,1e-27],'
    r'"string":"€$\u000f\nA' + "'" + r'B\"\\\\\"/"}'
)

# RFC 8785, appendix B: numbers by their IEEE 754 bits.
RFC_NUMBERS = {
    "0000000000000000": "0", "8000000000000000": "0", "0000000000000001": "5e-324",
    "8000000000000001": "-5e-324", "7fefffffffffffff": "1.7976931348623157e+308",
    "ffefffffffffffff": "-1.7976931348623157e+308", "4340000000000000": "9007199254740992",
    "c340000000000000": "-9007199254740992", "4430000000000000": "295147905179352830000",
    "44b52d02c7e14af5": "9.999999999999997e+22", "44b52d02c7e14af6": "1e+23",
    "44b52d02c7e14af7": "1.0000000000000001e+23", "444b1ae4d6e2ef4e": "999999999999999700000",
    "444b1ae4d6e2ef4f": "999999999999999900000", "444b1ae4d6e2ef50": "1e+21",
    "3eb0c6f7a0b5ed8c": "9.999999999999997e-7", "3eb0c6f7a0b5ed8d": "0.000001",
    "41b3de4355555553": "333333333.3333332", "41b3de4355555554": "333333333.33333325",
    "41b3de4355555555": "333333333.3333333", "41b3de4355555556": "333333333.3333334",
    "41b3de4355555557": "333333333.33333343", "becbf647612f3696": "-0.0000033333333333333333",
    "43143ff3c1cb0959": "1424953923781206.2",
}  # fmt: skip

# RFC 8785, 3.2.3: keys in the order of their UTF-16 units.
RFC_KEYS = ["\r", "1", "\u0080", "\u00f6", "\u20ac", "\U0001f600", "\ufb33"]

json_values = st.recursive(
    st.none()
    | st.booleans()
    | st.integers(-SAFE_INTEGER, SAFE_INTEGER)
    | st.floats(allow_nan=False, allow_infinity=False)
    | st.text(st.characters(codec="utf-8")),
    lambda inner: (
        st.lists(inner, max_size=4)
        | st.lists(inner, max_size=4).map(tuple)
        | st.dictionaries(st.text(st.characters(codec="utf-8"), max_size=5), inner, max_size=4)
    ),
    max_leaves=20,
)


def test_the_sample_of_the_standard():
    assert canonical(json.loads(RFC_SAMPLE)).decode() == RFC_CANONICAL


@pytest.mark.parametrize(("bits", "text"), RFC_NUMBERS.items())
def test_the_numbers_of_the_standard(bits, text):
    import struct

    (value,) = struct.unpack(">d", bytes.fromhex(bits))
    assert canonical(value).decode() == text


def test_the_key_order_of_the_standard():
    mapping = dict.fromkeys(sorted(RFC_KEYS, key=lambda k: hashlib.sha256(k.encode()).digest()), 1)
    assert list(json.loads(canonical(mapping))) == RFC_KEYS


@given(json_values)
def test_it_writes_what_the_library_writes(value):
    assert canonical(value) == rfc8785.dumps(value)


@given(st.dictionaries(st.text(st.characters(codec="utf-8"), max_size=5), json_values))
def test_what_is_read_back_is_written_the_same(value):
    assert canonical(parsed(canonical(value))) == canonical(value)


@given(st.floats(allow_nan=False, allow_infinity=False))
def test_every_number_comes_back_bit_by_bit(value):
    back = float(parsed(canonical({"v": value}))["v"])
    assert back == value
    assert math.copysign(1, back) == math.copysign(1, value) or value == 0


class Word(StrEnum):
    PASS = "pass"


def test_a_word_of_ours_is_text():
    assert canonical({"decision": Word.PASS}) == b'{"decision":"pass"}'


@pytest.mark.parametrize(
    "value",
    [
        math.nan, math.inf, -math.inf, 2**53, -(2**53), "\ud800", {1: "a"}, {None: 1}, b"x", {1, 2},
        {"deep": [{"x": math.nan}]}, {"\ud800": 1}, object(), 1j,
    ],
)  # fmt: skip
def test_what_has_no_exact_form_is_refused_in_words(value):
    with pytest.raises(NotStorableError, match="Nothing of it was kept"):
        canonical({"value": value} if value != {1: "a"} else value)


@pytest.mark.parametrize("body", [b"", b"[]", b"3", b"{", b"\xff"])
def test_what_is_no_body_is_no_body(body):
    with pytest.raises(ValueError):
        parsed(body)
