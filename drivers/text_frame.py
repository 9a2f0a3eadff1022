"""A text frame: fields in a row (see ``text_fields``), compiled to one strict pattern.

A field takes its width or, where it varies, as much as it can, and gives nothing back: matching
takes time linear in the length of the line, whatever a profile says. Status bits are read by their
column, not by the pattern, and demand that every column before them has a width.
"""

import re
from collections.abc import Container, Mapping
from dataclasses import dataclass, replace

from benchstation.driver_api.options import Options
from benchstation.driver_api.reading import FaultKind
from drivers.text_fields import (
    KINDS,
    OF_A_CHANNEL,
    ONCE,
    OPTIONAL,
    STATUS_FAULTS,
    Bits,
    Check,
    Field,
    as_far_as,
    group_of,
    make_field,
    optional,
)

_GROUPS = (*OF_A_CHANNEL, "checksum")


@dataclass(frozen=True, slots=True)
class Trouble:
    """Why a line is no reading, and the place in it where it differs, if it is known."""

    kind: FaultKind
    words: str
    place: int | None = None


@dataclass(frozen=True, slots=True)
class TextFrame:
    """A compiled line. Groups of ``pattern``: sign, number, unit, status, net, checksum.

    A further channel's groups have its name behind theirs.
    ``length`` is the length without terminator, ``None`` when a field varies in width.
    ``ending`` is what of the terminator ``pattern`` matches.
    """

    pattern: re.Pattern[bytes]
    fields: tuple[Field, ...]
    length: int | None
    ending: bytes
    check: Check | None
    bits: tuple[tuple[int, int, Bits], ...]
    """First column, column after the last, and meaning of each field of status bits."""
    forms: tuple[tuple[str, re.Pattern[bytes]], ...]
    """Groups of numbers of fixed width, and what stands in them."""
    walk: tuple[tuple[Field, re.Pattern[bytes], tuple[tuple[bytes, str], ...]], ...]
    """Each field with its pattern, and its texts that report a fault, the longest first."""
    last_faults: int
    """The last of them that has any; -1: none."""

    def match(self, body: bytes) -> re.Match[bytes] | None:
        """Return the match of a line, without its terminator, that is laid out as it must be."""
        found = self.pattern.fullmatch(body)
        if found is not None:
            for group, form in self.forms:
                if form.fullmatch(found[group]) is None:
                    return None
        return found

    def explain(self, body: bytes, units: Mapping[str, Container[bytes]]) -> Trouble:
        """Return why ``body``, a line without its terminator, is not a reading."""
        trouble = self._walk(body, units)
        if self.length is not None and len(body) != self.length:
            words = f"{len(body)} characters where {self.length} are due"
            return Trouble(FaultKind.BAD_FRAME, words, trouble.place)
        if self.check and not self.checksum_holds(body):
            words = "the check characters do not fit the line"
            return Trouble(FaultKind.BAD_CHECKSUM, words, max(0, len(body) - self.check.width))
        for means in self._bits_of(body):
            if means in STATUS_FAULTS:
                return Trouble(STATUS_FAULTS[means], f"the instrument reports {means}")
        return trouble

    def _walk(self, body: bytes, units: Mapping[str, Container[bytes]]) -> Trouble:
        """Return the first fault that the instrument reports, or the first field that differs."""
        trouble: Trouble | None = None
        column = 0
        for number, (field, pattern, faults) in enumerate(self.walk):
            if trouble is not None and number > self.last_faults:
                break
            for code, means in faults:
                if body.startswith(code, column):
                    words = f"the instrument reports {means}"
                    return Trouble(STATUS_FAULTS[means], words)
            found = pattern.match(body, column)
            after = found.end() if found else column + field.width if field.width else len(body)
            text = body[column:after]
            if trouble is None and (
                found is None or (field.form is not None and not field.form.fullmatch(text))
            ):
                words = f"column {column + 1}: no valid {field.kind}"
                trouble = Trouble(FaultKind.BAD_FRAME, words, column)
                if field.kind == "unit" and text not in units[field.of]:
                    shown = text.decode("ascii", "backslashreplace")
                    words = f"unit '{shown}' is not in the profile"
                    trouble = Trouble(FaultKind.UNKNOWN_UNIT, words, column)
            column = after
        words = "the line is not laid out as the profile says"
        return trouble or Trouble(FaultKind.BAD_FRAME, words, min(column, len(body)))

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
        return self.match(body) is not None and self.checksum_holds(body)

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
    units: Mapping[str, tuple[bytes, ...]],
    decimal: bytes,
    start: bytes,
    terminator: bytes,
) -> tuple[TextFrame, dict[str, dict[bytes, bytes]]]:
    """Compile the ``fields`` of a profile; give the frame and padded unit text -> unit text.

    ``units`` are the unit texts of each channel, the profile's own under the empty name; so are
    those given. ``start`` and ``terminator`` are what begins and ends a line. Raises
    :class:`~benchstation.driver_api.errors.OptionError`.
    """
    fields: list[Field] = []
    padded: dict[str, dict[bytes, bytes]] = {of: {} for of in units}
    if start:
        fields.append(Field("start", len(start), re.escape(start), {}))
    for table in tables:
        fields.append(_field(table, fields, units, decimal, padded))
        table.finish()
    _check_order(fields, tables[-1], tuple(units))
    check = fields[-1].check
    ending = terminator[:-1]
    if check is not None and check.after_end:
        if not start:
            raise tables[-1].refused("after_end", "it needs a start character")
        fields.insert(-1, Field("end", len(terminator), re.escape(terminator), {}))
        ending = b""
    elif check is not None and check.form == "byte" and terminator:
        raise tables[-1].refused("form", "a byte may look like the line's end; use 'after_end'")
    fields = _skipping(fields, tables[-1])
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
        pattern=_pattern(fields, ending, tuple(units)),
        fields=tuple(fields),
        length=None if None in widths else sum(width or 0 for width in widths),
        ending=ending,
        check=check,
        bits=tuple(bits),
        walk=tuple((f, re.compile(f.pattern, re.DOTALL), _faults(f)) for f in fields),
        last_faults=max((n for n, field in enumerate(fields) if _faults(field)), default=-1),
        forms=tuple((field.group, field.form) for field in fields if field.form is not None),
    )
    return frame, padded


