"""The label of a finished unit: 80 x 50 mm, to be read at arm's length and by a scanner.

Two codes (both drawn by the report library): the serial as Code 128 (ISO/IEC 15417), which types it
at the form of the next unit, and a QR code (ISO/IEC 18004) of serial and the beginning of the
record's SHA-256, so that label and record can be held against each other. Code 128 holds ASCII
only: a serial with other letters, or a very long one, has the QR code alone.
"""

from collections.abc import Sequence
from dataclasses import dataclass
from datetime import datetime
from pathlib import Path
from typing import Any, Final

from reportlab.graphics import renderPDF
from reportlab.graphics.barcode.code128 import Code128
from reportlab.lib.units import mm
from reportlab.pdfbase.pdfmetrics import stringWidth
from reportlab.pdfgen.canvas import Canvas

from benchstation.domain.cautions import LABEL as CAUTION
from benchstation.domain.duties import NOT_INDEPENDENT
from benchstation.domain.rebuild import Rebuild
from benchstation.domain.unit_record import UnitRecord
from benchstation.quantities.formatter import QuantityFormatter, local_day, local_time
from benchstation.quantities.units import UnitSystem
from benchstation.reports.export import FiledRecord
from benchstation.reports.fonts import BODY, STRONG, plain, register_fonts
from benchstation.reports.paper import verdict_in_words
from benchstation.reports.record_code import SHORT_HASH, drawn, label_text
from benchstation.reports.remarks import reference_charge, virtual_words

SIZE: Final = (80 * mm, 50 * mm)
MARGIN: Final = 3 * mm
QR_MM: Final = 21.0
QUIET: Final = 10
"""Quiet zone on both sides of Code 128, in widths of its narrowest bar (ISO/IEC 15417)."""
LEAST_BAR: Final = 0.25 * mm
BARS_HEIGHT: Final = 9 * mm
LEAST_BARS_HEIGHT: Final = 5 * mm
GAP: Final = 1.2 * mm
LEAST_PT: Final = 6.5
"""Smaller than that nobody reads."""
SIZES: Final = (9.0, 8.5, 8.0, 7.5, 7.0, LEAST_PT)
LARGE: Final = (16.0, 14.0, 12.0, 10.5, 9.0, 8.0)
LEADING: Final = 1.18


def label_lines(filed: FiledRecord, words: QuantityFormatter) -> tuple[str, ...]:
    """Return the lines under the serial."""
    record, charge = filed.record, filed.record.charge
    place = " ".join(filed.place).strip()
    reference = words.temperature(charge.terms.reference_k)
    charged, _, at_reference = reference_charge(charge, words)
    lines = (
        record.family,
        place,
        CAUTION,
        f"Oil {words.volume(record.oil.net_volume_ref_m3)} at {reference}",
        f"{charged}: {at_reference}",
        _tight(record),
        "MEASURED BY NO INSTRUMENT" if virtual_words(record) else "",
        "" if record.specification.independent else f"Specification {NOT_INDEPENDENT}",
        f"{local_day(datetime.fromisoformat(record.filed_utc))}  {record.filed_by.name}",
        verdict_in_words(filed.decision, filed.disposition.standing).upper(),
    )
    return tuple(line for line in lines if line)


def _tight(record: UnitRecord) -> str:
    found = record.second_reading
    return f"Read again by {found.believed}: {found.decision}" if found is not None else ""


def waiting_lines(rebuild: Rebuild, due: datetime) -> tuple[str, ...]:
    """Return the lines under the serial of a unit that waits for its second reading."""
    opened = rebuild.opened
    return (
        opened.family,
        f"{opened.order} {opened.position}".strip(),
        "WAITS FOR ITS SECOND READING",
        f"From {local_time(due)} on",
        CAUTION,
    )


def write_waiting_label(rebuild: Rebuild, due: datetime, path: Path) -> Path:
    """Write the label of a charged unit that is not filed yet: it waits for its second reading."""
    lines = waiting_lines(rebuild, due)
    proof = "not filed"
    serial = rebuild.opened.serial
    return _write(serial, serial, tuple(line for line in lines if line), proof, path)


