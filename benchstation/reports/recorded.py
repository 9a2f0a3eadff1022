"""What the steps recorded, on paper: parts with lots, disc stacks, long texts and photographs."""

from collections.abc import Sequence
from io import BytesIO
from typing import Final

from PIL import Image as Opened
from PIL import ImageOps
from reportlab.lib.units import mm
from reportlab.platypus import Flowable, Image, KeepTogether, Spacer, Table

from benchstation.domain.disc_stack import (
    AS_BUILT,
    AS_FOUND,
    SIDES,
    Stack,
    as_text,
    height_in_words,
    rows_of,
)
from benchstation.domain.inputs.given import Picture
from benchstation.domain.inputs.part import PartFitted
from benchstation.domain.inputs.registry import Evidence
from benchstation.domain.inputs.stack import StackRecorded
from benchstation.domain.inputs.text import Written
from benchstation.domain.photo_size import why_not_drawn
from benchstation.domain.recorded_inputs import of_kind, photos_in, steps_of
from benchstation.reports.evidence_words import LONGEST, differences
from benchstation.reports.export import FiledRecord
from benchstation.reports.paper import HEAD, SMALL, grid_style, paragraph
from benchstation.reports.tagged import Figure, data_table, layout_table

Steps = Sequence[tuple[str, Evidence]]
"""Steps as title and evidence."""
PHOTO_MM: Final = (86.0, 64.0)
PIXELS: Final = 1200
"""Longest side of a photograph on paper: some 350 dots per inch."""
QUALITY: Final = 85


def recorded_story(filed: FiledRecord, width: float) -> list[Flowable]:
    """Return what goes below the table of steps."""
    steps = tuple(steps_of(filed.record))
    return [
        *_parts(steps, width),
        *_stacks(steps, width),
        *_texts(steps),
        *_photos(filed, width),
    ]


def _section(title: str, content: Sequence[Flowable]) -> Flowable:
    return KeepTogether([Spacer(1, 2 * mm), paragraph(title, HEAD), *content])


def _table(head: Sequence[str], rows: Sequence[Sequence[str]], widths: Sequence[float]) -> Table:
    body = [[paragraph(cell, SMALL) for cell in row] for row in (head, *rows)]
    return data_table(body, widths, grid_style())


def _parts(steps: Steps, width: float) -> list[Flowable]:
    rows = [
        (part.number, part.label, str(part.count), _lot(part))
        for _, evidence in steps
        for part in of_kind(evidence, PartFitted)
    ]
    if not rows:
        return []
    widths = (0.2 * width, 0.4 * width, 0.1 * width, 0.3 * width)
    return [_section("Parts", [_table(("Number", "Part", "Count", "Lot"), rows, widths)])]


def _lot(part: PartFitted) -> str:
    if part.missing:
        return "missing; accepted as a deviation"
    return part.lot or "fitted"


def _stacks(steps: Steps, width: float) -> list[Flowable]:
    recorded = [result for _, evidence in steps for result in of_kind(evidence, StackRecorded)]
    found = [
        (f"{side.capitalize()}, {record}", stack)
        for record in (AS_FOUND, AS_BUILT)
        for side in SIDES
        for result in recorded
        if result.label == record and (stack := result.side(side))
    ]
    if not found:
        return []
    quarter = width / 4
    cells = [_stack(title, stack, quarter) for title, stack in found]
    cells += [[] for _ in range(-len(cells) % 4)]
    rows = [cells[start : start + 4] for start in range(0, len(cells), 4)]
    style = [
        ("VALIGN", (0, 0), (-1, -1), "TOP"),
        ("LEFTPADDING", (0, 0), (-1, -1), 0),
        ("RIGHTPADDING", (0, 0), (-1, -1), 6),
    ]
    differs = [
        paragraph(f"Differs from the specification: {word}", SMALL)
        for result in recorded
        for word in differences(result)
    ]
    table = layout_table(rows, [quarter] * 4, style)
    return [_section("Disc stacks, from the piston", [table, *differs])]


def _stack(title: str, stack: Stack, width: float) -> list[Flowable]:
    room = width - 6
    widths = (0.4 * room, 0.35 * room, 0.25 * room)
    head = ("Ø, mm", "Thick, mm", "Count")
    rows = rows_of(as_text(stack))
    said = height_in_words(stack)
    return [
        paragraph(title, SMALL),
        _table(head, rows, widths),
        paragraph(said, SMALL),
    ]


def _texts(steps: Steps) -> list[Flowable]:
    """Return texts that the table of steps shows only the beginning of."""
    told: list[Flowable] = []
    for title, evidence in steps:
        for result in of_kind(evidence, Written):
            if len(result.text) > LONGEST or "\n" in result.text:
                lines = [paragraph(x, SMALL) for x in result.text.splitlines() if x.strip()]
                told += [Spacer(1, 2 * mm), paragraph(title, HEAD), *lines]
    return told


def _photos(filed: FiledRecord, width: float) -> list[Flowable]:
    listed = photos_in(filed.record)
    if not listed:
        return []
    cells = [_photo(title, photo, filed.photos.get(photo.sha256)) for title, photo in listed]
    cells += [[] for _ in range(len(cells) % 2)]
    rows = [cells[start : start + 2] for start in range(0, len(cells), 2)]
    style = [
        ("VALIGN", (0, 0), (-1, -1), "TOP"),
        ("LEFTPADDING", (0, 0), (-1, -1), 0),
        ("RIGHTPADDING", (0, 0), (-1, -1), 0),
        ("BOTTOMPADDING", (0, 0), (-1, -1), 6),
    ]
    first, *rest = (layout_table([row], [width / 2] * 2, style) for row in rows)
    return [_section("Photographs", [first]), *rest]


def _photo(title: str, photo: Picture, data: bytes | None) -> list[Flowable]:
    words = ", ".join(part for part in (title, photo.caption) if part)
    told = [paragraph(words, SMALL), paragraph(f"SHA-256 {photo.sha256}", SMALL)]
    drawn = _drawn(data) if data is not None else None
    if drawn is None:
        return [paragraph("This photograph is missing or damaged in the records.", SMALL), *told]
    return [Figure(drawn, f"Photograph: {words}"), *told]


def _drawn(data: bytes) -> Image | None:
    """Return photograph scaled for paper, turned as it was taken; ``None`` for a damaged one."""
    try:
        with Opened.open(BytesIO(data), formats=("JPEG", "PNG")) as opened:
            if why_not_drawn(*opened.size):
                return None
            picture = ImageOps.exif_transpose(opened).convert("RGB")
        picture.thumbnail((PIXELS, PIXELS))
    except (OSError, ValueError, SyntaxError, Opened.DecompressionBombError):
        return None
    file = BytesIO()
    picture.save(file, "JPEG", quality=QUALITY)
    file.seek(0)
    wide, high = picture.size
    scale = min(PHOTO_MM[0] * mm / wide, PHOTO_MM[1] * mm / high)
    return Image(file, wide * scale, high * scale, hAlign="LEFT")
