"""What the steps recorded, on paper: parts with lots, disc stacks, long texts and photographs."""

from collections.abc import Mapping, Sequence
from io import BytesIO
from typing import Any, Final

from PIL import Image as Picture
from PIL import ImageOps
from reportlab.lib.units import mm
from reportlab.platypus import Flowable, Image, KeepTogether, Spacer, Table

from benchstation.domain.disc_stack import (
    AS_BUILT,
    AS_FOUND,
    SIDES,
    Stack,
    as_text,
    differences_in,
    height_in_words,
    rows_of,
    stack_in,
)
from benchstation.domain.parts import parts_in
from benchstation.domain.photos import photos_in
from benchstation.reports.export import FiledRecord
from benchstation.reports.paper import HEAD, SMALL, grid_style, paragraph

LONGEST_SUMMARY: Final = 80
PHOTO_MM: Final = (86.0, 64.0)
PIXELS: Final = 1200
"""Longest side of a photograph on paper: some 350 dots per inch."""
QUALITY: Final = 85


def recorded_story(filed: FiledRecord, width: float) -> list[Flowable]:
    """Return what goes below the table of steps."""
    steps = filed.record["steps"]
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
    return Table(body, colWidths=list(widths), style=grid_style(), repeatRows=1, hAlign="LEFT")


def _parts(steps: Sequence[Mapping[str, Any]], width: float) -> list[Flowable]:
    rows = [
        (part["number"], str(part["name"]), str(part["count"]), _lot(part))
        for step in steps
        for part in parts_in(step["evidence"])
    ]
    if not rows:
        return []
    widths = (0.2 * width, 0.4 * width, 0.1 * width, 0.3 * width)
    return [_section("Parts", [_table(("Number", "Part", "Count", "Lot"), rows, widths)])]


def _lot(part: Mapping[str, Any]) -> str:
    if part.get("missing"):
        return "missing; accepted as a deviation"
    return str(part["lot"]) or "fitted"


def _stacks(steps: Sequence[Mapping[str, Any]], width: float) -> list[Flowable]:
    found: list[tuple[str, Stack]] = []
    for record in (AS_FOUND, AS_BUILT):
        for side in SIDES:
            for step in steps:
                stack = stack_in(step["evidence"], record, side)
                if stack:
                    found.append((f"{side.capitalize()}, {record}", stack))
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
        for step in steps
        for word in differences_in(step["evidence"])
    ]
    table = Table(rows, colWidths=[quarter] * 4, style=style)
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


def _texts(steps: Sequence[Mapping[str, Any]]) -> list[Flowable]:
    """Return texts that the table of steps shows only the beginning of."""
    told: list[Flowable] = []
    for step in steps:
        text = step["evidence"].get("text", "")
        if isinstance(text, str) and (len(text) > LONGEST_SUMMARY or "\n" in text):
            lines = [paragraph(line, SMALL) for line in text.splitlines() if line.strip()]
            told += [Spacer(1, 2 * mm), paragraph(step["title"], HEAD), *lines]
    return told


def _photos(filed: FiledRecord, width: float) -> list[Flowable]:
    listed = photos_in(filed.record)
    if not listed:
        return []
    cells = [_photo(photo, filed.photos.get(photo["sha256"])) for photo in listed]
    cells += [[] for _ in range(len(cells) % 2)]
    rows = [cells[start : start + 2] for start in range(0, len(cells), 2)]
    style = [
        ("VALIGN", (0, 0), (-1, -1), "TOP"),
        ("LEFTPADDING", (0, 0), (-1, -1), 0),
        ("RIGHTPADDING", (0, 0), (-1, -1), 0),
        ("BOTTOMPADDING", (0, 0), (-1, -1), 6),
    ]
    first, *rest = (Table([row], colWidths=[width / 2] * 2, style=style) for row in rows)
    return [_section("Photographs", [first]), *rest]


def _photo(photo: Mapping[str, Any], data: bytes | None) -> list[Flowable]:
    words = ", ".join(part for part in (photo["step"], photo.get("caption", "")) if part)
    told = [paragraph(words, SMALL), paragraph(f"SHA-256 {photo['sha256']}", SMALL)]
    drawn = _drawn(data) if data is not None else None
    if drawn is None:
        return [paragraph("This photograph is missing or damaged in the records.", SMALL), *told]
    return [drawn, *told]


def _drawn(data: bytes) -> Image | None:
    """Return photograph scaled for paper, turned as it was taken; ``None`` for a damaged one."""
    try:
        with Picture.open(BytesIO(data), formats=("JPEG", "PNG")) as opened:
            picture = ImageOps.exif_transpose(opened).convert("RGB")
        picture.thumbnail((PIXELS, PIXELS))
    except (OSError, ValueError, SyntaxError, Picture.DecompressionBombError):
        return None
    file = BytesIO()
    picture.save(file, "JPEG", quality=QUALITY)
    file.seek(0)
    wide, high = picture.size
    scale = min(PHOTO_MM[0] * mm / wide, PHOTO_MM[1] * mm / high)
    return Image(file, wide * scale, high * scale, hAlign="LEFT")
