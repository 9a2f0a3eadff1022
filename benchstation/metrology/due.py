"""Until when a calibration holds, and today's checks between calibrations.

ISO/IEC 17025:2017 6.4.10 asks for intermediate checks where they are needed for confidence; the
interval itself is the shop's choice (ILAC-G24 / OIML D 10).
"""

import calendar
from collections.abc import Iterable
from dataclasses import dataclass
from datetime import date
from enum import Enum

from benchstation.metrology.calibration import CheckWeight
from benchstation.metrology.errors import MetrologyError


class Standing(Enum):
    """How a calibration stands on a day."""

    VALID = "valid"
    DUE_SOON = "due soon"
    OVERDUE = "overdue"
    UNKNOWN = "unknown"  # no date on record: counts as overdue


class CheckKind(Enum):
    """What an instrument was checked against."""

    WEIGHT = "check weight"
    ZERO = "zero"


@dataclass(frozen=True, slots=True)
class CheckRecord:
    """One check on record: on which day, of which kind, by whom, with what outcome."""

    on: date
    kind: CheckKind
    check: CheckWeight
    by: str = ""

    @property
    def passed(self) -> bool:
        """Return True when the check passed."""
        return self.check.passed


def zero_check(observed: float, tolerance: float, u_nominal: float = 0.0) -> CheckWeight:
    """Return the check of an instrument at zero: empty pan, or line open to the air."""
    return CheckWeight(0.0, observed, tolerance, u_nominal)


def due_date(done: date, months: int) -> date:
    """Return the last day on which a calibration of ``done`` holds: so many calendar months later.

    The same day of the month, or the month's last day when it has no such day. ``months`` from 1.
    """
    if months < 1:
        raise MetrologyError(f"an interval of {months} months is none: one month is the least.")
    year, month = divmod(done.year * 12 + done.month - 1 + months, 12)
    last = calendar.monthrange(year, month + 1)[1]
    return date(year, month + 1, min(done.day, last))


def standing(due: date | None, today: date, notice_days: int = 30) -> Standing:
    """Return how a calibration that holds until ``due`` stands today."""
    if due is None:
        return Standing.UNKNOWN
    left = (due - today).days
    if left < 0:
        return Standing.OVERDUE
    return Standing.DUE_SOON if left <= notice_days else Standing.VALID


def missing_checks(
    records: Iterable[CheckRecord], needed: Iterable[CheckKind], today: date
) -> tuple[CheckKind, ...]:
    """Return the kinds of checks that block a quality result today: not made, or last one failed.

    ``records`` are of one instrument, in the order they were made; of several a day the last counts
    (a failed check may be repeated after cleaning, and a passed one undone by a failure).
    """
    last = {record.kind: record.passed for record in records if record.on == today}
    return tuple(kind for kind in needed if not last.get(kind, False))


def deviations(records: Iterable[CheckRecord], kind: CheckKind) -> tuple[float, ...]:
    """Return the deviations of all checks of one kind in their order, as for a control chart."""
    return tuple(record.check.deviation for record in records if record.kind is kind)
