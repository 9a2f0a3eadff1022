"""A time axis whose every mark names its unit: seconds, minutes or hours from the begin.

Importing this imports the plotting library, which takes half a second: do it late.
"""

from collections.abc import Sequence

import pyqtgraph as pg

from benchstation.quantities.notation import fixed

MINUTE_S, HOUR_S = 60.0, 3600.0
STEPS_S = (
    *(0.1, 0.2, 0.5, 1.0, 2.0, 5.0, 10.0, 20.0, 30.0),
    *(MINUTE_S * n for n in (1, 2, 5, 10, 20, 30)),
    *(HOUR_S * n for n in (1, 2, 4, 6, 12, 24, 48, 96)),
)
MARK_EVERY_PX = 70


def step_for(span_s: float, width_px: float) -> float:
    """Return the round step whose marks have room for their words."""
    most = max(1.0, width_px / MARK_EVERY_PX)
    return next((step for step in STEPS_S if span_s / step <= most), STEPS_S[-1])


def time_text(seconds: float, step_s: float) -> str:
    """Return a mark's words in the unit that its step is told in."""
    if step_s < 1:
        return f"{fixed(seconds, 1)} s"
    for length, unit in ((HOUR_S, "h"), (MINUTE_S, "min")):
        if step_s >= length:
            return f"{fixed(seconds / length, 0)} {unit}"
    return f"{fixed(seconds, 0)} s"


class TimeAxis(pg.AxisItem):  # type: ignore[misc]  # the library has no types
    """The axis below a plot, from its begin on; a live trace counts back from now."""

    def __init__(self) -> None:
        super().__init__("bottom")

    def tickSpacing(self, low: float, high: float, size: float) -> list[tuple[float, float]]:
        """Return one round step."""
        return [(step_for(abs(high - low), size), 0.0)]

    def tickStrings(self, values: Sequence[float], scale: float, spacing: float) -> list[str]:
        """Return each mark with its unit."""
        return [time_text(value, spacing) for value in values]
