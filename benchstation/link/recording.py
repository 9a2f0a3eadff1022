"""Every byte of a line with its time in a file, and such a file in place of a device.

The file is text: one JSON object that says what it is, then one JSON array a chunk, seconds since
the start, ``r`` for received or ``s`` for sent, and the bytes in hexadecimal. A recording is read
back byte for byte, at any speed: ``replay:PATH?speed=10``. What is sent to a replay is thrown away,
and after its end it says nothing more.
"""

import json
import math
import time
from collections.abc import Callable, Sequence
from dataclasses import dataclass
from pathlib import Path
from urllib.parse import parse_qs

from benchstation.driver_api.outside_text import text_in
from benchstation.link.ports import LinkError
from benchstation.link.raw_log import Direction, RawChunk, RawLog

REPLAY = "replay:"
FORM = "benchstation raw log"
VERSION = 1
LARGEST_FILE_BYTES = 256_000_000
LONGEST_CHUNK_BYTES = 65_536
FASTEST = 1e6
_LETTERS = {"r": Direction.RECEIVED, "s": Direction.SENT}


@dataclass(frozen=True, slots=True)
class Recording:
    """What was recorded: from where, read by which profile, since when (UTC), and the chunks."""

    url: str
    profile: str
    begun: str
    chunks: tuple[RawChunk, ...]

    @property
    def received(self) -> bytes:
        """Return all bytes that the device sent."""
        return b"".join(c.data for c in self.chunks if c.direction is Direction.RECEIVED)


class Recorder(RawLog):
    """A raw log that also writes every chunk to a new file, at once."""

    def __init__(self, path: Path, *, url: str, profile: str, begun: str) -> None:
        super().__init__()
        head = {"form": FORM, "version": VERSION, "url": url, "profile": profile, "begun": begun}
        self._start: float | None = None
        try:
            self._file = path.open("x", encoding="ascii", buffering=1, newline="\n")
        except FileExistsError:
            raise LinkError(
                "the file is there already.", where=str(path), advice="Give another name."
            ) from None
        except OSError as error:
            raise LinkError(
                "the file cannot be written.", where=str(path), advice=str(error)
            ) from error
        self._file.write(json.dumps(head) + "\n")

    def add(self, at: float, direction: Direction, data: bytes) -> None:
        """Keep bytes, and write them."""
        super().add(at, direction, data)
        if self._start is None:
            self._start = at
        letter = "r" if direction is Direction.RECEIVED else "s"
        for begin in range(0, len(data), LONGEST_CHUNK_BYTES):
            piece = data[begin : begin + LONGEST_CHUNK_BYTES]
            line = [round(at - self._start, 6), letter, piece.hex()]
            self._file.write(json.dumps(line) + "\n")

    def close(self) -> None:
        """Close the file."""
        self._file.close()


def read_recording(path: Path) -> Recording:
    """Read a recording. A last line cut short, by a power cut, is left out.

    Raises :class:`~benchstation.link.ports.LinkError` naming the line that is wrong.
    """
    try:
        text = text_in(path, LARGEST_FILE_BYTES)
    except ValueError as error:
        raise _unusable(path, str(error)) from error
    lines = text.split("\n")
    whole, last = lines[:-1], lines[-1]
    if not whole:
        whole, last = [last], ""
    try:
        head = json.loads(whole[0])
        known = isinstance(head, dict) and head.get("form") == FORM
    except (ValueError, RecursionError):
        known = False
    if not known or head.get("version") != VERSION:
        raise _unusable(path, "it is no recording of a line, or of a newer kind")
    chunks: list[RawChunk] = []
    for number, line in enumerate(whole[1:], 2):
        try:
            chunks.append(_chunk(json.loads(line), chunks[-1].at if chunks else 0.0))
        except (ValueError, TypeError, RecursionError) as error:
            raise _unusable(path, f"line {number}: {error}") from error
    url, profile, begun = (str(head.get(name, ""))[:300] for name in ("url", "profile", "begun"))
    return Recording(url, profile, begun, tuple(chunks))


def _chunk(line: object, not_before: float) -> RawChunk:
    if not isinstance(line, list) or len(line) != 3:
        raise ValueError("time, direction and bytes are required")
    at, letter, data = line
    if isinstance(at, bool) or not isinstance(at, int | float) or not not_before <= at < math.inf:
        raise ValueError("the time is none, or runs backwards")
    if letter not in _LETTERS or not isinstance(data, str):
        raise ValueError("the direction is r or s, the bytes are a text")
    if len(data) > 2 * LONGEST_CHUNK_BYTES:
        raise ValueError("the chunk is too long")
    return RawChunk(float(at), _LETTERS[letter], bytes.fromhex(data))


def _unusable(path: Path, why: str) -> LinkError:
    return LinkError(f"it cannot be replayed: {why}.", where=str(path), advice="Record it again.")


class ReplayTransport:
    """A recording in place of a line; chunks come out as they were, ``speed`` times as fast."""

    def __init__(
        self,
        chunks: Sequence[RawChunk],
        speed: float,
        wait_s: float,
        clock: Callable[[], float] = time.perf_counter,
        sleep: Callable[[float], None] = time.sleep,
    ) -> None:
        self._chunks = [c for c in chunks if c.direction is Direction.RECEIVED]
        self._next = 0
        self._speed = speed
        self._wait_s = wait_s
        self._clock = clock
        self._sleep = sleep
        self._start: float | None = None

    @property
    def ended(self) -> bool:
        """Return True when all has been read."""
        return self._next >= len(self._chunks)

    def read(self) -> bytes:
        """Return the next chunk when its time has come, empty after the longest wait."""
        now = self._clock()
        if self._start is None:
            self._start = now
        if self.ended:
            self._sleep(self._wait_s)
            return b""
        chunk = self._chunks[self._next]
        left = self._start + chunk.at / self._speed - now
        if left > self._wait_s:
            self._sleep(self._wait_s)
            return b""
        if left > 0.0:
            self._sleep(left)
        self._next += 1
        return chunk.data

    def write(self, data: bytes) -> None:
        """Throw away what is sent: what the device answered then is what comes."""

    def set_levels(self, levels: object) -> None:
        """Do nothing: a recording has no lines."""

    def discard(self) -> None:
        """Do nothing: what is to come is in the recording."""

    def close(self) -> None:
        """Do nothing: no state is kept."""


def open_replay(url: str, wait_s: float) -> ReplayTransport:
    """Open ``replay:PATH`` or ``replay:PATH?speed=NUMBER``."""
    name, _, query = url.removeprefix(REPLAY).partition("?")
    given = parse_qs(query, keep_blank_values=True)
    try:
        speed = float(given.pop("speed", ["1"])[-1])
    except ValueError:
        speed = math.nan
    if given or not 0.0 < speed <= FASTEST:
        raise LinkError(
            f"a replay is named by {REPLAY}PATH?speed=NUMBER, up to {FASTEST:g}.", where=url
        )
    return ReplayTransport(read_recording(Path(name)).chunks, speed, wait_s)
