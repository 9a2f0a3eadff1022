"""The columns of a text frame: what each kind of field may hold, and what its texts mean.

Kinds of fields, in the order they stand in the line (``width`` in characters):

======== =========================================================================================
literal  ``text``, exactly
status   ``codes``: text -> stable, moving, zero, overload, underload or error. Texts of several
         widths make the line vary in length; the empty text is a mark that is absent
net      ``codes``: text -> net or gross; widths as above
sign     ``plus`` and ``minus``, one character each
number   digits with at most one decimal separator. ``width`` with ``pad`` = space or zero, or
         without ``width`` 1 to ``longest`` characters. ``floating_minus``: a ``-`` may stand
         before the first digit; ``floating_plus``: a ``+`` may. ``decimals``: no separator is
         sent; so many digits stand after it. ``thousands``: the character between groups of three
         digits. ``codes``: text of the whole field -> overload, underload, error
unit     ``width`` and ``align``, or without ``width`` unpadded; the texts come from the unit
         table. ``blank_when_moving``: all spaces, or without ``width`` nothing at all, mean that
         the device is moving, in the unit it last showed
bits     status bits, in one byte as it is or (``form`` = hex) in ``width`` hexadecimal digits.
         ``always = {mask, value}``: what every such field holds. ``bits``: a list of
         ``{mask, value, means}``; means is stable, moving, net, gross, plus, minus, overload,
         underload, error, ``unit X`` with X from the unit table, or ``decimals N``
other    text that means nothing here: ``holds`` = digits (and spaces) or printable. ``width``
         characters of it, or without ``width`` up to ``longest``, as far as the literal that
         follows, or the end of the line
checksum ``algorithm`` xor, sum, complement, crc16 or crc16-ccitt over the characters before it,
         ``form`` = hex in upper-case digits or byte as it is (high byte first).
         ``covers_start``: over the start character as well. ``after_end``: it follows the end
         character and covers it
======== =========================================================================================

``optional``: a literal, sign or other that need not be there. ``of``: the further channel of the
line that a status, net, sign, number or unit belongs to.

No field is read in two ways: what varies in length takes as much as it can and gives nothing back,
so that a line is walked once, however it looks.
"""

import re
from collections.abc import Mapping
from dataclasses import dataclass, replace

from benchstation.driver_api.framing import CHECKSUMS
from benchstation.driver_api.options import Options
from benchstation.driver_api.reading import FaultKind

STATUS_FAULTS = {
    "overload": FaultKind.OVER_RANGE,
    "underload": FaultKind.UNDER_RANGE,
    "error": FaultKind.DEVICE_ERROR,
}
OF_A_CHANNEL = ("status", "net", "sign", "number", "unit")
OPTIONAL = ("literal", "sign", "other")
KINDS = ("literal", "status", "net", "sign", "number", "unit", "bits", "other", "checksum")
ONCE = ("status", "net", "sign", "number", "unit", "checksum")
MOST_DECIMALS = 9
MOST_SKIPPED = 200
"""Longest text of any width that is skipped: a line ends before it."""
THOUSANDS = (",", ".", " ", "'", "_")
_BIT_MEANINGS = ("stable", "moving", "net", "gross", "plus", "minus", *STATUS_FAULTS)


@dataclass(frozen=True, slots=True)
class Bits:
    """What the bits of one field mean: (mask, value, meaning), after what they always hold."""

    hexadecimal: bool
    always_mask: int
    always_value: int
    meanings: tuple[tuple[int, int, str], ...]

    def of(self, text: bytes) -> list[str] | None:
        """Return the meanings of a field's text, ``None`` where it is none of this device."""
        number = int(text, 16) if self.hexadecimal else text[0]
        if number & self.always_mask != self.always_value:
            return None
        return [means for mask, value, means in self.meanings if number & mask == value]


@dataclass(frozen=True, slots=True)
class Check:
    """How the check characters are made."""

    algorithm: str
    form: str
    covers_start: bool
    after_end: bool

    @property
    def width(self) -> int:
        """Characters they take."""
        size = CHECKSUMS[self.algorithm][1]
        return 2 * size if self.form == "hex" else size

    def of(self, covered: bytes) -> bytes:
        """Return the check characters of what they cover."""
        function, size = CHECKSUMS[self.algorithm]
        number = function(covered)
        return b"%0*X" % (2 * size, number) if self.form == "hex" else number.to_bytes(size, "big")


