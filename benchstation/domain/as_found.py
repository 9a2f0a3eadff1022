"""What an instrument's error, as a laboratory found it, did to units that were filed with it.

A stored value holds the correction of its time: ``v = g0 r + o0``. The reading r follows, and by
the line as found the value is ``v' = g1 (v - o0) / g0 + o1``. What is weighed is a difference of
two readings of one scale, in which an offset cancels: ``v' = v g1 / g0``. The result is judged
anew against the limits of then by the rule of the record, with an uncertainty that is never smaller
than the one on record. A leak is a difference of one gauge's readings, which only the gain's share
changes: hold tests stand as they were judged.
"""

import math
from collections.abc import Iterable
from dataclasses import dataclass
from datetime import date, datetime

from benchstation.domain.calibrations import calibration_name
from benchstation.domain.events import CalibrationResult
from benchstation.domain.oil_balance import SIGNS, Purpose
from benchstation.domain.statements import Code
from benchstation.domain.unit_record import UnitRecord
from benchstation.metrology.conformity import GUARD_FACTOR, Decision, judge
from benchstation.quantities.formatter import day_of

_WORSE = {Decision.PASS.value: 0, Decision.UNDECIDED.value: 1, Decision.FAIL.value: 2}


@dataclass(frozen=True, slots=True)
class Interval:
    """A calibration that was in force, and what was found at its end.

    ``found`` is the line of the instrument as it came to the laboratory on the day ``on``; what was
    measured after that day is judged by ``left``, as it came back.
    """

    instrument_id: str
    calibrated_on: str
    certificate: str
    then: CalibrationResult
    found: CalibrationResult
    left: CalibrationResult
    on: date

    @property
    def name(self) -> str:
        """Return how evidence names the calibration that was in force."""
        return calibration_name(self.calibrated_on, self.certificate)


@dataclass(frozen=True, slots=True)
class Effect:
    """One result of a unit, as it is on record and as it would have been judged; SI."""

    unit_id: str
    serial: str
    filed_utc: str
    what: str
    """``oil`` or ``charge``."""
    deviation: float
    corrected: float
    tolerance: float
    decision: str
    decision_now: str

    @property
    def worse(self) -> bool:
        """Return True when it would have been judged less well."""
        return _WORSE[self.decision_now] > _WORSE.get(self.decision, 0)


def rests_on(record: UnitRecord, interval: Interval) -> bool:
    """Return True when a record rests on the instrument under that calibration."""
    key = (interval.instrument_id, interval.calibrated_on, interval.certificate)
    return any((i.id, i.calibrated_on, i.certificate) == key for i in record.instruments)


def effects(records: Iterable[UnitRecord], interval: Interval) -> tuple[Effect, ...]:
    """Return what the error did to each result of these records that rests on the instrument."""
    found: list[Effect] = []
    for record in records:
        if rests_on(record, interval):
            found += [e for e in (_oil(record, interval), _charge(record, interval)) if e]
    return tuple(found)


def _oil(record: UnitRecord, interval: Interval) -> Effect | None:
    change, u = 0.0, record.oil.u_kg
    counted = [c for c in record.oil.captures if c.counts and c.purpose in SIGNS]
    measured = [
        c for c in counted if _measured(c.instrument_id, c.calibration, c.by_hand, interval)
    ]
    if not measured:
        return None
    for capture in measured:
        now = _line(interval, capture.utc or record.filed_utc)
        shift = capture.shown_kg * (now.gain / interval.then.gain - 1.0)
        change += SIGNS[Purpose(capture.purpose)] * shift
        u = _u(u, interval.then, now)
    oil = record.oil
    return _judged(record, "oil", oil.deviation_kg, change, u, oil.tolerance_kg, oil.decision)


def _charge(record: UnitRecord, interval: Interval) -> Effect | None:
    charge = record.charge
    if not _measured(charge.instrument_id, charge.calibration, charge.by_hand, interval):
        return None
    at = [a.utc for a in record.attempts if a.what == "charge"]
    now, then = _line(interval, at[-1] if at else record.filed_utc), interval.then
    reading = (charge.settled_gauge_pa - then.offset) / then.gain
    change = now.gain * reading + now.offset - charge.settled_gauge_pa
    deviation = charge.settled_gauge_pa - charge.target_gauge_pa
    u = _u(charge.u_pa, then, now)
    return _judged(record, "charge", deviation, change, u, charge.tolerance_pa, charge.decision)


def _measured(
    instrument_id: str | None, calibration: str, by_hand: object, interval: Interval
) -> bool:
    """Return True when a value was read by the instrument under that calibration.

    Records of before say neither; the instruments that they list then tell it.
    """
    named = instrument_id is None or instrument_id == interval.instrument_id
    return by_hand is None and named and calibration in ("", interval.name)


def _line(interval: Interval, utc: str) -> CalibrationResult:
    return interval.left if day_of(datetime.fromisoformat(utc)) > interval.on else interval.found


def _u(u: float, then: CalibrationResult, now: CalibrationResult) -> float:
    return math.sqrt(u**2 + max(0.0, now.u**2 - then.u**2))


def _judged(
    record: UnitRecord,
    what: str,
    deviation: float,
    change: float,
    u: float,
    tolerance: float,
    decision: str,
) -> Effect:
    rule = record.decision_rule
    guard = GUARD_FACTOR
    if rule.code is Code.GUARDED_ACCEPTANCE:
        guard = float(rule.values["guard_factor"])
    now = judge(deviation + change, u, -tolerance, tolerance, guard)
    return Effect(
        record.unit_id,
        record.serial,
        record.filed_utc,
        what,
        deviation,
        deviation + change,
        tolerance,
        decision,
        now.decision.value,
    )
