r"""A conversation with a device as a text file, and its replay through a driver.

One step a line; words after ``#`` at a line's start are for people::

    # A steady weight, net, in grams.
    device  b"ST,NT,+00123.45  g\r\n"
    reading mass 0.12345 g stable net step 1e-05
    device  01 83 02 c0 f1
    fault   device error
    poll    b"W\r\n"
    command tare b"T\r\n"
    reply   tare accepted
    reset

``device`` is what the device sends, ``poll`` and ``command`` what the driver must send; both take a
Python bytes literal or pairs of hexadecimal digits. What follows a ``device`` line are the items
that must come out of it, all of them and in this order. A ``reading`` is channel, value in SI, unit
text, then ``stable`` or ``moving``, ``net`` or ``gross``, and ``step`` with the resolution; without
the words the driver must not know it either, but an absent ``step`` is not compared. A ``fault`` of
one further channel alone has that channel's name behind it.
"""

import ast
import math
from collections.abc import Iterator, Sequence
from dataclasses import dataclass
from pathlib import Path

from benchstation.driver_api.contract import Driver
from benchstation.driver_api.reading import Fault, FaultKind, Item, Quantity, Reading, Reply

_FLAGS = {"stable": True, "moving": False, "net": True, "gross": False}
_RELATIVE = 1e-12


class TranscriptError(ValueError):
    """A transcript cannot be read; the text names its line."""


@dataclass(frozen=True, slots=True)
class Expected:
    """One item that must come out. ``None`` in ``step`` is not compared."""

    line: int
    item: Item
    step: float | None = None

    def agrees(self, given: Item, relative: float = _RELATIVE) -> bool:
        """Return True when ``given`` is this item, times, raw bytes and words apart."""
        wanted = self.item
        if isinstance(wanted, Reading):
            return (
                isinstance(given, Reading)
                and math.isclose(given.value, wanted.value, rel_tol=relative)
                and _words(given) == _words(wanted)
                and (self.step is None or _near(given.resolution, self.step, relative))
            )
        if isinstance(wanted, Fault):
            same = (wanted.kind, wanted.channel)
            return isinstance(given, Fault) and (given.kind, given.channel) == same
        return isinstance(given, Reply) and (
            (given.command, given.accepted) == (wanted.command, wanted.accepted)
        )


@dataclass(frozen=True, slots=True)
class FromDevice:
    """Bytes that come, and the items that must come out of them."""

    line: int
    data: bytes
    expected: tuple[Expected, ...]


@dataclass(frozen=True, slots=True)
class ToDevice:
    """Bytes that the driver must send: its poll, or the command named."""

    line: int
    command: str
    data: bytes


@dataclass(frozen=True, slots=True)
class Reset:
    """The line was lost and came back, or an answer did not come."""

    line: int


@dataclass(frozen=True, slots=True)
class Transcript:
    """A conversation, named for the messages of a test that fails."""

    name: str
    steps: tuple[FromDevice | ToDevice | Reset, ...]

    def runs(self) -> Iterator[list[bytes]]:
        """Return the chunks that came, in lists that a reset parts."""
        chunks: list[bytes] = []
        for step in self.steps:
            if isinstance(step, FromDevice):
                chunks.append(step.data)
            elif isinstance(step, Reset) and chunks:
                yield chunks
                chunks = []
        if chunks:
            yield chunks


def read_transcripts(folder: Path) -> tuple[Transcript, ...]:
    """Read every ``.txt`` file of a folder, in the order of the names."""
    paths = sorted(folder.glob("*.txt"))
    return tuple(parse_transcript(path.read_text("utf-8"), path.stem) for path in paths)


def parse_transcript(text: str, name: str = "transcript") -> Transcript:
    """Parse a transcript. Raises :class:`TranscriptError` naming the line."""
    steps: list[FromDevice | ToDevice | Reset] = []
    for number, line in enumerate(text.splitlines(), 1):
        word, _, rest = line.strip().partition(" ")
        if not word or word.startswith("#"):
            continue
        try:
            _add(steps, number, word, rest.strip())
        except (ValueError, SyntaxError, IndexError) as error:
            raise TranscriptError(f"{name}, line {number}: {error}") from error
    return Transcript(name, tuple(steps))


