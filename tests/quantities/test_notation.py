"""Numbers as they are written: no more digits than asked for, powers with a raised exponent."""

import math

import pytest
from hypothesis import given
from hypothesis import strategies as st

from benchstation.quantities.notation import NO_VALUE, scientific, significant


@pytest.mark.parametrize(
    ("value", "text"),
    [
        (0.0, "0"),
        (12.0, "12"),
        (1.6448536269514715, "1.645"),
        (-0.0123456, "−0.01235"),
        (115000.0, "115000"),
        (999_999.0, "1 × 10⁶"),
        (1.2e-6, "1.2 × 10⁻⁶"),
        (-7.25e9, "−7.25 × 10⁹"),
        (math.nan, NO_VALUE),
        (math.inf, NO_VALUE),
    ],
)
def test_four_significant_digits_and_no_zeros_behind(value, text):
    assert significant(value, 4) == text


@given(st.floats(-1e30, 1e30, allow_subnormal=False))
def test_what_is_written_is_the_rounded_value_and_never_an_e(value):
    text = significant(value, 4)
    assert "e" not in text
    number, _, power = text.replace("−", "-").partition(" × 10")
    raised = power.translate(str.maketrans("⁻⁰¹²³⁴⁵⁶⁷⁸⁹", "-0123456789"))
    back = float(number) * 10.0 ** int(raised or 0)
    assert back == pytest.approx(value, rel=5.1e-4, abs=1e-300)


def test_one_digit_before_the_point():
    assert scientific(1234.5, 3) == "1.23 × 10³"
    assert scientific(1.0, 3) == "1.00"
