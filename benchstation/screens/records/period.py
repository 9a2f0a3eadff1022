"""A search of the records that names a time: a day, a month, a year, or two of them."""

import re
from datetime import UTC, date, datetime, time, timedelta

_DATE = r"(\d{4})(?:-(\d{2})(?:-(\d{2}))?)?"
_PERIOD = re.compile(rf"{_DATE}(?:\s+to\s+{_DATE})?", re.IGNORECASE)


def period_in(words: str) -> tuple[datetime, datetime] | None:
    """Return from when to when a search means, by the clock on the wall; ``None``: no time at all.

    ``2026-11-03`` is a day, ``2026-11`` a month, ``2026`` a year; ``2026-11-03 to 2026-11-05``
    ends with that day.
    """
    found = _PERIOD.fullmatch(words.strip())
    if found is None:
        return None
    parts = [int(part) if part else None for part in found.groups()]
    try:
        first, end = _days(*parts[:3])
        if parts[3] is not None:
            end = _days(*parts[3:])[1]
        return (_midnight(first), _midnight(end)) if first < end else None
    except (ValueError, OverflowError):
        return None


def _days(year: int | None, month: int | None, day: int | None) -> tuple[date, date]:
    """Return the first day of what is named, and the day after its last."""
    assert year is not None
    first = date(year, month or 1, day or 1)
    if day:
        return first, first + timedelta(days=1)
    if month:
        return first, date(year + month // 12, month % 12 + 1, 1)
    return first, date(year + 1, 1, 1)


def _midnight(day: date) -> datetime:
    return datetime.combine(day, time()).astimezone().astimezone(UTC)
