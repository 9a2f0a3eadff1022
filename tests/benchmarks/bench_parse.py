"""Frames a second that one core parses, against splitting and matching them and nothing else.

    python tests/benchmarks/bench_parse.py

Frames come in chunks of 4 KiB as from a busy line and, worse, one by one as from a slow one.
"""

import re
import struct
import sys
import time
from collections.abc import Callable, Iterator

from benchstation.devices.profile import load_profile
from benchstation.driver_api.framing import crc16
from benchstation.driver_api.reading import Reading

FRAMES = 50_000
ROUNDS = 5
TEXT_GOAL, MODBUS_GOAL = 100_000.0, 30_000.0


def text_frames() -> bytes:
    return b"".join(b"ST,NT,+%08.2f  g\r\n" % (n % 99_999 / 100) for n in range(FRAMES))


def modbus_answers() -> list[bytes]:
    bodies = [b"\x01\x03\x06" + struct.pack(">fH", n % 400 / 10, 0) for n in range(FRAMES)]
    return [body + crc16(body).to_bytes(2, "little") for body in bodies]


def chunks(data: bytes, size: int) -> Iterator[bytes]:
    return (data[at : at + size] for at in range(0, len(data), size))


def rate(work: Callable[[], int]) -> float:
    """Return the best of a few rounds in frames a second."""
    best = 0.0
    for _ in range(ROUNDS):
        start = time.perf_counter()
        count = work()
        best = max(best, count / (time.perf_counter() - start))
    return best


def driven(profile: str, pieces: Callable[[], Iterator[bytes]]) -> Callable[[], int]:
    def work() -> int:
        feed = load_profile(profile).make_driver().feed
        count = sum(len(feed(piece, 0.0)) for piece in pieces())
        assert count == FRAMES
        return count

    first = load_profile(profile).make_driver().feed(next(pieces()), 0.0)
    assert all(isinstance(item, Reading) for item in first)
    return work


def bare_text(data: bytes) -> Callable[[], int]:
    match = re.compile(rb"[A-Z]{2},[A-Z]{2},([+-])([0-9.]{8})( {0,2}[a-z]+)\r\n").fullmatch

    def work() -> int:
        values = [match(line + b"\n") for line in data.split(b"\n")[:-1]]
        return len([float(found[2]) for found in values if found])

    return work


def bare_modbus(answers: list[bytes]) -> Callable[[], int]:
    def work() -> int:
        good = 0
        for answer in answers:
            good += crc16(answer) == 0
            struct.unpack_from(">fH", answer, 3)
        assert good == len(answers)
        return good

    return work


def report(name: str, found: float, bare: float, goal: float) -> bool:
    """Print one line and say whether the goal was missed."""
    verdict = "meets" if found >= goal else "MISSES"
    print(f"{name:34} {found:10,.0f}/s   {found / bare:6.3f} of bare   {verdict} {goal:,.0f}/s")
    return found < goal


def main() -> int:
    """Print rates and ratios; gives 1 when a goal is missed."""
    text, answers = text_frames(), modbus_answers()
    size = len(text) // FRAMES
    bare = rate(bare_text(text))
    in_chunks = rate(driven("scale-status-first", lambda: chunks(text, 4096)))
    one_by_one = rate(driven("scale-status-first", lambda: chunks(text, size)))
    missed = report("text lines, 4 KiB at a time", in_chunks, bare, TEXT_GOAL)
    missed |= report("text lines, one at a time", one_by_one, bare, TEXT_GOAL)
    bare = rate(bare_modbus(answers))
    joined = b"".join(answers)
    in_chunks = rate(driven("pressure-registers", lambda: chunks(joined, 4096)))
    one_by_one = rate(driven("pressure-registers", lambda: iter(answers)))
    missed |= report("Modbus answers, 4 KiB at a time", in_chunks, bare, MODBUS_GOAL)
    missed |= report("Modbus answers, one at a time", one_by_one, bare, MODBUS_GOAL)
    return int(missed)


if __name__ == "__main__":
    sys.exit(main())
