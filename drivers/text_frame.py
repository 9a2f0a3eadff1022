"""A text frame as columns: named fields in a row, compiled to one strict pattern.

Kinds of fields, in the order they stand in the line (``width`` in characters):

======== =========================================================================================
literal  ``text``, exactly
status   ``codes``: text -> stable, moving, overload, underload or error; all of one width
net      ``codes``: text -> net or gross; all of one width
sign     ``plus`` and ``minus``, one character each; the column must be there
number   digits with at most one decimal separator. ``width`` with ``pad`` = space or zero, or
         without ``width`` 1 to ``longest`` characters. ``floating_minus``: a ``-`` may stand
         before the first digit. ``codes``: text of the whole field -> overload, underload, error
unit     ``width`` and ``align``, or without ``width`` unpadded; the texts come from the unit
         table. ``blank_when_moving``: all spaces mean that the device is moving, in the unit it
         last showed
checksum ``algorithm`` xor, sum or crc16 in upper-case hexadecimal, over the characters before it
         (the start byte left out)
======== =========================================================================================

Where a field has a width, its place in the line is pinned, so no pattern backtracks over more than
one number: matching takes time linear in the length of the line.
"""

import re
from collections.abc import Container, Mapping
from dataclasses import dataclass

from benchstation.driver_api.framing import CHECKSUMS
from benchstation.driver_api.options import Options
from benchstation.driver_api.reading import FaultKind

STATUS_FAULTS = {
    "overload": FaultKind.OVER_RANGE,
    "underload": FaultKind.UNDER_RANGE,
    "error": FaultKind.DEVICE_ERROR,
}
_KINDS = ("literal", "status", "net", "sign", "number", "unit", "checksum")
_ONCE = _KINDS[1:]
_GROUPS = ("sign", "number", "unit", "status", "net", "checksum")


@dataclass(frozen=True, slots=True)
class Field:
    """One run of columns. ``pattern`` matches legal texts; ``codes`` are texts with a meaning."""

    kind: str
    width: int | None
    pattern: bytes
    codes: Mapping[bytes, str]
    algorithm: str = ""


@dataclass(frozen=True, slots=True)
class TextFrame:
    """A compiled line. Groups 1 to 6 of ``pattern`` are sign, number, unit, status, net, checksum.

    ``length`` is the length without terminator, ``None`` when a number or unit varies in width.
    """

    pattern: re.Pattern[bytes]
    fields: tuple[Field, ...]
    length: int | None
    ending: bytes
    algorithm: str

    def explain(self, body: bytes, units: Container[bytes]) -> tuple[FaultKind, str]:
        """Say why ``body``, a line without its terminator, is not a reading."""
        if self.length is not None and len(body) != self.length:
            return FaultKind.BAD_FRAME, f"{len(body)} characters where {self.length} are due"
        if self.algorithm and not self.checksum_holds(body):
            return FaultKind.BAD_CHECKSUM, "the check characters do not fit the line"
        trouble: tuple[FaultKind, str] | None = None
        column = 0
        for field in self.fields:
            found = re.compile(field.pattern, re.DOTALL).match(body, column)
            width = field.width or (found.end() - column if found else len(body) - column)
            text = body[column : column + width]
            meaning = field.codes.get(text, "")
            if meaning in STATUS_FAULTS:
                return STATUS_FAULTS[meaning], f"the device reports {meaning}"
            if trouble is None and not re.fullmatch(field.pattern, text, re.DOTALL):
                trouble = FaultKind.BAD_FRAME, f"column {column + 1}: no valid {field.kind}"
                if field.kind == "unit" and text not in units:
                    shown = text.decode("ascii", "backslashreplace")
                    trouble = FaultKind.UNKNOWN_UNIT, f"unit '{shown}' is not in the profile"
            column += width
        return trouble or (FaultKind.BAD_FRAME, "the line is not laid out as the profile says")

    def checksum_holds(self, body: bytes) -> bool:
        """Say whether the check characters at the end of ``body`` fit the rest."""
        function, width = CHECKSUMS[self.algorithm]
        start = len(self.fields[0].pattern) if self.fields[0].kind == "start" else 0
        covered, given = body[start : -2 * width], body[-2 * width :]
        return given == b"%0*X" % (2 * width, function(covered))