@dataclass(frozen=True, slots=True)
class Field:
    """One run of columns. ``pattern`` matches legal texts; ``codes`` are texts with a meaning.

    ``form`` is what a number of fixed width must look like inside its columns. ``of`` is the
    further channel that it belongs to, empty for the profile's own.
    """

    kind: str
    width: int | None
    pattern: bytes
    codes: Mapping[bytes, str]
    bits: Bits | None = None
    check: Check | None = None
    decimals: int = 0
    form: re.Pattern[bytes] | None = None
    thousands: bytes = b""
    of: str = ""

    @property
    def group(self) -> str:
        """Return the name of its group in the line's pattern."""
        return group_of(self.kind, self.of)


def group_of(kind: str, of: str) -> str:
    """Return the name of a group; a further channel's name is letters, as quantities are."""
    return f"{kind}_{of}" if of else kind


def make_field(
    kind: str, table: Options, units: tuple[bytes, ...], decimal: bytes, padded: dict[bytes, bytes]
) -> Field:
    """Make one field of a profile; a unit field adds to ``padded``: its text -> unit text."""
    if kind == "literal":
        text = table.ascii("text")
        return Field(kind, len(text), re.escape(text), {text: kind})
    if kind == "status":
        return _coded(kind, table, ("stable", "moving", "zero", *STATUS_FAULTS))
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
    if kind == "bits":
        return _bits(table, units)
    if kind == "other":
        digits = table.choice("holds", ("digits", "printable")) == "digits"
        one = b"[0-9 ]" if digits else b"[ -~]"
        if "width" in table:
            width = table.integer("width", 1, 64)
            return Field(kind, width, b"%s{%d}" % (one, width), {})
        return Field(
            kind, None, b"%s{0,%d}+" % (one, table.integer("longest", 1, MOST_SKIPPED)), {}
        )
    return _checksum(table)


def _coded(kind: str, table: Options, meanings: tuple[str, ...]) -> Field:
    codes = _codes(table, meanings, required=True)
    legal = tuple(code for code, meaning in codes.items() if meaning not in STATUS_FAULTS)
    if not legal:
        raise table.refused("codes", "none of them marks a reading")
    widths = {len(code) for code in codes}
    return Field(kind, widths.pop() if len(widths) == 1 else None, _one_of(legal), codes)


def _codes(
    table: Options, meanings: tuple[str, ...], *, required: bool = False
) -> dict[bytes, str]:
    codes = table.table("codes", required=required)
    found = {}
    for name in codes.names():
        if not isinstance(name, str) or not name.isascii():
            raise table.refused("codes", "only ASCII texts are allowed")
        found[name.encode("ascii")] = codes.choice(name, meanings)
    return found


def _number(table: Options, decimal: bytes) -> Field:
    signs = b"-" * table.flag("floating_minus") + b"+" * table.flag("floating_plus")
    sign = b"[%s]?+" % re.escape(signs) if signs else b""
    point = re.escape(decimal)
    thousands = b""
    if "thousands" in table:
        thousands = table.choice("thousands", THOUSANDS).encode()
        if thousands == decimal:
            raise table.refused("thousands", "it must differ from the decimal separator")
    implied = "decimals" in table
    decimals = table.integer("decimals", 0, MOST_DECIMALS, 0)
    between = re.escape(thousands)
    whole = b"[0-9]{1,3}+(?:%s[0-9]{3})*+" % between if thousands else b"[0-9]++"
    fraction = b"" if implied else b"(?:%s[0-9]++)?+" % point
    digits = sign + whole + fraction
    if "width" not in table:
        one = b"[0-9%s%s%s]" % (re.escape(signs), point, between)
        fits = b"(?=%s{1,%d}+(?!%s))" % (one, table.integer("longest", 1, 20, 12), one)
        return Field("number", None, fits + digits, {}, decimals=decimals, thousands=thousands)
    width = table.integer("width", 1, 20)
    pad = b" *+" if table.choice("pad", ("space", "zero")) == "space" else b""
    codes = _codes(table, tuple(STATUS_FAULTS))
    if any(len(code) != width for code in codes):
        raise table.refused("codes", f"each must fill the {width} columns")
    one = b"[0-9%s%s%s%s]{%d}" % (re.escape(signs), point, between, b" " if pad else b"", width)
    texts = b"|".join([one, *map(re.escape, codes)])
    return Field(
        "number",
        width,
        b"(?>%s)" % texts,
        codes,
        decimals=decimals,
        form=re.compile(b"|".join([pad + digits, *map(re.escape, codes)])),
        thousands=thousands,
    )


