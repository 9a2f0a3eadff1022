"""Values as text: one notation for numbers of any size and their uncertainty."""

import math
import re

import pytest
from hypothesis import given
from hypothesis import strategies as st

from benchstation.quantities.formatter import QuantityFormatter, powered
from benchstation.quantities.units import NO_VALUE, UnitSystem


@pytest.mark.parametrize(
    ("value", "expanded", "text"),
    [
        (-1.73e-5, 2.98e-4, "(-0.02 ± 0.30) × 10^-3"),
        # JCGM 100:2008, 7.2.4: (100.021 47 ± 0.000 79) g; from memory.
        (100.02147, 0.00079, "(100.02147 ± 0.00079)"),
        (1.234e-3, 0.0996e-3, "(1.23 ± 0.10) × 10^-3"),
        (0.9996, 0.0, "1.00"),
        (2e-3, 0.0, "2.00 × 10^-3"),
        (999.7e-6, 0.0, "1.00 × 10^-3"),
        (1.2e-6, 0.0, "1.20 × 10^-6"),
        (-4e-6, 3e-4, "(0.00 ± 0.30) × 10^-3"),
        (0.0, 0.0, "0.00"),
        (0.0, 3.1e-4, "(0.00 ± 0.31) × 10^-3"),
        (16.0, 120.0, "(0.02 ± 0.12) × 10^3"),
        (math.nan, 1e-4, NO_VALUE),
        (1e-4, math.inf, NO_VALUE),
    ],
)
def test_powers_of_a_thousand_and_two_digits_of_the_uncertainty(value, expanded, text):
    assert powered(value, expanded) == text


NUMBERS = st.floats(1e-12, 1e6)


@given(NUMBERS | NUMBERS.map(lambda n: -n), NUMBERS)
def test_what_is_written_is_the_value_within_half_the_last_place(value, expanded):
    text = powered(value, expanded)
    shown, u, power = re.fullmatch(r"\((\S+) ± (\S+)\)(?: × 10\^(\S+))?", text).groups()
    power = int(power or 0)
    assert power % 3 == 0
    place = 10.0 ** (math.floor(math.log10(float(u) * 10.0**power * (1 + 1e-12))) - 1)
    assert float(u) * 10.0**power == pytest.approx(expanded, abs=0.5001 * place)
    assert float(shown) * 10.0**power == pytest.approx(value, abs=0.5001 * place, rel=1e-14)


def test_a_leak_rate_has_its_unit_in_both_systems():
    for system in UnitSystem:
        assert QuantityFormatter(system).leak(-1.73e-5, 2.98e-4) == "(-0.02 ± 0.30) × 10^-3 Pa m³/s"
