"""A certificate evaluated: by its points up and down, or as gain, offset and uncertainty."""

from collections.abc import Sequence
from dataclasses import dataclass, replace
from datetime import date

from benchstation.domain.events import (
    CalibrationDetails,
    CalibrationResult,
    Compared,
    InstrumentRegistered,
)
from benchstation.domain.refusals import NotAllowedError
from benchstation.metrology.calibration import LinearCalibration
from benchstation.metrology.calibration_run import Direction, Point, evaluate
from benchstation.metrology.uncertainty import Budget
from benchstation.quantities.notation import significant

LEAST_GAIN, MOST_GAIN = 0.5, 2.0
"""Beyond these a figure was mistyped, or given in another unit."""


@dataclass(frozen=True, slots=True)
class Certificate:
    """A certificate with what it found, SI."""

    number: str
    laboratory: str
    on: date
    until: date
    low: float | None
    high: float | None
    left: CalibrationResult
    found: CalibrationResult | None
    """The instrument as it came; ``None``: it was adjusted, and nobody knows."""
    adjusted: bool

    def expired(self, today: date) -> bool:
        """Return True when it is over already, so that it would lock what it is put on."""
        return self.until < today

    def details(self, reason: str = "") -> CalibrationDetails:
        """Return what the record keeps beside number and dates."""
        return CalibrationDetails(
            self.laboratory, self.low, self.high, self.left, self.found, self.adjusted, reason
        )


def check_dates(on: date, until: date, today: date) -> None:
    """Raise where the days of a certificate cannot be so."""
    if on > today:
        raise NotAllowedError(
            f"it cannot have been calibrated on {on}: that day is still to come.",
            advice="Type the day of the certificate as 2026-03-02.",
            field="on",
        )
    if until <= on:
        raise NotAllowedError(
            "it must be in force until a later day than that of the calibration.",
            advice="Type the day on which it falls due.",
            field="until",
        )


def result_of_points(
    points: Sequence[Compared], *, step: float, low: float | None, high: float | None
) -> CalibrationResult:
    """Evaluate the points of a certificate; ``step`` is the last digit that the instrument shows.

    ``u`` is the largest over the places and the ends of the range. Raises ``MetrologyError`` for
    fewer than three places, :class:`NotAllowedError` for a line that no sound instrument has.
    """
    run = evaluate(
        [
            Point(
                p.reference,
                p.reading,
                Direction.DOWN if p.down else Direction.UP,
                u_reference=p.u_reference,
            )
            for p in points
        ],
        step=step,
    )
    line = run.calibration(None)
    require_gain(line.gain)
    ends = [end for end in (low, high) if end is not None]
    readings = [p.reading for p in points] + [(end - line.offset) / line.gain for end in ends]
    own = Budget(run.own_parts()).combined()
    return CalibrationResult(
        line.gain,
        line.offset,
        max(run.budget(reading).combined() for reading in readings),
        line.u_offset,
        line.u_gain,
        line.correlation,
        own,
        run.nonlinearity,
        run.hysteresis,
        run.repeatability.std if run.repeatability else None,
        tuple(points),
    )


def result_of_figures(gain: float, offset: float, u: float) -> CalibrationResult:
    """Return what a certificate says that gives a gain, an offset and one uncertainty."""
    require_gain(gain)
    if not u > 0.0:
        raise NotAllowedError(
            "the standard uncertainty must be above zero.",
            advice="Half of the expanded one (k = 2) of the certificate.",
            field="u",
        )
    return CalibrationResult(gain, offset, u, u)


def require_gain(gain: float) -> None:
    """Raise where a gain is none that a sound instrument has."""
    if not LEAST_GAIN < gain < MOST_GAIN:
        raise NotAllowedError(
            f"a gain of {significant(gain, 4)} is no correction but another unit.",
            advice="See that reference and reading are in the unit that is named.",
            field="gain",
        )


def line_of(result: CalibrationResult, due: date | None = None) -> LinearCalibration:
    """Return the correction that a result stands for, with what all readings share."""
    return LinearCalibration(
        result.gain, result.offset, result.u_offset, result.u_gain, result.correlation, due
    )


def result_in_force(registered: InstrumentRegistered) -> CalibrationResult:
    """Return what the calibration on record of an instrument found as it left the laboratory."""
    if registered.calibration is not None:
        return registered.calibration.left
    u = registered.u_calibration
    return CalibrationResult(registered.gain, registered.offset, u, u)


def registered_with(
    registered: InstrumentRegistered, certificate: Certificate, reason: str = ""
) -> InstrumentRegistered:
    """Return the fact that an instrument has this certificate from now on."""
    left = certificate.left
    return replace(
        registered,
        gain=left.gain,
        offset=left.offset,
        u_calibration=left.u,
        calibrated_on=certificate.on.isoformat(),
        calibrated_until=certificate.until.isoformat(),
        certificate=certificate.number,
        calibration=certificate.details(reason),
    )
