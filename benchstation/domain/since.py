"""Since when something has been so, as people say it: 08:10, yesterday 16:00, 3 h, a date."""

import re
from datetime import UTC, datetime, timedelta

from benchstation.domain.refusals import NotAllowedError
from benchstation.driver_api.errors import StationError
from benchstation.quantities.formatter import local_time, span
from benchstation.quantities.units import Dimension, parse

LONGEST_DAYS = 400
_CLOCK = re.compile(r"(?:(yesterday|\d{4}-\d{2}-\d{2})[\sT]+)?(\d{1,2})[:.h](\d{2})")
_ADVICE = "Write a time such as 08:10, yesterday 16:00, 2026-05-04 16:00, or how long: 3 h."


def read_since(text: str, now_utc: datetime) -> datetime:
    """Return the moment in UTC. A time of day alone is the last such time.

    Raises :class:`NotAllowedError` for what is no time, lies ahead or more than 400 days back.
    """
    typed = " ".join(text.strip().split())
    found = _at_clock(typed, now_utc)
    if found is None:
        found = now_utc - timedelta(seconds=_seconds(typed))
    if found > now_utc:
        raise NotAllowedError(f"'{typed}' lies ahead.", advice=_ADVICE)
    if now_utc - found > timedelta(days=LONGEST_DAYS):
        raise NotAllowedError(f"'{typed}' is more than {LONGEST_DAYS} days ago.", advice=_ADVICE)
    return found


def since_in_words(since: datetime, now_utc: datetime) -> str:
    """Return a moment with its day, and how long ago it is: 23:59 may be of another night."""
    return f"since {local_time(since)}, {span((now_utc - since).total_seconds())} ago"


def _at_clock(typed: str, now_utc: datetime) -> datetime | None:
    match = _CLOCK.fullmatch(typed.casefold())
    if match is None:
        return None
    day, hour, minute = match[1], int(match[2]), int(match[3])
    local = now_utc.astimezone().replace(tzinfo=None)
    try:
        if day and day != "yesterday":
            year, month, of_month = (int(part) for part in day.split("-"))
            local = local.replace(year=year, month=month, day=of_month)
        found = local.replace(hour=hour, minute=minute, second=0, microsecond=0)
    except ValueError:
        raise NotAllowedError(f"'{typed}' is no time.", advice=_ADVICE) from None
    before = found - timedelta(days=1)
    if day == "yesterday":
        return _last_such(before, now_utc)
    last = _last_such(found, now_utc)
    return last if day or last <= now_utc else _last_such(before, now_utc)


def _last_such(local: datetime, now_utc: datetime) -> datetime:
    """Return when a clock on the wall showed this last: when summer time ends it does so twice."""
    both = [local.replace(fold=fold).astimezone().astimezone(UTC) for fold in (0, 1)]
    return max((utc for utc in both if utc <= now_utc), default=both[0])


def _seconds(typed: str) -> float:
    try:
        seconds = parse(typed, Dimension.TIME)
    except StationError:
        raise NotAllowedError(f"'{typed}' is no time.", advice=_ADVICE) from None
    if not 0.0 <= seconds <= LONGEST_DAYS * 86_400.0:
        raise NotAllowedError(f"'{typed}' cannot be right.", advice=_ADVICE)
    return seconds
