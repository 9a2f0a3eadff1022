"""Scales and gauges that send lines of ASCII text, streaming or on request.

A line is a reading only when the whole of it matches the profile's frame: length, every column,
sign, unit and, where there is one, checksum. Everything else is a fault, never a value. Digits are
the ten of ASCII; there is no "nan", no exponent, no underscore.
"""

import re
from collections.abc import Mapping
from dataclasses import dataclass
from typing import Any, ClassVar

from benchstation.driver_api.contract import Driver, DriverInfo, FrameCounts, OptionSpec
from benchstation.driver_api.errors import UnsupportedCommandError
from benchstation.driver_api.framing import DelimitedFramer, FixedFramer, Framer, LineFramer
from benchstation.driver_api.options import Options, channel_from
from benchstation.driver_api.reading import Fault, FaultKind, Item, Quantity, Reading, Reply
from drivers.text_fields import STATUS_FAULTS
from drivers.text_frame import TextFrame, compile_frame

_COMMANDS = ("tare", "zero", "print")


@dataclass(slots=True)
class _Said:
    """What status bits said of one line."""

    stable: bool | None = None
    net: bool | None = None
    minus: bool = False
    unit: tuple[float, float, str] | None = None
    decimals: int | None = None


class TextLineDriver(Driver):
    """One channel out of lines of text laid out as the profile says."""

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
        self.channels = (channel_from(take),)
        self.counts = FrameCounts()
        self._name = self.channels[0].name
        self._poll = _bytes(take, "poll") if "poll" in take else None
        self._commands = _commands(take.table("commands"))
        self.capabilities = frozenset(self._commands)
        units = _units(take)
        self._decimal = take.choice("decimal", (".", ","), ".").encode()
        start = take.ascii("start", longest=1) if "start" in take else b""
        terminator = (
            b"" if take.flag("unterminated") else take.ascii("terminator", "\r\n", longest=2)
        )
        self._messages = _messages(take.table("messages"))
        self._replies = _replies(take.table("replies"), self._commands)
        self._frame, padded = compile_frame(
            take.tables("fields"),
            units=tuple(units),
            decimal=self._decimal,
            start=start,
            terminator=terminator,
        )
        # Padded text as in the line; None is the blank that leaves the unit as it was.
        self._units = {text: units.get(unit) for text, unit in padded.items()}
        self._by_name = units
        if not padded and any(means.startswith("unit ") for means in _bit_meanings(self._frame)):
            self._units = {b"": None}
        elif not padded:
            unit = take.ascii("unit")
            if unit not in units:
                raise take.refused("unit", "it is not in the unit table")
            self._units = {b"": units[unit]}
        after_end = self._frame.check is not None and self._frame.check.after_end
        if after_end and (self._messages or self._replies):
            raise take.refused("fields", "check characters after the end allow no whole lines")
        # What the framer leaves at the end of a frame and the pattern does not match.
        self._end = b"" if after_end else terminator[-1:]
        self._framer = _framer(take, start, terminator, self._frame)
        take.finish()
        codes = {field.kind: field.codes for field in self._frame.fields}
        self._minus = {text for text, sign in codes.get("sign", {}).items() if sign == "minus"}
        self._stable: dict[bytes, bool | None] = {b"": None}
        self._stable |= {
            text: means in ("stable", "zero") for text, means in codes.get("status", {}).items()
        }
        self._net: dict[bytes, bool | None] = {b"": None}
        self._net |= {text: means == "net" for text, means in codes.get("net", {}).items()}
        self._steps: dict[tuple[int, str], float] = {}
        self._remembers_unit = bool(padded) and None in self._units.values()
        self._has_bits = bool(self._frame.bits)
        self._last_unit: tuple[float, float, str] | None = None
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
        self._last_unit = None
        self._joining = self._must_join

    def feed(self, data: bytes, at: float) -> list[Item]:
        """Return a reading, fault or reply for every line that ended in ``data``."""
        frames = self._framer.push(data)
        if frames and self._joining:
            self._joining = False
            self._framer.discarded += len(frames.pop(0))
        match = self._frame.pattern.fullmatch
        cut = -len(self._end) or None
        items: list[Item] = []
        for frame in frames:
            found = match(frame[:cut])
            items.append(self._reading(found, frame, at) if found else self._other(frame, at))
        self._count(items)
        return items

    def _reading(self, found: re.Match[bytes], frame: bytes, at: float) -> Item:
        sign, number, unit_text, status, net_text, check = found.group(
            "sign", "number", "unit", "status", "net", "checksum"
        )
        if check and not self._frame.checksum_holds(found.string[: found.end("checksum")]):
            return self._other(frame, at)
        unit = self._units[unit_text]
        stable, net, minus = self._stable[status], self._net[net_text], sign in self._minus
        decimals = self._frame.decimals
        if self._has_bits:
            said = self._bits(_Said(stable, net, minus), found.string, frame, at)
            if isinstance(said, Fault):
                return said
            stable, net, minus = said.stable, said.net, said.minus
            unit = said.unit or unit
            decimals = decimals if said.decimals is None else said.decimals
        if self._remembers_unit:
            if unit is None:
                unit, stable = self._last_unit, False
                if unit is None:
                    why = "the instrument is moving and has not shown its unit yet"
                    return Fault(FaultKind.UNKNOWN_UNIT, at, frame, why)
            elif stable is None:
                stable = True
            self._last_unit = unit
        if unit is None:
            return self._other(frame, at)
        factor, offset, name = unit
        point = number.find(self._decimal)
        shown = float(number) if self._decimal == b"." else float(number.replace(b",", b"."))
        if point >= 0:
            decimals = len(number) - point - 1
        elif decimals:
            shown /= 10**decimals
        value = (-shown if minus else shown) * factor + offset
        step = self._steps.get((decimals, name))
        if step is None:
            step = self._steps[decimals, name] = factor / 10**decimals
        # Adding zero turns a minus zero into zero.
        return Reading(self._name, value + 0.0, at, name, frame, stable, step, net)

    def _bits(self, said: _Said, body: bytes, frame: bytes, at: float) -> _Said | Fault:
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
            return Fault(FaultKind.BAD_FRAME, at, frame, "the line's end is damaged")
        for pattern, kind, text in self._messages:
            if pattern.fullmatch(body):
                return Fault(kind, at, frame, f"the instrument reports {text}")
        if body in self._replies:
            command, accepted = self._replies[body]
            return Reply(command, accepted, at, frame)
        kind, why = self._frame.explain(body, self._units)
        return Fault(kind, at, frame, why)

    def _count(self, items: list[Item]) -> None:
        counts = self.counts
        counts.frames += len(items)
        counts.discarded_bytes = self._framer.discarded
        for item in items:
            if type(item) is Reading:
                counts.readings += 1
            elif type(item) is Fault:
                counts.rejected += 1
                counts.by_kind[item.kind] = counts.by_kind.get(item.kind, 0) + 1


def _bit_meanings(frame: TextFrame) -> list[str]:
    return [means for _, _, bits in frame.bits for _, _, means in bits.meanings]


def _bytes(take: Options, name: str) -> bytes:
    return take.ascii(name, longest=32)


def _commands(table: Options) -> dict[str, bytes]:
    commands = {name: _bytes(table, name) for name in _COMMANDS if name in table}
    table.finish()
    return commands


def _units(take: Options) -> dict[bytes, tuple[float, float, str]]:
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
