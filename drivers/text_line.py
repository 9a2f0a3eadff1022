"""Scales and gauges that send lines of ASCII text, streaming or on request.

A line is a reading only when the whole of it matches the profile's frame: length, every column,
sign, unit and, where there is one, checksum. Everything else is a fault, never a value. Digits are
the ten of ASCII; there is no "nan", no exponent, no underscore.
"""

import re
from collections.abc import Mapping
from typing import Any, ClassVar

from benchstation.driver_api.contract import (
    ChannelSpec,
    Driver,
    DriverInfo,
    FrameCounts,
    OptionSpec,
)
from benchstation.driver_api.errors import UnsupportedCommandError
from benchstation.driver_api.framing import DelimitedFramer, FixedFramer, Framer, LineFramer
from benchstation.driver_api.options import Options, channel_from
from benchstation.driver_api.reading import Fault, FaultKind, Item, Quantity, Reply
from drivers.text_fields import STATUS_FAULTS
from drivers.text_frame import TextFrame, compile_frame
from drivers.text_value import LineValue, Said, Unit

_COMMANDS = ("tare", "zero", "print")
_SPOILT = (FaultKind.BAD_FRAME, FaultKind.BAD_CHECKSUM)


class TextLineDriver(Driver):
    """One channel, or several, out of lines of text laid out as the profile says."""

    info: ClassVar[DriverInfo] = DriverInfo(
        id="text_line",
        title="Lines of text in fixed columns",
        quantities=tuple(Quantity),
        options=(
            OptionSpec("fields", "the columns of a line, in order", required=True),
            OptionSpec("units", "unit text to SI: a factor, or {factor, offset}", required=True),
            OptionSpec(
                "channel", "name, quantity, reference, low, high, resolution", required=True
            ),
            OptionSpec("unit", "the unit, where the line has no unit column"),
            OptionSpec("also", "further channels of the line: quantity -> range, units, unit"),
            OptionSpec("terminator", "one or two characters that end a line; CR LF by default"),
            OptionSpec("unterminated", "true: frames of fixed length without an end"),
            OptionSpec("start", "one character that begins a frame"),
            OptionSpec("decimal", "the decimal separator: '.' or ','"),
            OptionSpec("poll", "request for one reading; without it the instrument streams"),
            OptionSpec("commands", "tare, zero, print: what to send"),
            OptionSpec("messages", "whole lines: overload, underload or error; # is any digit"),
            OptionSpec("replies", "whole lines that answer a command: {command, accepted}"),
        ),
    )

    def __init__(self, options: Mapping[str, Any]) -> None:
        take = Options(options, self.info.id)
        self.counts = FrameCounts()
        own = channel_from(take)
        self._poll = _bytes(take, "poll") if "poll" in take else None
        self._commands = _commands(take.table("commands"))
        self.capabilities = frozenset(self._commands)
        decimal = take.choice("decimal", (".", ","), ".").encode()
        start = take.ascii("start", longest=1) if "start" in take else b""
        terminator = (
            b"" if take.flag("unterminated") else take.ascii("terminator", "\r\n", longest=2)
        )
        self._messages = _messages(take.table("messages"))
        self._replies = _replies(take.table("replies"), self._commands)
        also = _also(take.table("also"), own)
        units = {"": _units(take)} | {of: _units(options) for of, (_, options) in also.items()}
        self._frame, padded = compile_frame(
            take.tables("fields"),
            units={of: tuple(named) for of, named in units.items()},
            decimal=decimal,
            start=start,
            terminator=terminator,
        )
        self._by_name = units[""]
        has_unit_bits = any(means.startswith("unit ") for means in _bit_meanings(self._frame))
        takes = {"": take} | {of: options for of, (_, options) in also.items()}
        self._units = {
            of: {b"": None}
            if not of and not padded[""] and has_unit_bits
            else _units_in_line(takes[of], units[of], padded[of])
            for of in units
        }
        for _, options_of in also.values():
            options_of.finish()
        after_end = self._frame.check is not None and self._frame.check.after_end
        if after_end and (self._messages or self._replies):
            raise take.refused("fields", "check characters after the end allow no whole lines")
        # What the framer leaves at the end of a frame and the pattern does not match.
        self._end = b"" if after_end else terminator[-1:]
        self._framer = _framer(take, start, terminator, self._frame)
        take.finish()
        channels = {"": own} | {of: channel for of, (channel, _) in also.items()}
        self.channels = tuple(channels.values())
        values = [
            LineValue(channel.name, self._frame, self._units[of], decimal, of)
            for of, channel in channels.items()
        ]
        self._value, self._further = values[0], values[1:]
        self._has_bits = bool(self._frame.bits)
        # A piece of a number that varies in width looks like a whole one: skip to a line's end.
        self._must_join = self._frame.length is None and self._poll is None and not start
        self._joining = self._must_join

    def poll(self) -> bytes | None:
        """Return the request for one reading, or ``None`` when the device streams."""
        return self._poll

    def command(self, name: str) -> bytes:
        """Return the bytes of a command in :attr:`capabilities`."""
        if name not in self._commands:
            raise UnsupportedCommandError(self.info.id, name)
        return self._commands[name]

    def reset(self) -> None:
        """Forget half a line, and the unit last seen."""
        self._framer.clear()
        self.counts.discarded_bytes = self._framer.discarded
        for value in (self._value, *self._further):
            value.reset()
        self._joining = self._must_join

    def feed(self, data: bytes, at: float) -> list[Item]:
        """Return a reading, fault or reply for every line that ended in ``data``."""
        frames = self._framer.push(data)
        if frames and self._joining:
            self._joining = False
            self._framer.discarded += len(frames.pop(0))
        match = self._frame.match
        cut = -len(self._end) or None
        items: list[Item] = []
        for frame in frames:
            found = match(frame[:cut])
            items.append(self._reading(found, frame, at) if found else self._other(frame, at))
            # What is wrong with the line is wrong with each of its values.
            if found and self._further and not _of_the_line(items[-1]):
                items += [value.read(found, frame, at, None) for value in self._further]
        self.counts.note(items, len(frames), self._framer.discarded)
        return items

    def _reading(self, found: re.Match[bytes], frame: bytes, at: float) -> Item:
        if self._frame.check is not None:
            covered = found.string[: found.end("checksum")]
            if not self._frame.checksum_holds(covered):
                return self._other(frame, at)
        if not self._has_bits:
            return self._value.read(found, frame, at, None)
        said = self._bits(self._value.said(found), found.string, frame, at)
        if isinstance(said, Fault):
            return said
        return self._value.read(found, frame, at, said)

    def _bits(self, said: Said, body: bytes, frame: bytes, at: float) -> Said | Fault:
        """Add to what the columns said what the status bits say."""
        meanings = self._frame.bit_meanings(body)
        if meanings is None:
            return Fault(FaultKind.BAD_FRAME, at, frame, "the status is none of this instrument")
        for means in meanings:
            word, _, rest = means.partition(" ")
            if means in STATUS_FAULTS:
                return Fault(STATUS_FAULTS[means], at, frame, f"the instrument reports {means}")
            if word == "unit":
                said.unit = self._by_name[rest.encode()]
            elif word == "decimals":
                said.decimals = int(rest)
            elif word in ("stable", "moving"):
                said.stable = word == "stable"
            elif word in ("net", "gross"):
                said.net = word == "net"
            else:
                said.minus = word == "minus"
        return said

    def _other(self, frame: bytes, at: float) -> Item:
        """Return what a line is that is no reading: a message, a reply, or damage."""
        body = frame[: len(frame) - len(self._frame.ending) - len(self._end)]
        if frame != body + self._frame.ending + self._end:
            place = len(frame) - len(self._end)
            return Fault(FaultKind.BAD_FRAME, at, frame, "the line's end is damaged", place)
        for pattern, kind, text in self._messages:
            if pattern.fullmatch(body):
                return Fault(kind, at, frame, f"the instrument reports {text}")
        if body in self._replies:
            command, accepted = self._replies[body]
            return Reply(command, accepted, at, frame)
        trouble = self._frame.explain(body, self._units)
        return Fault(trouble.kind, at, frame, trouble.words, trouble.place)


