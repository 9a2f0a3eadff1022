"""In which order units were opened or filed, also where a computer's clock was set back."""

from collections.abc import Iterable
from datetime import datetime

from sqlalchemy import RowMapping


def in_opened_order(rows: Iterable[RowMapping]) -> list[RowMapping]:
    """Return rows of units as they were opened, the oldest first.

    Those of one bench by its journal, which no clock changes. Between benches nothing but their
    clocks tells; of a bench whose clock went back, its latest time until then counts.
    """
    return _in_order((row["bench"], row["opened_seq"], row["opened_utc"], row) for row in rows)


def in_filed_order(rows: Iterable[RowMapping]) -> list[RowMapping]:
    """Return rows of filed units as they were filed, the oldest first, as those opened are."""
    return _in_order((row["bench"], row["filed_seq"], row["filed_utc"], row) for row in rows)


def _in_order(rows: Iterable[tuple[str, int, datetime, RowMapping]]) -> list[RowMapping]:
    found: list[tuple[tuple[datetime, str, int], RowMapping]] = []
    latest: dict[str, datetime] = {}
    for bench, seq, utc, row in sorted(rows, key=lambda one: one[:2]):
        latest[bench] = max(utc, latest.get(bench, utc))
        found.append(((latest[bench], bench, seq), row))
    return [row for _, row in sorted(found, key=lambda one: one[0])]
