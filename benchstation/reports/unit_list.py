"""Lists of units that a question found: CSV and PDF with question and heads, records as JSON lines.

Rows are written as they are read, so that a list may be as long as it is.
"""

import csv
import hashlib
import io
import json
import os
from collections.abc import Iterable, Iterator, Mapping
from dataclasses import dataclass
from datetime import datetime
from pathlib import Path

from reportlab.lib.pagesizes import A4, landscape
from reportlab.lib.units import mm
from reportlab.platypus import LongTable, SimpleDocTemplate, Spacer

from benchstation.atomic_file import part_of, put_in_place
from benchstation.domain.disposition import VERDICTS
from benchstation.domain.record import stamp
from benchstation.domain.serials import FORMULA_IN_A_CELL
from benchstation.reports.export import as_json, filed_record
from benchstation.reports.fonts import register_fonts
from benchstation.reports.paper import BOLD, SMALL, TITLE, grid_style, paragraph
from benchstation.store.chain_store import ChainStore
from benchstation.store.heads import ToldTo
from benchstation.store.unit_rows import UnitRow

COLUMNS: Mapping[str, str] = {
    "bench": "the bench that rebuilt it",
    "unit_id": "the rebuild's own id",
    "serial": "serial of the damper",
    "family": "family of dampers",
    "order": "the customer's order",
    "position": "place on the vehicle",
    "specification": "id of the specification",
    "revision": "its revision",
    "state": "open, aside, filed or abandoned",
    "verdict": f"{', '.join(VERDICTS)}; empty before it is filed",
    "qa": "where QA stands on it; empty before it is filed",
    "opened_by": "name of who opened it",
    "opened_utc": "when, UTC",
    "filed_by": "name of who filed it",
    "filed_utc": "when, UTC",
    "oil_lot": "lot of oil it was opened with",
    "net_oil_kg": "net oil, as the scale shows it, kg",
    "charge_gauge_pa": "settled charge, gauge, Pa",
    "told": "who was told of it and how, by whom, when; several are divided by ;",
}
"""Each column of the CSV, and what stands in it."""
_PAPER = ("serial", "family", "order", "verdict", "qa", "filed_by", "filed_utc", "told")
_WIDTHS = (30, 42, 26, 20, 34, 34, 38, 43)
MOST_ON_PAPER = 5_000


@dataclass(frozen=True, slots=True)
class ListHead:
    """What stands over a list: the question, as it was typed and in words, and what it rests on."""

    shop: str
    question: str
    in_words: str
    asked: datetime
    person: str
    told_to: tuple[ToldTo, ...]

    @property
    def lines(self) -> list[tuple[str, str]]:
        """Return it line by line: what, and how much."""
        return [
            ("Shop", self.shop),
            ("Question", self.in_words or "all units"),
            ("As typed", self.question or "nothing"),
            ("Listed", f"{stamp(self.asked)} by {self.person}"),
            *(("Tells up to", head.words) for head in self.told_to),
        ]


@dataclass(frozen=True, slots=True)
class ListedUnit:
    """A unit on a list, who had a hand in it by name, and who was told of it in words."""

    unit: UnitRow
    opened_by: str
    filed_by: str
    told: tuple[str, ...] = ()

    def values(self) -> dict[str, str]:
        """Return what stands in each column."""
        unit = self.unit
        filed = unit.filed_utc
        return {
            "bench": unit.bench,
            "unit_id": unit.unit_id,
            "serial": unit.serial,
            "family": unit.family,
            "order": unit.order,
            "position": unit.position,
            "specification": unit.specification_id,
            "revision": str(unit.revision),
            "state": unit.state,
            "verdict": unit.decision,
            "qa": unit.standing,
            "opened_by": self.opened_by,
            "opened_utc": stamp(unit.opened_utc),
            "filed_by": self.filed_by,
            "filed_utc": stamp(filed) if filed else "",
            "oil_lot": unit.oil_lot,
            "net_oil_kg": _number(unit.net_oil_kg),
            "charge_gauge_pa": _number(unit.settled_gauge_pa),
            "told": "; ".join(self.told),
        }


def csv_lines(head: ListHead, units: Iterable[ListedUnit]) -> Iterator[bytes]:
    """Return a CSV in UTF-8: lines that begin with ``#`` say what was asked, then a row a unit."""
    for what, said in head.lines:
        yield f"# {what}: {' '.join(said.split())}\r\n".encode()
    yield row_of(COLUMNS)
    for unit in units:
        values = unit.values()
        yield row_of(values[name] for name in COLUMNS)


def record_lines(store: ChainStore, units: Iterable[UnitRow]) -> Iterator[bytes]:
    """Return the whole record of each filed unit as a line of JSON, as an exported record is."""
    for unit in units:
        if unit.filed_seq is not None:
            data = as_json(filed_record(store, unit.unit_id))
            yield json.dumps(data, ensure_ascii=False, allow_nan=False).encode() + b"\n"


def write_lines(path: Path, lines: Iterable[bytes]) -> str:
    """Write a file whole or not at all, line after line; return the SHA-256 of what it holds."""
    part, digest = part_of(path), hashlib.sha256()
    part.unlink(missing_ok=True)
    descriptor = os.open(part, os.O_WRONLY | os.O_CREAT | os.O_EXCL, 0o600)
    try:
        with open(descriptor, "wb") as out:
            for line in lines:
                digest.update(line)
                out.write(line)
    except BaseException:
        part.unlink(missing_ok=True)
        raise
    put_in_place(part, path)
    return digest.hexdigest()


def write_list_pdf(head: ListHead, units: Iterable[ListedUnit], path: Path) -> Path:
    """Write the list on paper, A4 across; past :data:`MOST_ON_PAPER` units it says so and ends."""
    register_fonts()
    rows = [[paragraph(name.replace("_", " "), BOLD) for name in _PAPER]]
    more = False
    for number, unit in enumerate(units):
        if number == MOST_ON_PAPER:
            more = True
            break
        values = unit.values()
        rows.append([paragraph(values[name], SMALL) for name in _PAPER])
    story = [paragraph("List of units", TITLE), Spacer(1, 3 * mm)]
    story += [paragraph(f"{what}: {said}", SMALL) for what, said in head.lines]
    count = f"{len(rows) - 1} units" if len(rows) != 2 else "One unit"
    tail = "; there are more, which the CSV lists" if more else ""
    story += [Spacer(1, 2 * mm), paragraph(f"{count}{tail}", BOLD), Spacer(1, 2 * mm)]
    table = LongTable(rows, colWidths=[w * mm for w in _WIDTHS], repeatRows=1, style=grid_style())
    story.append(table)
    part = part_of(path)
    document = SimpleDocTemplate(
        str(part),
        pagesize=landscape(A4),
        leftMargin=15 * mm,
        rightMargin=15 * mm,
        topMargin=13 * mm,
        bottomMargin=13 * mm,
        title=f"List of units: {head.in_words or 'all'}",
        invariant=1,
    )
    document.build(story)
    put_in_place(part, path)
    return path


def row_of(values: Iterable[str]) -> bytes:
    """Return a line of a CSV."""
    text = io.StringIO(newline="")
    csv.writer(text).writerow([_cell(value) for value in values])
    return text.getvalue().encode()


def _cell(value: str) -> str:
    """Return a text that no spreadsheet takes for a formula."""
    return f"'{value}" if value.startswith(FORMULA_IN_A_CELL) and not _is_number(value) else value


def _is_number(value: str) -> bool:
    try:
        float(value)
    except ValueError:
        return False
    return True


def _number(value: float | None) -> str:
    return "" if value is None else f"{value:.9g}"