def _add(steps: list[FromDevice | ToDevice | Reset], number: int, word: str, rest: str) -> None:
    if word == "device":
        steps.append(FromDevice(number, _bytes(rest), ()))
    elif word == "poll":
        steps.append(ToDevice(number, "", _bytes(rest)))
    elif word == "command":
        name, _, data = rest.partition(" ")
        steps.append(ToDevice(number, name, _bytes(data.strip())))
    elif word == "reset":
        steps.append(Reset(number))
    elif word in ("reading", "fault", "reply"):
        last = steps[-1] if steps else None
        if not isinstance(last, FromDevice):
            raise ValueError(f"'{word}' must follow what the device sent")
        expected = (*last.expected, _expected(number, word, rest))
        steps[-1] = FromDevice(last.line, last.data, expected)
    else:
        raise ValueError(f"'{word}' is no step")


def _bytes(text: str) -> bytes:
    if not text.startswith("b"):
        return bytes.fromhex(text)
    data = ast.literal_eval(text)
    if not isinstance(data, bytes):
        raise ValueError("a bytes literal is required")
    return data


def _expected(number: int, word: str, rest: str) -> Expected:
    if word == "fault":
        kind, _, last = rest.rpartition(" ")
        if kind and last in tuple(Quantity):
            return Expected(number, Fault(FaultKind(kind), 0.0, b"", "", channel=last))
        return Expected(number, Fault(FaultKind(rest), 0.0, b"", ""))
    words = rest.split()
    if word == "reply":
        if words[1:] not in (["accepted"], ["refused"]):
            raise ValueError("a reply is accepted or refused")
        return Expected(number, Reply(words[0], words[1] == "accepted", 0.0, b""))
    channel, value, unit, *flags = words
    step = float(flags.pop()) if "step" in flags else None
    flags = [flag for flag in flags if flag != "step"]
    if unknown := set(flags) - set(_FLAGS):
        raise ValueError(f"unknown words: {', '.join(sorted(unknown))}")
    stable = next((_FLAGS[flag] for flag in flags if flag in ("stable", "moving")), None)
    net = next((_FLAGS[flag] for flag in flags if flag in ("net", "gross")), None)
    reading = Reading(channel, float(value), 0.0, unit, b"", stable, step, net)
    return Expected(number, reading, step)


def _words(reading: Reading) -> tuple[str, str, bool | None, bool | None]:
    return reading.channel, reading.unit, reading.stable, reading.net


def _near(given: float | None, wanted: float, relative: float) -> bool:
    return given is not None and math.isclose(given, wanted, rel_tol=relative)


class DiffersError(AssertionError):
    """A conversation comes out otherwise: in which line, what was written and what came instead."""

    def __init__(
        self, text: str, line: int, expected: Expected | None = None, given: Item | None = None
    ) -> None:
        super().__init__(text)
        self.line = line
        self.expected = expected
        self.given = given


def replay(
    transcript: Transcript,
    driver: Driver,
    *,
    relative: float = _RELATIVE,
    forgive_first: bool = False,
) -> list[Item]:
    """Hold a conversation with ``driver`` and give all its items.

    Values agree within ``relative`` of themselves. With ``forgive_first`` what comes first may be
    the last part of a frame, as in a recording: its fault is left out. Raises
    :class:`DiffersError` for an item too few, too many or other than expected, and for a request
    that differs; the text names transcript and line.
    """
    given: list[Item] = []
    for count, step in enumerate(transcript.steps):
        where = f"{transcript.name}, line {step.line}"
        if isinstance(step, Reset):
            driver.reset()
        elif isinstance(step, ToDevice):
            sent = driver.command(step.command) if step.command else driver.poll()
            if sent != step.data:
                text = f"{where}: sends {sent!r} and not {step.data!r}"
                raise DiffersError(text, step.line)
        else:
            items = driver.feed(step.data, float(count))
            if forgive_first and _begins_amid(items, step.expected):
                items = items[1:]
            forgive_first = False
            _compare(transcript.name, step, items, relative)
            given += items
    return given


def _begins_amid(items: Sequence[Item], expected: Sequence[Expected]) -> bool:
    first = items[0] if len(items) == len(expected) + 1 else None
    return isinstance(first, Fault) and first.kind in (FaultKind.BAD_FRAME, FaultKind.BAD_CHECKSUM)


def _compare(name: str, step: FromDevice, items: Sequence[Item], relative: float) -> None:
    for expected, item in zip(step.expected, items, strict=False):
        if not expected.agrees(item, relative):
            text = f"{name}, line {expected.line}: {item} came instead"
            raise DiffersError(text, expected.line, expected, item)
    if len(items) != len(step.expected):
        count = len(step.expected)
        text = f"{name}, line {step.line}: {len(items)} items and not {count}: {items}"
        extra = items[count] if len(items) > count else None
        missing = step.expected[len(items)] if extra is None else None
        raise DiffersError(text, missing.line if missing else step.line, missing, extra)
