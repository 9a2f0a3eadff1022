"""A chart's values as a table: SI, times in UTC, one row a point."""

import csv
import io
from collections.abc import Iterable, Sequence
from pathlib import Path

from benchstation.atomic_file import part_of, put_in_place
from benchstation.domain.quality import Evaluation, Figure, Quantity, Rejudged
from benchstation.domain.record import stamp
from benchstation.domain.serials import FORMULA_IN_A_CELL

UNITS = {Quantity.OIL: "kg", Quantity.CHARGE: "Pa", Quantity.LEAK: "Pa m3/s"}


def write_units_csv(
    path: Path,
    quantity: Quantity,
    figures: Sequence[Figure],
    found: Evaluation,
    others: Sequence[Rejudged],
) -> Path:
    """Write a row for each unit; ``others`` is what another limit makes of each, or nothing."""
    unit = UNITS[quantity]
    head = [
        "point", "filed_utc", "serial", "unit_id", "bench", "family", "specification",
        "technician", f"value [{unit}]", f"target [{unit}]", f"limit [{unit}]", f"u [{unit}]",
        "decision", "qa_standing", "right_first_time", "steps_done_again", "rules_that_end_here",
    ]  # fmt: skip
    rules: dict[int, list[str]] = {}
    for run in found.runs:
        rules.setdefault(run.last, []).append(run.rule.value)
    rows = []
    for place, one in enumerate(figures):
        row: list[object] = [
            place + 1, stamp(one.utc), one.serial, one.unit_id, one.bench, one.family,
            one.specification, one.technician, one.value, one.target, one.limit, one.u,
            one.decision, str(one.standing), "yes" if one.first_pass else "no", one.reopened,
            "; ".join(rules.get(place, ())),
        ]  # fmt: skip
        if others:
            row.append(others[place].decision.value)
        rows.append(row)
    return _write(path, [*head, "with_the_other_limit"] if others else head, rows)


def write_checks_csv(path: Path, rows: Sequence[Sequence[object]]) -> Path:
    """Write a row for each check of an instrument."""
    head = [
        "point", "utc", "instrument", "check", "nominal [SI]", "error [SI]", "tolerance [SI]",
        "passed",
    ]  # fmt: skip
    return _write(path, head, rows)


def _write(path: Path, head: Sequence[str], rows: Iterable[Sequence[object]]) -> Path:
    text = io.StringIO(newline="")
    writer = csv.writer(text)
    writer.writerow(head)
    writer.writerows([_cell(value) for value in row] for row in rows)
    part = part_of(path)
    part.write_text(text.getvalue(), "utf-8", newline="")
    return put_in_place(part, path)


def _cell(value: object) -> object:
    """Return a text so that no table program takes it for a formula; numbers as they are."""
    return f"'{value}" if isinstance(value, str) and value.startswith(FORMULA_IN_A_CELL) else value
