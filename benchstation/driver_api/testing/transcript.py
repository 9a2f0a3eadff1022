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
the words the driver must not know it either, but an absent ``step`` is not compared.
"""

import ast
import math
from collections.abc import Iterator
from dataclasses import dataclass
from pathlib import Path

from benchstation.driver_api.contract import Driver
from benchstation.driver_api.reading import Fault, FaultKind, Item, Reading, Reply

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

    def agrees(self, given: Item) -> bool:
        """Return True when ``given`` is this item, times, raw bytes and words apart."""
        wanted = self.item
        if isinstance(wanted, Reading):
            return (
                isinstance(given, Reading)
                and math.isclose(given.value, wanted.value, rel_tol=_RELATIVE)
                and _words(given) == _words(wanted)
                and (self.step is None or _near(given.resolution, self.step))
            )
        if isinstance(wanted, Fault):
            return isinstance(given, Fault) and given.kind is wanted.kind
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


def _near(given: float | None, wanted: float) -> bool:
    return given is not None and math.isclose(given, wanted, rel_tol=_RELATIVE)


def replay(transcript: Transcript, driver: Driver) -> list[Item]:
    """Hold a conversation with ``driver`` and give all its items.

    Raises ``AssertionError`` for an item too few, too many or other than expected, and for a
    request that differs; the text names transcript and line.
    """
    given: list[Item] = []
    for count, step in enumerate(transcript.steps):
        where = f"{transcript.name}, line {step.line}"
        if isinstance(step, Reset):
            driver.reset()
        elif isinstance(step, ToDevice):
            sent = driver.command(step.command) if step.command else driver.poll()
            _demand(sent == step.data, f"{where}: sends {sent!r} and not {step.data!r}")
        else:
            items = driver.feed(step.data, float(count))
            for expected, item in zip(step.expected, items, strict=False):
                text = f"{transcript.name}, line {expected.line}: {item} came instead"
                _demand(expected.agrees(item), text)
            text = f"{where}: {len(items)} items and not {len(step.expected)}: {items}"
            _demand(len(items) == len(step.expected), text)
            given += items
    return given


def _demand(holds: bool, text: str) -> None:
    if not holds:
        raise AssertionError(text)