def _faults(field: Field) -> tuple[tuple[bytes, str], ...]:
    found = [(c, means) for c, means in field.codes.items() if c and means in STATUS_FAULTS]
    return tuple(sorted(found, key=lambda pair: len(pair[0]), reverse=True))


def _field(
    table: Options,
    before: list[Field],
    units: Mapping[str, tuple[bytes, ...]],
    decimal: bytes,
    padded: dict[str, dict[bytes, bytes]],
) -> Field:
    """Take one field of a profile."""
    kind = table.choice("kind", KINDS)
    of = ""
    if kind in OF_A_CHANNEL and "of" in table:
        of = table.choice("of", tuple(name for name in units if name))
    if kind in ONCE and any((field.kind, field.of) == (kind, of) for field in before):
        raise table.refused("kind", f"there is a {kind} field already")
    field = replace(make_field(kind, table, units[of], decimal, padded[of]), of=of)
    if kind in OPTIONAL and table.flag("optional"):
        if field.width is None:
            raise table.refused("optional", "text of any width may be absent as it is")
        field = optional(field)
    return field


def _skipping(fields: list[Field], last: Options) -> list[Field]:
    """Return the fields with skipped text of any width ending where the next literal begins."""
    made = []
    for index, field in enumerate(fields):
        if field.kind == "other" and field.width is None and index + 1 < len(fields):
            following = fields[index + 1]
            if following.kind != "literal" or following.width is None:
                raise last.refused("kind", "text of any width ends at a literal, or at the end")
            field = as_far_as(field, next(iter(following.codes)))
        made.append(field)
    return made


def _check_order(fields: list[Field], last: Options, channels: tuple[str, ...]) -> None:
    kinds = [field.kind for field in fields]
    for of in channels:
        if not any((field.kind, field.of) == ("number", of) for field in fields):
            raise last.refused("kind", f"the frame has no number field{' of ' * bool(of)}{of}")
    if "checksum" in kinds[:-1]:
        raise last.refused("kind", "the checksum must be the last field")


def _pattern(fields: list[Field], ending: bytes, channels: tuple[str, ...]) -> re.Pattern[bytes]:
    # Groups are named, and absent ones match nothing, so that the driver reads them all at once.
    parts = []
    for field in fields:
        in_group = field.kind in _GROUPS
        name = field.group.encode()
        parts.append(b"(?P<%s>%s)" % (name, field.pattern) if in_group else field.pattern)
    names = {field.group for field in fields}
    wanted = ["checksum", *(group_of(kind, of) for of in channels for kind in OF_A_CHANNEL)]
    absent = [b"(?P<%s>)" % name.encode() for name in wanted if name not in names]
    return re.compile(b"".join([*parts, re.escape(ending), *absent]), re.DOTALL)