def _unit(table: Options, units: tuple[bytes, ...], padded: dict[bytes, bytes]) -> Field:
    if "width" not in table:
        padded.update({unit: unit for unit in units})
        if table.flag("blank_when_moving"):
            padded[b""] = b""
        return Field("unit", None, _one_of(tuple(padded)), {})
    width = table.integer("width", 1, 16)
    left = table.choice("align", ("left", "right")) == "left"
    for unit in units:
        if len(unit) > width:
            raise table.refused("width", f"unit '{unit.decode()}' does not fit")
        padded[unit.ljust(width) if left else unit.rjust(width)] = unit
    if table.flag("blank_when_moving"):
        padded[b" " * width] = b""
    return Field("unit", width, _one_of(tuple(padded)), {})


def _bits(table: Options, units: tuple[bytes, ...]) -> Field:
    hexadecimal = table.choice("form", ("byte", "hex"), "byte") == "hex"
    width = table.integer("width", 1, 8 if hexadecimal else 1, 1)
    most = 16**width - 1 if hexadecimal else 255
    always_mask = always_value = 0
    if "always" in table:
        always = table.table("always")
        always_mask, always_value = _masked(always, most)
        always.finish()
    meanings = []
    for bit in table.tables("bits"):
        mask, value = _masked(bit, most)
        meanings.append((mask, value, _bit_meaning(bit, units)))
        bit.finish()
    pattern = b"[0-9A-F]{%d}" % width if hexadecimal else b"."
    bits = Bits(hexadecimal, always_mask, always_value, tuple(meanings))
    return Field("bits", width, pattern, {}, bits=bits)


def _masked(table: Options, most: int) -> tuple[int, int]:
    mask = table.integer("mask", 1, most)
    value = table.integer("value", 0, most)
    if value & ~mask:
        raise table.refused("value", "it has bits outside its mask")
    return mask, value


def _bit_meaning(bit: Options, units: tuple[bytes, ...]) -> str:
    means = bit.text("means")
    word, _, rest = means.partition(" ")
    digits = tuple(str(number) for number in range(MOST_DECIMALS + 1))
    known = (
        means in _BIT_MEANINGS
        or (word == "unit" and rest.encode() in units)
        or (word == "decimals" and rest in digits)
    )
    if not known:
        words = ", ".join(_BIT_MEANINGS)
        raise bit.refused("means", f"one of {words}, 'unit X' or 'decimals N' is required")
    return means


def _checksum(table: Options) -> Field:
    check = Check(
        algorithm=table.choice("algorithm", tuple(CHECKSUMS)),
        form=table.choice("form", ("hex", "byte"), "hex"),
        covers_start=table.flag("covers_start"),
        after_end=table.flag("after_end"),
    )
    one = b"[0-9A-F]" if check.form == "hex" else b"."
    return Field("checksum", check.width, b"%s{%d}" % (one, check.width), {}, check=check)


def _one_of(texts: tuple[bytes, ...]) -> bytes:
    longest_first = sorted(texts, key=len, reverse=True)
    return b"(?>" + b"|".join(re.escape(text) for text in longest_first) + b")"


def optional(field: Field) -> Field:
    """Return a field that need not be there."""
    return replace(field, width=None, pattern=b"(?>%s)?+" % field.pattern)


def as_far_as(field: Field, literal: bytes) -> Field:
    """Return skipped text of any width that ends where a literal begins."""
    one, _, most = field.pattern.rpartition(b"{")
    return replace(field, pattern=b"(?:(?!%s)%s){%s" % (re.escape(literal), one, most))
