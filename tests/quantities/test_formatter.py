"""Values as text: one notation for numbers of any size and their uncertainty."""

import math
import re
import time
from datetime import UTC, datetime, timedelta, timezone

import pytest
from hypothesis import given
from hypothesis import strategies as st

from benchstation.quantities.formatter import (
    METRIC,
    QuantityFormatter,
    file_stamp,
    lately,
    local_clock,
    local_month,
    local_time,
    signed,
)
from benchstation.quantities.notation import NO_VALUE, powered, scientific
from benchstation.quantities.units import Dimension, Shown, UnitSystem, shown


@pytest.mark.parametrize(
    ("value", "expanded", "text"),
    [
        (-1.73e-5, 2.98e-4, "(−0.02 ± 0.30) × 10⁻³"),
        # JCGM 100:2008, 7.2.4: (100.021 47 ± 0.000 79) g; from memory.
        (100.02147, 0.00079, "(100.02147 ± 0.00079)"),
        (1.234e-3, 0.0996e-3, "(1.23 ± 0.10) × 10⁻³"),
        (0.9996, 0.0, "1.00"),
        (2e-3, 0.0, "2.00 × 10⁻³"),
        (999.7e-6, 0.0, "1.00 × 10⁻³"),
        (1.2e-6, 0.0, "1.20 × 10⁻⁶"),
        (-4e-6, 3e-4, "(0.00 ± 0.30) × 10⁻³"),
        (0.0, 0.0, "0.00"),
        (0.0, 3.1e-4, "(0.00 ± 0.31) × 10⁻³"),
        (16.0, 120.0, "(0.02 ± 0.12) × 10³"),
        (math.nan, 1e-4, NO_VALUE),
        (1e-4, math.inf, NO_VALUE),
    ],
)
def test_powers_of_a_thousand_and_two_digits_of_the_uncertainty(value, expanded, text):
    assert powered(value, expanded) == text


NUMBERS = st.floats(1e-12, 1e6)


@given(NUMBERS | NUMBERS.map(lambda n: -n), NUMBERS)
def test_what_is_written_is_the_value_within_half_the_last_place(value, expanded):
    text = powered(value, expanded).replace("−", "-")
    shown, u, power = re.fullmatch(r"\((\S+) ± (\S+)\)(?: × 10(\S+))?", text).groups()
    power = int((power or "0").translate(str.maketrans("⁻⁰¹²³⁴⁵⁶⁷⁸⁹", "-0123456789")))
    assert power % 3 == 0
    place = 10.0 ** (math.floor(math.log10(float(u) * 10.0**power * (1 + 1e-12))) - 1)
    assert float(u) * 10.0**power == pytest.approx(expanded, abs=0.5001 * place)
    assert float(shown) * 10.0**power == pytest.approx(value, abs=0.5001 * place, rel=1e-14)


def test_a_leak_rate_has_its_unit_in_both_systems():
    for system in UnitSystem:
        assert QuantityFormatter(system).leak(-1.73e-5, 2.98e-4) == "(−0.02 ± 0.30) × 10⁻³ Pa m³/s"


@pytest.mark.parametrize(
    ("kg", "text"), [(3e-4, "+0.3 g"), (-3e-4, "−0.3 g"), (4e-5, "0.0 g"), (-4e-5, "0.0 g")]
)
def test_a_difference_has_its_sign_unless_it_rounds_to_nothing(kg, text):
    assert str(METRIC.mass_difference(kg)) == text


def test_a_difference_of_no_value_has_no_sign():
    assert signed(Shown(NO_VALUE, "g", math.nan)).number == NO_VALUE


@pytest.mark.parametrize(
    ("value", "expanded", "text"),
    [
        # Two significant digits of U, and the value ends where U ends (JCGM 100:2008, 7.2.6).
        (0.2613249, 0.000152, "(261.32 ± 0.15) g (U, k = 2.00)"),
        (0.2613249, 0.0000152, "(261.325 ± 0.015) g (U, k = 2.00)"),
        (0.2613249, 0.0152, "(261 ± 15) g (U, k = 2.00)"),
        (0.2613249, 0.0, "(261.3 ± 0.0) g (U, k = 2.00)"),
    ],
)
def test_a_judged_value_has_no_more_digits_than_its_uncertainty_allows(value, expanded, text):
    assert METRIC.judged_mass(value, expanded, 2.0) == text


def test_a_judged_pressure_says_that_it_is_gauge():
    text = METRIC.judged_gauge(15.0134e5, 0.0496e5, 2.0)
    assert text == "(15.013 ± 0.050) bar (U, k = 2.00) gauge"


@pytest.mark.parametrize(("value", "text"), [(7.375e-4, "7.375 × 10⁻⁴"), (2.5, "2.500")])
def test_a_number_with_one_digit_before_the_point(value, text):
    assert scientific(value, 4) == text


@given(st.floats(1e-12, 1e12))
def test_no_number_on_a_screen_is_written_as_a_program_writes_it(value):
    for dimension in Dimension:
        for system in UnitSystem:
            assert "e" not in shown(value, dimension, system).number


@pytest.mark.skipif(not hasattr(time, "tzset"), reason="this system sets no zone for a process")
@pytest.mark.parametrize(
    ("zone", "text"),
    [
        ("CET-1CEST,M3.5.0,M10.5.0/3", "2026-07-01 14:05 CEST"),
        ("UTC0", "2026-07-01 12:05 UTC"),
        ("<+0545>-5:45", "2026-07-01 17:50 UTC+0545"),
    ],
)
def test_a_time_is_local_and_names_its_zone(monkeypatch, zone, text):
    utc = datetime(2026, 7, 1, 12, 5, 9, tzinfo=UTC)
    try:
        with monkeypatch.context() as patched:
            patched.setenv("TZ", zone)
            time.tzset()
            assert local_time(utc) == text
            assert local_clock(utc) == text[11:16] + ":09" + text[16:]
    finally:
        time.tzset()


def test_a_month_is_in_digits_and_a_file_is_stamped_in_utc():
    utc = datetime(2026, 3, 15, 22, 30, 5, tzinfo=UTC)
    assert local_month(utc) == "2026-03"
    assert file_stamp(utc.astimezone(timezone(timedelta(hours=9)))) == "20260315-223005"


@pytest.mark.parametrize(
    ("hours", "alone"), [(0, True), (19.9, True), (20.1, False), (70, False), (-1, False)]
)
def test_a_time_of_day_stands_alone_where_the_last_such_is_meant(hours, alone):
    now = datetime(2026, 7, 2, 6, 5, tzinfo=UTC)
    utc = now - timedelta(hours=hours)
    assert lately(utc, now) == (local_clock(utc, seconds=False) if alone else local_time(utc))