def _of_the_line(item: Item) -> bool:
    return isinstance(item, Fault) and item.kind in _SPOILT


def _bit_meanings(frame: TextFrame) -> list[str]:
    return [means for _, _, bits in frame.bits for _, _, means in bits.meanings]


def _bytes(take: Options, name: str) -> bytes:
    return take.ascii(name, longest=32)


def _commands(table: Options) -> dict[str, bytes]:
    commands = {name: _bytes(table, name) for name in _COMMANDS if name in table}
    table.finish()
    return commands


def _also(table: Options, own: ChannelSpec) -> dict[str, tuple[ChannelSpec, Options]]:
    """Take the further channels of a line: quantity -> its channel, and what is left of options."""
    found = {}
    for name in table.names():
        part = table.table(name)
        if name not in tuple(Quantity) or name == own.quantity:
            raise table.refused(name, "it is a quantity, and not the profile's own")
        known = ("reference", "low", "high", "resolution")
        spec = {key: part.value(key) for key in known if key in part}
        where = Options({"channel": {"name": name, "quantity": name} | spec}, name)
        found[name] = (channel_from(where), part)
    return found


def _units_in_line(
    take: Options, units: Mapping[bytes, Unit], padded: Mapping[bytes, bytes]
) -> dict[bytes, Unit | None]:
    """Return the units by their text in the line; without a column the one that is stated."""
    if padded:
        # None is the blank that leaves the unit as it was.
        return {text: units.get(unit) for text, unit in padded.items()}
    unit = take.ascii("unit")
    if unit not in units:
        raise take.refused("unit", "it is not in the unit table")
    return {b"": units[unit]}


