"""Constants of control charts against computed and printed tables."""

import math

import pytest

from benchstation.metrology.chart_constants import chart_constants
from benchstation.metrology.errors import MetrologyError
from tests.reference_rows import assert_agrees, rows

TABLE = [
    r
    for r in rows("spc.csv", example="Shewhart constants")
    if r["quantity"].startswith("control_chart_constant")
]


def constant(name, n):
    """Each factor of the tables from d2, d3 and c4 (ASTM E2587)."""
    c = chart_constants(n)
    spread = 3.0 * math.sqrt(1.0 - c.c4**2) / c.c4
    return {
        "d2": c.d2,
        "d3": c.d3,
        "c4": c.c4,
        "A2": 3.0 / (c.d2 * math.sqrt(n)),
        "A3": 3.0 / (c.c4 * math.sqrt(n)),
        "B3": max(0.0, 1.0 - spread),
        "B4": 1.0 + spread,
        "D3": c.range_lower_factor,
        "D4": c.range_upper_factor,
        "E2": 3.0 / c.d2,
    }[name]


@pytest.mark.parametrize("reference", TABLE, ids=str)
def test_published_constants(reference):
    name, n = reference["quantity"].rpartition("_")[2], int(reference["inputs"][2:])
    assert_agrees(reference, constant(name, n))


PRINTED = [r for r in TABLE if r["quantity"].endswith(("published_D3", "published_D4"))]


@pytest.mark.parametrize("reference", PRINTED, ids=str)
def test_charts_are_drawn_with_what_tables_print(reference):
    """To the last digit: D4 of two is 3.267, and 3.269 from a d2 and d3 that were rounded."""
    printed = chart_constants(int(reference["inputs"][2:])).published
    lower = reference["quantity"].endswith("D3")
    found = printed.range_lower_factor if lower else printed.range_upper_factor
    assert found == float(reference["value"])


def test_the_d2_of_two_as_printed():
    """1.128 (e-Handbook 6.3.2.2); by itself it is 2 over the root of pi."""
    assert chart_constants(2).published.d2 == 1.128


@pytest.mark.parametrize("n", [1, 26])
def test_beyond_the_table(n):
    with pytest.raises(MetrologyError):
        chart_constants(n)


def test_constants_grow_with_the_sample():
    found = [chart_constants(n) for n in range(2, 26)]
    assert [c.d2 for c in found] == sorted(c.d2 for c in found)
    assert [c.c4 for c in found] == sorted(c.c4 for c in found)
