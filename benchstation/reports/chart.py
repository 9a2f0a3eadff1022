"""A stored trace as a small chart on paper."""

from collections.abc import Sequence

import numpy as np
from reportlab.graphics.shapes import Drawing, Line, PolyLine, String

from benchstation.quantities.notation import significant, tick_text
from benchstation.quantities.units import Dimension, UnitSystem, display_unit, to_display
from benchstation.reports.fonts import BODY
from benchstation.reports.paper import ACCENT, FAINT, INK, RULE
from benchstation.store.traces import Trace

MOST_POINTS = 800
LEFT, BOTTOM, TOP, RIGHT = 28.0, 16.0, 12.0, 4.0
DASH = (3, 2)


def steps(low: float, high: float) -> list[float]:
    """Return about five round values between ``low`` and ``high``."""
    span = max(high - low, 1e-9)
    rough = span / 5.5
    power = 10.0 ** np.floor(np.log10(rough))
    step = next(power * m for m in (1, 2, 5, 10) if power * m >= rough)
    first = int(np.ceil(low / step - 1e-9))
    last = int(np.floor(high / step + 1e-9))
    return [n * step for n in range(first, last + 1)]


def _step_of(steps: Sequence[float]) -> float:
    return steps[1] - steps[0] if len(steps) > 1 else 0.0


def trace_chart(
    trace: Trace | None,
    title: str,
    dimension: Dimension,
    system: UnitSystem,
    size: tuple[float, float],
    *,
    levels: Sequence[tuple[str, float]],
    from_zero: bool = True,
) -> Drawing:
    """Draw the first channel of a trace in display units, its levels (SI) as dashed lines.

    A level far above everything that was measured is left out.
    """
    width, height = size
    drawing = Drawing(width, height)
    heading = f"{title}, {display_unit(dimension, system)}"
    drawing.add(String(0, height - 8, heading, fontName=BODY, fontSize=7.2, fillColor=FAINT))
    if trace is None or len(trace.t_us) < 2:
        note = "no samples on record"
        drawing.add(String(LEFT, height / 2, note, fontName=BODY, fontSize=7.2, fillColor=FAINT))
        return drawing
    t, values = _thinned(trace)
    y = np.array([to_display(float(v), dimension, system) for v in values])
    shown = [(name, to_display(level, dimension, system)) for name, level in levels]
    highest = 1.15 * float(y.max())
    lines = [(name, level) for name, level in shown[:1]]
    lines += [(name, level) for name, level in shown[1:] if level <= highest]
    ends = [float(y.min()), float(y.max()), *(level for _, level in lines)]
    margin = 0.1 * max(max(ends) - min(ends), 1e-6)
    low = min(0.0, min(ends)) if from_zero else min(ends) - margin
    high = max(ends) + margin
    end = max(float(t[-1]), 1e-6)
    right, top = width - RIGHT, height - TOP

    def x_of(seconds: float) -> float:
        return LEFT + (right - LEFT) * seconds / end

    def y_of(value: float) -> float:
        return BOTTOM + (top - BOTTOM) * (value - low) / (high - low)

    rows, columns = steps(low, high), steps(0.0, end)
    for value in rows:
        drawing.add(Line(LEFT, y_of(value), right, y_of(value), strokeColor=RULE, strokeWidth=0.4))
        drawing.add(_label(LEFT - 3, y_of(value) - 2.2, tick_text(value, _step_of(rows)), "end"))
    along = _step_of(columns)
    for seconds in columns:
        drawing.add(_label(x_of(seconds), 5, f"{tick_text(seconds, along)} s", "middle"))
    for name, level in lines:
        drawing.add(_dashed(LEFT, right, y_of(level)))
        # Below the line, where a settled trace does not run.
        drawing.add(_label(right, y_of(level) - 7, f"{name} {significant(level, 4)}", "end"))
    points = [c for s, v in zip(t, y, strict=True) for c in (x_of(float(s)), y_of(float(v)))]
    drawing.add(PolyLine(points, strokeColor=ACCENT, strokeWidth=0.9))
    return drawing


def _dashed(left: float, right: float, y: float) -> Line:
    return Line(left, y, right, y, strokeColor=INK, strokeWidth=0.6, strokeDashArray=DASH)


def _label(x: float, y: float, text: str, anchor: str) -> String:
    return String(x, y, text, fontName=BODY, fontSize=6, fillColor=FAINT, textAnchor=anchor)


def _thinned(trace: Trace) -> tuple[np.ndarray, np.ndarray]:
    """Return seconds and values with at most :data:`MOST_POINTS`, each bin by its extremes."""
    values = next(iter(trace.channels.values()))
    seconds = trace.t_us / 1e6
    good = np.isfinite(values)
    seconds, values = seconds[good], values[good]
    if len(values) <= MOST_POINTS:
        return seconds, values
    keep: list[int] = []
    for part in np.array_split(np.arange(len(values)), MOST_POINTS // 2):
        keep += sorted({int(part[values[part].argmin()]), int(part[values[part].argmax()])})
    return seconds[keep], values[keep]
