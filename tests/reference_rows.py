"""Published check values for tests: rows of tests/reference/*.csv, filtered, with their tolerance.

Every row names its source and was seen there or computed with the library named; values that are
only remembered are not in the files.
"""

import csv
import re
from functools import cache
from pathlib import Path

FOLDER = Path(__file__).parent / "reference"


class Row(dict[str, str]):
    """One check value; prints as its id and what it checks, so that a failure names its source."""

    def __repr__(self) -> str:
        return f"{self['id']} {self['quantity']} = {self['value']} ({self['source']})"

    def number(self, column: str = "value") -> float:
        """The column as a number; NaN where the row leaves it empty."""
        return float(self[column] or "nan")

    def tolerance(self) -> float:
        """The absolute tolerance; half of the last printed digit for 'exact as published'."""
        stated = re.match(r"(rel|abs):([0-9.e-]+)", self["tolerance"])
        if stated is None:
            digits = self["value"].partition(".")[2]
            return 0.5000001 * 10.0 ** -len(digits)
        scale = abs(self.number()) if stated[1] == "rel" else 1.0
        return float(stated[2]) * scale


@cache
def _all(file: str) -> tuple[Row, ...]:
    with (FOLDER / file).open(encoding="utf-8", newline="") as stream:
        return tuple(Row(row) for row in csv.DictReader(stream))


def rows(file: str, **filters: str) -> list[Row]:
    """Return the rows of ``file`` whose columns equal the filters; refuse to give none."""
    found = [r for r in _all(file) if all(r[column] == text for column, text in filters.items())]
    assert found, f"{file} has no row with {filters}"
    return found


def row(file: str, **filters: str) -> Row:
    """Return the one row that matches."""
    (found,) = rows(file, **filters)
    return found


def assert_agrees(expected: Row, computed: float) -> None:
    """Fail unless the computed value is within the row's own tolerance of the published one."""
    gap = abs(computed - expected.number())
    assert gap <= expected.tolerance(), f"computed {computed!r}, published {expected!r}"
