"""Charts on paper keep extremes and label round values."""

from datetime import UTC, datetime

import numpy as np
import pytest

from benchstation.quantities.units import Dimension, UnitSystem
from benchstation.reports.chart import MOST_POINTS, _thinned, steps, trace_chart
from benchstation.reports.fonts import register_fonts
from benchstation.store.traces import Trace


def trace_of(values) -> Trace:
    values = np.asarray(values, dtype=float)
    t = np.arange(len(values), dtype=np.int64) * 100_000
    return Trace(t, {"gauge_pa": values}, {"gauge_pa": "Pa"}, datetime(2026, 3, 3, tzinfo=UTC))


@pytest.mark.parametrize(
    ("low", "high", "expected"),
    [
        (0, 10, [0, 2, 4, 6, 8, 10]),
        (0, 240, [0, 50, 100, 150, 200]),
        (0, 0.9, [0, 0.2, 0.4, 0.6, 0.8]),
    ],
)
def test_round_values(low, high, expected):
    assert steps(low, high) == pytest.approx(expected)


def test_a_spike_survives_the_thinning():
    values = np.zeros(100_000)
    values[54_321] = 31e5
    seconds, thinned = _thinned(trace_of(values))
    assert len(thinned) <= MOST_POINTS
    assert thinned.max() == 31e5
    assert seconds[thinned.argmax()] == pytest.approx(5432.1)


def test_missing_samples_are_left_out():
    _, thinned = _thinned(trace_of([1.0, np.nan, 3.0]))
    assert list(thinned) == [1.0, 3.0]


def test_no_trace_is_said():
    register_fonts()
    drawing = trace_chart(
        None, "Pour", Dimension.MASS, UnitSystem.METRIC, (200, 100), levels=(("target", 0.2),)
    )
    assert any(getattr(s, "text", "") == "no samples on record" for s in drawing.contents)
