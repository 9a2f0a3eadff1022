"""The columns of a text frame: what each kind of field may hold, and what its texts mean.

Kinds of fields, in the order they stand in the line (``width`` in characters):

======== =========================================================================================
literal  ``text``, exactly
status   ``codes``: text -> stable, moving, zero, overload, underload or error; all of one width
net      ``codes``: text -> net or gross; all of one width
sign     ``plus`` and ``minus``, one character each; the column must be there
number   digits with at most one decimal separator. ``width`` with ``pad`` = space or zero, or
         without ``width`` 1 to ``longest`` characters. ``floating_minus``: a ``-`` may stand
         before the first digit. ``decimals``: no separator is sent; so many digits stand after
         it. ``codes``: text of the whole field -> overload, underload, error
unit     ``width`` and ``align``, or without ``width`` unpadded; the texts come from the unit
         table. ``blank_when_moving``: all spaces mean that the device is moving, in the unit it
         last showed
bits     status bits, in one byte as it is or (``form`` = hex) in ``width`` hexadecimal digits.
         ``always = {mask, value}``: what every such field holds. ``bits``: a list of
         ``{mask, value, means}``; means is stable, moving, net, gross, plus, minus, overload,
         underload, error, ``unit X`` with X from the unit table, or ``decimals N``
other    ``width`` characters that mean nothing here: ``holds`` = digits (and spaces) or printable
checksum ``algorithm`` xor, sum, complement, crc16 or crc16-ccitt over the characters before it,
         ``form`` = hex in upper-case digits or byte as it is (high byte first).
         ``covers_start``: over the start character as well. ``after_end``: it follows the end
         character and covers it
======== =========================================================================================
"""

import re
from collections.abc import Mapping
from dataclasses import dataclass

from benchstation.driver_api.framing import CHECKSUMS
from benchstation.driver_api.options import Options
from benchstation.driver_api.reading import FaultKind

STATUS_FAULTS = {
    "overload": FaultKind.OVER_RANGE,
    "underload": FaultKind.UNDER_RANGE,
    "error": FaultKind.DEVICE_ERROR,
}
KINDS = ("literal", "status", "net", "sign", "number", "unit", "bits", "other", "checksum")
ONCE = ("status", "net", "sign", "number", "unit", "checksum")
MOST_DECIMALS = 9
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
    """One run of columns. ``pattern`` matches legal texts; ``codes`` are texts with a meaning."""

    kind: str
    width: int | None
    pattern: bytes
    codes: Mapping[bytes, str]
    bits: Bits | None = None
    check: Check | None = None
    decimals: int = 0


def make_field(
    kind: str, table: Options, units: tuple[bytes, ...], decimal: bytes, padded: dict[bytes, bytes]
) -> Field:
    """Make one field of a profile; a unit field adds to ``padded``: its text -> unit text."""
    if kind == "literal":
        text = table.ascii("text")
        return Field(kind, len(text), re.escape(text), {})
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
        width = table.integer("width", 1, 64)
        digits = table.choice("holds", ("digits", "printable")) == "digits"
        return Field(kind, width, b"%s{%d}" % (b"[0-9 ]" if digits else b"[ -~]", width), {})
    return _checksum(table)


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
    implied = "decimals" in table
    decimals = table.integer("decimals", 0, MOST_DECIMALS, 0)
    fraction = b"" if implied else b"(?:%s[0-9]+)?" % point
    if "width" not in table:
        longest = table.integer("longest", 1, 16, 12)
        fits = b"(?=[-0-9%s]{1,%d}(?![-0-9%s]))" % (point, longest, point)
        pattern = fits + b"(?P<number>%s[0-9]+%s)" % (minus, fraction)
        return Field("number", None, pattern, {}, decimals=decimals)
    width = table.integer("width", 1, 16)
    pad = b" *" if table.choice("pad", ("space", "zero")) == "space" else b""
    codes = _codes(table, tuple(STATUS_FAULTS))
    if any(len(code) != width for code in codes):
        raise table.refused("codes", f"each must fill the {width} columns")
    pattern = b"%s(?P<number>%s[0-9]+%s)" % (pad, minus, fraction)
    return Field("number", width, pattern, codes, decimals=decimals)


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
    return b"(?:" + b"|".join(re.escape(text) for text in longest_first) + b")"
