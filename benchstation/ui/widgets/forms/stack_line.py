"""Rows of a disc stack that are typed in one line: ``40 x 0.2 x 2; 38 x 0.15 x 1``."""

import re

CELLS = 3
_BY = re.compile(r"\s*[x×*]\s*", re.IGNORECASE)
_COUNT_FIRST = re.compile(r"^(\d+)\s+of\s+(.+)$", re.IGNORECASE)


def rows_in(text: str) -> list[list[str]]:
    """Return the rows that a text holds, diameter, thickness and count each; none if it is one.

    A row may begin with its count, as the specification is shown: ``2 of 40 × 0.20``.
    """
    if not (_BY.search(text) or ";" in text):
        return []
    return [_row(part.strip()) for part in text.split(";") if part.strip()]


def _row(text: str) -> list[str]:
    """Return one row; what is more than three numbers stays in the last cell, to be refused."""
    count_first = _COUNT_FIRST.match(text)
    if count_first is not None:
        text = f"{count_first[2]} x {count_first[1]}"
    cells = _BY.split(text, maxsplit=CELLS - 1)
    return [*cells, *[""] * CELLS][:CELLS]