def compile_frame(
    tables: list[Options],
    *,
    units: tuple[bytes, ...],
    decimal: bytes,
    start: bytes,
    ending: bytes,
) -> tuple[TextFrame, dict[bytes, bytes]]:
    """Compile the ``fields`` of a profile; give the frame and padded unit text -> unit text.

    ``start`` and ``ending`` are what the framer leaves before and after the columns. Raises
    :class:`~benchstation.driver_api.errors.OptionError`.
    """
    fields: list[Field] = []
    padded: dict[bytes, bytes] = {}
    if start:
        fields.append(Field("start", len(start), re.escape(start), {}))
    for table in tables:
        kind = table.choice("kind", _KINDS)
        if kind in _ONCE and any(field.kind == kind for field in fields):
            raise table.refused("kind", f"there is a {kind} field already")
        fields.append(_field(kind, table, units, decimal, padded))
        table.finish()
    kinds = [field.kind for field in fields]
    if "number" not in kinds:
        raise tables[-1].refused("kind", "the frame has no number field")
    if "checksum" in kinds[:-1]:
        raise tables[-1].refused("kind", "the checksum must be the last field")
    widths = [field.width for field in fields]
    before = widths[: kinds.index("number")]
    if None in before:
        raise tables[-1].refused("kind", "a unit without a width must follow the number")
    length = None if None in widths else sum(width or 0 for width in widths)
    frame = TextFrame(
        pattern=_pattern(fields, ending),
        fields=tuple(fields),
        length=length,
        ending=ending,
        algorithm=fields[-1].algorithm,
    )
    return frame, padded


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


def _field(
    kind: str, table: Options, units: tuple[bytes, ...], decimal: bytes, padded: dict[bytes, bytes]
) -> Field:
    if kind == "literal":
        text = table.ascii("text")
        return Field(kind, len(text), re.escape(text), {})
    if kind == "status":
        return _coded(kind, table, ("stable", "moving", *STATUS_FAULTS))
    if kind == "net":
        return _coded(kind, table, ("net", "gross"))
    if kind == "sign":
        plus, minus = table.ascii("plus", longest=1), table.ascii("minus", longest=1)
        if plus == minus:
            raise table.refused("minus", "it must differ from 'plus'")
        return Field(kind, 1, _one_of((plus, minus)), {plus: "plus", minus: "minus"})
    if kind == "number":
        return _number(table, decimal)
    if kind == "unit":
        return _unit(table, units, padded)
    algorithm = table.choice("algorithm", tuple(CHECKSUMS))
    digits = 2 * CHECKSUMS[algorithm][1]
    return Field(kind, digits, b"[0-9A-F]{%d}" % digits, {}, algorithm)


def _coded(kind: str, table: Options, meanings: tuple[str, ...]) -> Field:
    codes = _codes(table, meanings)
    if len({len(code) for code in codes}) != 1:
        raise table.refused("codes", "there must be some, all of one width")
    legal = tuple(code for code, meaning in codes.items() if meaning not in STATUS_FAULTS)
    if not legal:
        raise table.refused("codes", "none of them marks a reading")
    return Field(kind, len(legal[0]), _one_of(legal), codes)


def _codes(table: Options, meanings: tuple[str, ...]) -> dict[bytes, str]:
    codes = table.table("codes")
    found = {}
    for name in codes.names():
        if not isinstance(name, str) or not name.isascii():
            raise table.refused("codes", "only ASCII texts are allowed")
        found[name.encode("ascii")] = codes.choice(name, meanings)
    return found


def _number(table: Options, decimal: bytes) -> Field:
    minus = b"-?" if table.flag("floating_minus") else b""
    point = re.escape(decimal)
    if "width" not in table:
        longest = table.integer("longest", 1, 16, 12)
        digits = b"(?=[-0-9%s]{1,%d}(?![-0-9%s]))" % (point, longest, point)
        return Field(
            "number", None, digits + b"(?P<number>%s[0-9]+(?:%s[0-9]+)?)" % (minus, point), {}
        )
    width = table.integer("width", 1, 16)
    pad = b" *" if table.choice("pad", ("space", "zero")) == "space" else b""
    codes = _codes(table, tuple(STATUS_FAULTS))
    if any(len(code) != width for code in codes):
        raise table.refused("codes", f"each must fill the {width} columns")
    pattern = b"%s(?P<number>%s[0-9]+(?:%s[0-9]+)?)" % (pad, minus, point)
    return Field("number", width, pattern, codes)


def _unit(table: Options, units: tuple[bytes, ...], padded: dict[bytes, bytes]) -> Field:
    if "width" not in table:
        padded.update({unit: unit for unit in units})
        return Field("unit", None, _one_of(units), {})
    width = table.integer("width", 1, 16)
    left = table.choice("align", ("left", "right")) == "left"
    for unit in units:
        if len(unit) > width:
            raise table.refused("width", f"unit '{unit.decode()}' does not fit")
        padded[unit.ljust(width) if left else unit.rjust(width)] = unit
    if table.flag("blank_when_moving"):
        padded[b" " * width] = b""
    return Field("unit", width, _one_of(tuple(padded)), {})


def _one_of(texts: tuple[bytes, ...]) -> bytes:
    longest_first = sorted(texts, key=len, reverse=True)
    return b"(?:" + b"|".join(re.escape(text) for text in longest_first) + b")"