def _units(take: Options) -> dict[bytes, Unit]:
    """Take unit text -> (factor, offset, text), with value_si = number * factor + offset."""
    table = take.table("units", required=True)
    units = {}
    for name in table.names():
        if not name.isascii() or name != name.strip() or not name:
            raise table.refused(name, "a unit is ASCII text without spaces around it")
        if table.is_table(name):
            pair = table.table(name)
            factor, offset = pair.number("factor", 1e-12, 1e12), pair.number("offset", -1e6, 1e6)
            pair.finish()
        else:
            factor, offset = table.number(name, 1e-12, 1e12), 0.0
        units[name.encode()] = (factor, offset, name)
    if not units:
        raise take.refused("units", "there must be at least one unit")
    return units


def _messages(table: Options) -> list[tuple[re.Pattern[bytes], FaultKind, str]]:
    messages = []
    for name in table.names():
        text = table.choice(name, tuple(STATUS_FAULTS))
        if not name.isascii():
            raise table.refused(name, "only ASCII texts are allowed")
        pattern = re.escape(name.encode()).replace(re.escape(b"#"), b"[0-9]")
        messages.append((re.compile(pattern), STATUS_FAULTS[text], text))
    return messages


def _replies(table: Options, commands: Mapping[str, bytes]) -> dict[bytes, tuple[str, bool]]:
    replies = {}
    for name in table.names():
        reply = table.table(name)
        if not name.isascii():
            raise table.refused(name, "only ASCII texts are allowed")
        command = reply.choice("command", tuple(commands))
        replies[name.encode()] = (command, reply.flag("accepted"))
        reply.finish()
    return replies


def _framer(take: Options, start: bytes, terminator: bytes, frame: TextFrame) -> Framer:
    if start:
        if len(terminator) != 1:
            raise take.refused("terminator", "after a start character it is one character")
        check = frame.check
        return DelimitedFramer(
            start, terminator, tail=check.width if check and check.after_end else 0
        )
    if terminator:
        return LineFramer(terminator)
    if frame.length is None:
        raise take.refused("unterminated", "then every column needs a width")
    return FixedFramer(frame.length, frame.fits)
