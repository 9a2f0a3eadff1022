"""An uncertainty budget as a table that a person can read and check with a pocket calculator.

The columns are those of GUM (JCGM 100:2008) table H.1 with shape and divisor as in EA-4/02: half
width over divisor is u, times the sensitivity is the part of the result, and the squares of the
parts with the correlated pairs' 2 r c_a u_a c_b u_b add up to u_c**2 (13).
"""

import math
from typing import NamedTuple

from benchstation.metrology.uncertainty import Budget, Contribution

HEADINGS = ("contribution", "shape", "stated", "divisor", "u", "sensitivity", "part", "dof", "u_c²")


class TableRow(NamedTuple):
    """One line of the table; empty strings where there is nothing to say."""

    name: str
    shape: str
    stated: str
    divisor: str
    u: str
    sensitivity: str
    part: str
    dof: str
    share: str


def table_rows(budget: Budget, *, scale: float = 1.0) -> tuple[TableRow, ...]:
    """Return the contributions, then the correlated pairs.

    ``part`` is in the unit of the result times ``scale``; of a pair it is its term of the sum,
    which may be negative, under a root with its sign. ``share`` is of u_c**2: all shares add up to
    100 %, so with a pair that cancels the others exceed it.
    """
    variance = budget.combined() ** 2
    parts = {c.name: c.u_result for c in budget.contributions}
    rows = [_row(c, variance, scale) for c in budget.contributions]
    for (first, second), r in budget.correlations.items():
        term = 2.0 * r * parts[first] * parts[second]
        root = math.copysign(math.sqrt(abs(term)), term) * scale
        name = f"{first} with {second}, r = {r:.3g}"
        rows.append(TableRow(name, "", "", "", "", "", _figure(root), "", _share(term, variance)))
    return tuple(rows)


def budget_text(
    budget: Budget, *, unit: str = "", scale: float = 1.0, coverage: float = 0.9545
) -> str:
    """Return the table in columns, and under it u_c, the degrees of freedom, k and U in words.

    ``unit`` names the unit of the result times ``scale`` ("g" with 1000 for kg).
    """
    rows = [HEADINGS, *table_rows(budget, scale=scale)]
    widths = [max(len(row[n]) for row in rows) for n in range(len(HEADINGS))]
    lines = ["  ".join(_cells(row, widths)).rstrip() for row in rows]
    lines.insert(1, "-" * max(map(len, lines)))
    expanded, dof = budget.expanded(coverage), budget.effective_dof()
    tail = f" {unit}".rstrip()
    known = "many" if math.isinf(dof) else f"{dof:.1f}"
    lines += (
        "",
        f"combined standard uncertainty u_c = {_figure(budget.combined() * scale)}{tail}",
        f"effective degrees of freedom      = {known}",
        f"coverage factor k                 = {expanded.k:.3g} for {coverage:.4g}",
        f"expanded uncertainty U = k u_c    = {_figure(expanded.value * scale)}{tail}",
    )
    return "\n".join(lines)


def _row(c: Contribution, variance: float, scale: float) -> TableRow:
    return TableRow(
        c.name,
        c.distribution.value,
        "" if c.half_width is None else f"±{_figure(c.half_width)}",
        f"{c.half_width / c.u:.4g}" if c.half_width is not None and c.u > 0.0 else "",
        _figure(c.u),
        _figure(c.sensitivity),
        _figure(abs(c.u_result) * scale),
        "many" if math.isinf(c.dof) else f"{c.dof:.4g}",
        _share(c.u_result**2, variance),
    )


def _figure(value: float) -> str:
    return f"{value:.4g}"


def _share(term: float, variance: float) -> str:
    return f"{term / variance:.1%}" if variance > 0.0 else ""


def _cells(row: tuple[str, ...], widths: list[int]) -> list[str]:
    """Set words to the left and figures to the right."""
    words = 2
    return [
        cell.ljust(width) if n < words else cell.rjust(width)
        for n, (cell, width) in enumerate(zip(row, widths, strict=True))
    ]
