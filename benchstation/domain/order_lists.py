"""A list of units as CSV: read once, every bad row told by its line; all of it is taken or none.

A cell is data: it is never run, and one that a spreadsheet would take for a formula is refused, so
that no list made from these orders can carry one on.
"""

import csv
import io
from collections.abc import Callable, Mapping, Sequence
from dataclasses import dataclass
from functools import partial

from benchstation.domain.events import OrderChanged, OrderPlaced
from benchstation.domain.orders import (
    LONGEST_NAME,
    MOST_LINES,
    Order,
    Wanted,
    add_units,
    place,
    text_problem,
)
from benchstation.domain.serials import FORMULA, serial_problem
from benchstation.domain.specification import Specification
from benchstation.domain.unit_commands import NotAllowedError

MOST_BYTES = 200_000
MOST_TOLD = 6
NEEDED = ("serial", "family", "position", "order")
_LONGEST = {"position": LONGEST_NAME, "order": LONGEST_NAME}


@dataclass(frozen=True, slots=True)
class UnitRow:
    """One row: the unit, its order, and the line of the file."""

    line: int
    order: str
    unit: Wanted


@dataclass(frozen=True, slots=True)
class UnitList:
    """Rows that are all in order; ``due`` by order where the file says so."""

    rows: tuple[UnitRow, ...]
    due: Mapping[str, str]

    def by_order(self) -> dict[str, list[Wanted]]:
        """Return the units by order, both in the order of the file."""
        found: dict[str, list[Wanted]] = {}
        for row in self.rows:
            found.setdefault(row.order, []).append(row.unit)
        return found


def text_of(data: bytes) -> str:
    """Return the file's text. Raises :class:`NotAllowedError` when it is too long or no UTF-8."""
    if len(data) > MOST_BYTES:
        raise _refused(f"the file is longer than {MOST_BYTES // 1000} kB.")
    try:
        return data.decode("utf-8-sig")
    except UnicodeDecodeError as error:
        line = data[: error.start].count(b"\n") + 1
        raise _refused(f"line {line} is not UTF-8 text.", "Save it as CSV, UTF-8.") from error


def read_units(text: str, specifications: Sequence[Specification]) -> UnitList:
    """Read a list of units. Raises :class:`NotAllowedError` that names each bad line."""
    if len(text.encode("utf-8", "surrogatepass")) > MOST_BYTES:
        raise _refused(f"the file is longer than {MOST_BYTES // 1000} kB.")
    separator = max(",;\t", key=text.partition("\n")[0].count)
    reader = csv.reader(io.StringIO(text, newline=""), delimiter=separator, strict=True)
    families = {s.id.casefold(): s.id for s in specifications}
    families |= {s.family.casefold(): s.id for s in specifications}
    names: list[str] = []
    rows, due, problems = list[UnitRow](), dict[str, str](), list[str]()
    seen: set[tuple[str, str]] = set()
    try:
        for cells in reader:
            line = reader.line_num
            if not names:
                names = [cell.strip().casefold() for cell in cells]
                continue
            if not any(cell.strip() for cell in cells):
                continue
            row = dict(zip(names, (cell.strip() for cell in cells), strict=False))
            wrong = _wrong(cells, names, row, families)
            key = (row.get("order", "").casefold(), row.get("serial", "").casefold())
            if not wrong and key[1] and key in seen:
                wrong = "this serial stands in its order twice"
            if wrong:
                problems.append(f"line {line}: {wrong}")
                continue
            seen.add(key)
            family = families[row["family"].casefold()]
            unit = Wanted(row["serial"], family, row["position"])
            rows.append(UnitRow(line, row["order"], unit))
            if row.get("due"):
                due.setdefault(row["order"], row["due"])
    except csv.Error as error:
        problems.append(f"line {reader.line_num}: {error}")
    missing = [name for name in NEEDED if name not in names]
    if missing:
        raise _refused(
            f"the first line does not name {', '.join(missing)}.",
            f"Begin the list with: {','.join(NEEDED)}, and if you like due.",
        )
    if len(rows) > MOST_LINES:
        problems.append(f"more than {MOST_LINES} units")
    if problems:
        raise _refused_lines(problems)
    if not rows:
        raise _refused("the list holds no unit.")
    return UnitList(tuple(rows), due)


def events_of(
    units: UnitList, known: Callable[[str], Order | None], families: Sequence[str]
) -> list[OrderPlaced | OrderChanged]:
    """Return what a list makes of the orders; a preview and the import itself both ask here.

    ``known`` gives the order of a name, if there is one. Raises :class:`NotAllowedError` that names
    the line of each order that does not allow it.
    """
    events, problems = list[OrderPlaced | OrderChanged](), list[str]()
    for name, wanted in units.by_order().items():
        make = partial(_event, name, units.due.get(name, ""), known(name), families)
        try:
            events.append(make(wanted))
        except NotAllowedError as error:
            lines = [row.line for row in units.rows if row.order == name]
            problems.append(
                f"line {lines[_first_at_fault(make, wanted)]}: {error.what.rstrip('.')}"
            )
    if problems:
        raise _refused_lines(problems)
    return events


def _event(
    name: str, due: str, known: Order | None, families: Sequence[str], units: Sequence[Wanted]
) -> OrderPlaced | OrderChanged:
    if known is not None:
        return add_units(known, units, families)
    return place(name, due, "", units, matched=False, families=families, known=None)


def _first_at_fault(make: Callable[[Sequence[Wanted]], object], units: Sequence[Wanted]) -> int:
    """Return the place of the first unit with which its order is not in order any more."""
    for count in range(1, len(units)):
        try:
            make(units[:count])
        except NotAllowedError:
            return count - 1
    return len(units) - 1


def _refused_lines(problems: Sequence[str]) -> NotAllowedError:
    more = f"; and {len(problems) - MOST_TOLD} more" if len(problems) > MOST_TOLD else ""
    return _refused(
        f"{'; '.join(problems[:MOST_TOLD])}{more}.",
        "Nothing was imported. Correct these lines, then read the list again.",
    )


def _wrong(
    cells: Sequence[str], names: Sequence[str], row: Mapping[str, str], families: Mapping[str, str]
) -> str:
    """Return what is wrong with a row; empty: nothing."""
    if len(cells) != len(names):
        return f"{len(cells)} cells where the first line has {len(names)}"
    for name in names:
        text = row[name]
        if name == "serial":
            if problem := serial_problem(text):
                return f"the serial {problem}"
            continue
        if text.startswith(FORMULA):
            return f"the {name} '{text[:12]}' begins like a formula"
        if problem := text_problem(text, _LONGEST.get(name, 200)):
            return f"the {name} {problem}"
    if not row.get("order"):
        return "the order is missing"
    family = row.get("family", "")
    return "" if family.casefold() in families else f"no family is called '{family[:40]}'"


def _refused(what: str, advice: str = "Nothing was imported.") -> NotAllowedError:
    return NotAllowedError(what, where="List of units", advice=advice)
