"""A text frame: fields in a row (see ``text_fields``), compiled to one strict pattern.

Where a field has a width, its place in the line is pinned, so no pattern backtracks over more than
one number: matching takes time linear in the length of the line. Status bits are read by their
column, not by the pattern, and demand that every column before them has a width.
"""

import re
from collections.abc import Container
from dataclasses import dataclass

from benchstation.driver_api.options import Options
from benchstation.driver_api.reading import FaultKind
from drivers.text_fields import KINDS, ONCE, STATUS_FAULTS, Bits, Check, Field, make_field

_GROUPS = ("sign", "number", "unit", "status", "net", "checksum")


@dataclass(frozen=True, slots=True)
class TextFrame:
    """A compiled line. Groups of ``pattern``: sign, number, unit, status, net, checksum.

    ``length`` is the length without terminator, ``None`` when a number or unit varies in width.
    ``ending`` is what of the terminator ``pattern`` matches.
    """

    pattern: re.Pattern[bytes]
    fields: tuple[Field, ...]
    length: int | None
    ending: bytes
    check: Check | None
    bits: tuple[tuple[int, int, Bits], ...]
    """First column, column after the last, and meaning of each field of status bits."""
    decimals: int

    def explain(self, body: bytes, units: Container[bytes]) -> tuple[FaultKind, str]:
        """Return why ``body``, a line without its terminator, is not a reading."""
        if self.length is not None and len(body) != self.length:
            return FaultKind.BAD_FRAME, f"{len(body)} characters where {self.length} are due"
        if self.check and not self.checksum_holds(body):
            return FaultKind.BAD_CHECKSUM, "the check characters do not fit the line"
        trouble: tuple[FaultKind, str] | None = None
        for means in self._bits_of(body):
            if means in STATUS_FAULTS:
                return STATUS_FAULTS[means], f"the instrument reports {means}"
        column = 0
        for field in self.fields:
            found = re.compile(field.pattern, re.DOTALL).match(body, column)
            width = field.width or (found.end() - column if found else len(body) - column)
            text = body[column : column + width]
            meaning = field.codes.get(text, "")
            if meaning in STATUS_FAULTS:
                return STATUS_FAULTS[meaning], f"the instrument reports {meaning}"
            if trouble is None and not re.fullmatch(field.pattern, text, re.DOTALL):
                trouble = FaultKind.BAD_FRAME, f"column {column + 1}: no valid {field.kind}"
                if field.kind == "unit" and text not in units:
                    shown = text.decode("ascii", "backslashreplace")
                    trouble = FaultKind.UNKNOWN_UNIT, f"unit '{shown}' is not in the profile"
            column += width
        return trouble or (FaultKind.BAD_FRAME, "the line is not laid out as the profile says")

    def _bits_of(self, body: bytes) -> list[str]:
        """Return what the bits say of a line that may be damaged, nothing where they are."""
        legal = [field.pattern for field in self.fields if field.bits is not None]
        texts = [body[first:after] for first, after, _ in self.bits]
        pairs = zip(legal, texts, strict=True)
        if all(re.fullmatch(pattern, text, re.DOTALL) for pattern, text in pairs):
            return self.bit_meanings(body) or []
        return []

    def fits(self, body: bytes) -> bool:
        """Return True when ``body`` is a frame of this device, check characters and all."""
        return self.pattern.fullmatch(body) is not None and self.checksum_holds(body)

    def checksum_holds(self, body: bytes) -> bool:
        """Return True when the check characters at the end of ``body`` fit the rest."""
        check = self.check
        if check is None:
            return True
        has_start = self.fields[0].kind == "start" and not check.covers_start
        covered = body[int(has_start) : -check.width]
        return body[-check.width :] == check.of(covered)

    def bit_meanings(self, body: bytes) -> list[str] | None:
        """Return what the status bits of a line say, ``None`` where they are not this device's."""
        meanings: list[str] = []
        for first, after, bits in self.bits:
            found = bits.of(body[first:after])
            if found is None:
                return None
            meanings += found
        return meanings


def compile_frame(
    tables: list[Options],
    *,
    units: tuple[bytes, ...],
    decimal: bytes,
    start: bytes,
    terminator: bytes,
) -> tuple[TextFrame, dict[bytes, bytes]]:
    """Compile the ``fields`` of a profile; give the frame and padded unit text -> unit text.

    ``start`` and ``terminator`` are what begins and ends a line. Raises
    :class:`~benchstation.driver_api.errors.OptionError`.
    """
    fields: list[Field] = []
    padded: dict[bytes, bytes] = {}
    if start:
        fields.append(Field("start", len(start), re.escape(start), {}))
    for table in tables:
        kind = table.choice("kind", KINDS)
        if kind in ONCE and any(field.kind == kind for field in fields):
            raise table.refused("kind", f"there is a {kind} field already")
        fields.append(make_field(kind, table, units, decimal, padded))
        table.finish()
    _check_order(fields, tables[-1])
    check = fields[-1].check
    ending = terminator[:-1]
    if check is not None and check.after_end:
        if not start:
            raise tables[-1].refused("after_end", "it needs a start character")
        fields.insert(-1, Field("end", len(terminator), re.escape(terminator), {}))
        ending = b""
    elif check is not None and check.form == "byte" and terminator:
        raise tables[-1].refused("form", "a byte may look like the line's end; use 'after_end'")
    widths = [field.width for field in fields]
    bits = []
    for index, field in enumerate(fields):
        if field.bits is not None:
            before = widths[: index + 1]
            if None in before:
                raise tables[-1].refused("kind", "columns before status bits need a width")
            column = sum(width or 0 for width in before[:-1])
            bits.append((column, column + (field.width or 0), field.bits))
    frame = TextFrame(
        pattern=_pattern(fields, ending),
        fields=tuple(fields),
        length=None if None in widths else sum(width or 0 for width in widths),
        ending=ending,
        check=check,
        bits=tuple(bits),
        decimals=next(field.decimals for field in fields if field.kind == "number"),
    )
    return frame, padded


def _check_order(fields: list[Field], last: Options) -> None:
    kinds = [field.kind for field in fields]
    if "number" not in kinds:
        raise last.refused("kind", "the frame has no number field")
    if "checksum" in kinds[:-1]:
        raise last.refused("kind", "the checksum must be the last field")
    if None in [field.width for field in fields[: kinds.index("number")]]:
        raise last.refused("kind", "a unit without a width must follow the number")


def _pattern(fields: list[Field], ending: bytes) -> re.Pattern[bytes]:
    # Groups are named, and absent ones match nothing, so that the driver reads all six at once.
    parts = []
    column: int | None = 0
    for field in fields:
        in_group = field.kind in _GROUPS and field.kind != "number"
        name = field.kind.encode()
        parts.append(b"(?P<%s>%s)" % (name, field.pattern) if in_group else field.pattern)
        column = None if column is None or field.width is None else column + field.width
        if field.kind == "number" and column is not None:
            # The number's own pattern takes any width: it has to end at its last column.
            parts.append(b"(?<=\\A.{%d})" % column)
    kinds = [field.kind for field in fields]
    absent = [b"(?P<%s>)" % kind.encode() for kind in _GROUPS if kind not in kinds]
    return re.compile(b"".join([*parts, re.escape(ending), *absent]), re.DOTALL)