def write_label(filed: FiledRecord, path: Path, system: UnitSystem = UnitSystem.METRIC) -> Path:
    """Write the label as PDF, whole or not at all, and give its path."""
    proof = f"record {filed.sha256[:SHORT_HASH]}"
    lines = label_lines(filed, QuantityFormatter(system))
    return _write(filed.serial, label_text(filed), lines, proof, path)


def _write(serial: str, code: str, lines: tuple[str, ...], proof: str, path: Path) -> Path:
    register_fonts()
    temporary = path.with_name(path.name + ".part")
    canvas = Canvas(str(temporary), pagesize=SIZE, invariant=1, initialFontName=BODY)
    canvas.setTitle(f"Label {serial}")
    width, height = SIZE
    side = QR_MM * mm
    renderPDF.draw(drawn(code, side), canvas, width - MARGIN - side, height - MARGIN - side)
    rows = laid_out(serial, lines, proof)
    for row in rows:
        canvas.setFont(row.font, row.size)
        canvas.drawString(MARGIN, row.y, row.text)
    _draw_bars(canvas, serial, rows[-1].y - GAP - MARGIN)
    canvas.showPage()
    canvas.save()
    return temporary.replace(path)


@dataclass(frozen=True, slots=True)
class Row:
    """A piece of text where it is drawn."""

    text: str
    font: str
    size: float
    y: float


def laid_out(serial: str, lines: Sequence[str], proof: str) -> list[Row]:
    """Return the rows of text: as large as all of it fits, wrapped where it is long, never cut.

    The caution and the last line, the verdict, are bold. Beside the square code there is less room.
    """
    *above, verdict = [plain(line) for line in lines]
    caution = plain(CAUTION)
    told = [(line, STRONG if line == caution else BODY) for line in above]
    told += [(verdict, STRONG), (plain(proof), BODY)]
    floor = MARGIN + (BARS_HEIGHT + GAP if bars_of(serial) is not None else 0)
    for size in SIZES:
        rows = _rows(plain(serial), told, size)
        if rows[-1].y >= floor:
            break
    return rows


def _rows(serial: str, told: Sequence[tuple[str, str]], size: float) -> list[Row]:
    narrow, wide = SIZE[0] - 3 * MARGIN - QR_MM * mm, SIZE[0] - 2 * MARGIN
    beside = SIZE[1] - MARGIN - QR_MM * mm
    large = next((s for s in LARGE if stringWidth(serial, STRONG, s) <= narrow), LEAST_PT)
    y = SIZE[1] - MARGIN
    rows: list[Row] = []
    for text, font, points in ((serial, STRONG, large), *((t, f, size) for t, f in told)):
        left = text
        while left:
            y -= points * LEADING
            part = _fitting(left, font, points, narrow if y + points > beside else wide)
            rows.append(Row(part.rstrip(), font, points, y))
            left = left[len(part) :].lstrip()
    return rows


def _fitting(text: str, font: str, size: float, room: float) -> str:
    """Return as much of a text as fits into a row: whole words, or a part of a long one."""
    end = len(text)
    while end > 1 and stringWidth(text[:end].rstrip(), font, size) > room:
        space = text.rfind(" ", 0, end - 1)
        end = space + 1 if space > 0 else end - 1
    return text[:end]


def bars_of(serial: str, height: float = BARS_HEIGHT) -> Code128 | None:
    """Return the serial as Code 128, as wide as the label lets it be; ``None``: it does not fit."""
    if not serial.isascii():
        return None
    room = SIZE[0] - 2 * MARGIN
    modules = Code128(serial, barWidth=1, quiet=0).width + 2 * QUIET
    bar = min(0.5 * mm, room / modules)
    if bar < LEAST_BAR:
        return None
    return Code128(
        serial, barWidth=bar, barHeight=height, quiet=1, lquiet=QUIET * bar, rquiet=QUIET * bar
    )


def _draw_bars(canvas: Canvas, serial: str, room: float) -> None:
    """Draw the bars below the text, lower where it needs the room; the square code has it too."""
    bars: Any = bars_of(serial, min(BARS_HEIGHT, room)) if room >= LEAST_BARS_HEIGHT else None
    if bars is not None:
        bars.drawOn(canvas, (SIZE[0] - bars.width) / 2, MARGIN)
