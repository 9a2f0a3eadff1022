"""A calibration: a scale against weights, a transducer against a reference gauge.

Points go up and come down again, once or more. From them follow the line from reading to true
value (GUM H.3), how far the instrument bends from it, hysteresis (the same place approached from
above and below; as EN 837-1 and DKD-R 6-1 have it, from memory), repeatability (GUM 4.2.4) and
what each adds to the uncertainty of a reading in use.
"""

import math
from collections.abc import Sequence
from dataclasses import dataclass
from datetime import date
from enum import Enum

import numpy as np

from benchstation.metrology.calibration import LinearCalibration
from benchstation.metrology.errors import MetrologyError
from benchstation.metrology.line_fit import LineFit, fit_line
from benchstation.metrology.repeatability import Pooled, pooled
from benchstation.metrology.uncertainty import Budget, Contribution, normal, rectangular, resolution


class Direction(Enum):
    """How a place was approached."""

    UP = "up"
    DOWN = "down"


@dataclass(frozen=True, slots=True)
class Point:
    """One comparison, in the instrument's unit.

    ``reference`` is the true value by weight or reference gauge, ``u_reference`` its standard
    uncertainty; ``nominal`` names the place when the reference does not come back to exactly the
    same value (a gauge line), otherwise the reference itself does.
    """

    reference: float
    reading: float
    direction: Direction = Direction.UP
    nominal: float | None = None
    u_reference: float = 0.0

    @property
    def place(self) -> float:
        """Return the place at which points are compared with each other."""
        return self.reference if self.nominal is None else self.nominal

    @property
    def error(self) -> float:
        """Reading less true value."""
        return self.reading - self.reference


@dataclass(frozen=True, slots=True)
class Place:
    """What was found at one place; None where it was not approached from both sides.

    ``error`` is the mean of reading less reference, ``residual`` the mean of reference less line,
    ``hysteresis`` the mean error coming down less that going up.
    """

    place: float
    count: int
    error: float
    residual: float
    hysteresis: float | None


@dataclass(frozen=True, slots=True)
class CalibrationRun:
    """The result of a calibration; all in the instrument's unit.

    ``nonlinearity`` is the largest mean residual and ``hysteresis`` the largest difference between
    down and up, both as amounts; ``repeatability`` is None when no place was repeated in the same
    direction; ``hysteresis`` None when none was approached from both.
    """

    line: LineFit
    places: tuple[Place, ...]
    nonlinearity: float
    hysteresis: float | None
    repeatability: Pooled | None
    u_reference: float
    step: float

    def shared_parts(self, reading: float) -> tuple[Contribution, ...]:
        """Return what all readings in use share: the fitted line, the references, the display."""
        return (
            normal("line", self.line.u(reading), dof=self.line.dof),
            normal("references", self.u_reference),
            resolution("display at calibration", self.step),
        )

    def own_parts(self) -> tuple[Contribution, ...]:
        """Return what is new at each reading and cancels in no difference: bend and hysteresis.

        Rectangular over the largest residual, and over half the hysteresis either side.
        """
        bend = rectangular("nonlinearity", self.nonlinearity)
        return (bend, rectangular("hysteresis", 0.5 * (self.hysteresis or 0.0)))

    def budget(self, reading: float) -> Budget:
        """Return the budget of the calibrated value at a reading, without the use's own scatter."""
        return Budget((*self.shared_parts(reading), *self.own_parts()))

    def calibration(self, due: date | None) -> LinearCalibration:
        """Return the calibration for use, with what all readings share.

        References and display count as one unknown offset. ``own_parts`` belong into the budget of
        each use: folded in here they would wrongly cancel between tare and gross.
        """
        line = self.line
        u_offset = math.hypot(line.u_intercept, self.u_reference, self.step / math.sqrt(12.0))
        r = line.correlation * line.u_intercept / u_offset if u_offset > 0.0 else 0.0
        return LinearCalibration(line.slope, line.intercept, u_offset, line.u_slope, r, due)


def evaluate(points: Sequence[Point], *, step: float = 0.0) -> CalibrationRun:
    """Evaluate a calibration of three places or more; ``step`` is the last digit shown.

    Raises MetrologyError for fewer places, figures that are not finite, or negative uncertainties.
    """
    if not (step >= 0.0 and all(p.u_reference >= 0.0 for p in points)):
        raise MetrologyError("a step or a reference's uncertainty below zero cannot be used.")
    places = sorted({p.place for p in points})
    if len(places) < 3:
        raise MetrologyError(
            "a calibration line needs three different places; bend shows at no fewer.",
            advice="Measure more places, or set zero and span from two.",
        )
    line = fit_line([p.reading for p in points], [p.reference for p in points])
    pairs = list(zip(points, line.residuals, strict=True))
    found = []
    groups: list[list[float]] = []
    for place in places:
        here = [p for p in points if p.place == place]
        residuals = [left for p, left in pairs if p.place == place]
        ways = {way: [p.error for p in here if p.direction is way] for way in Direction}
        groups += ways.values()
        up, down = ways[Direction.UP], ways[Direction.DOWN]
        found.append(
            Place(
                place,
                len(here),
                _mean([p.error for p in here]),
                _mean(residuals),
                _mean(down) - _mean(up) if up and down else None,
            )
        )
    both = [abs(p.hysteresis) for p in found if p.hysteresis is not None]
    repeated = [g for g in groups if len(g) > 1]
    stds = [float(np.std(g, ddof=1)) for g in repeated]
    return CalibrationRun(
        line=line,
        places=tuple(found),
        nonlinearity=max(abs(p.residual) for p in found),
        hysteresis=max(both) if both else None,
        repeatability=pooled(stds, [len(g) for g in repeated]) if repeated else None,
        u_reference=max(p.u_reference for p in points),
        step=step,
    )


def _mean(values: Sequence[float]) -> float:
    return math.fsum(values) / len(values)
