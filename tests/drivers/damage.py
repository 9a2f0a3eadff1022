"""Damage to frames, by a seed, and what becomes of it: refused, read as it was, or read wrongly."""

import random
from collections import Counter
from collections.abc import Container, Iterator
from functools import cache
from pathlib import Path

from benchstation.devices.profile import Profile, load_profile, profile_ids
from benchstation.driver_api.contract import Driver
from benchstation.driver_api.reading import Reading
from benchstation.driver_api.testing import read_transcripts

TRANSCRIPTS = Path(__file__).parent.parent / "transcripts"
CHECKED = {
    "gauge-crc-line",
    "gauge-sum-before-end",
    "pressure-registers",
    "scale-status-bytes",
    "scale-xor-after-end",
    "thermometer-registers",
    "transmitter-ratio-registers",
}
"""Profiles whose every frame carries a checksum."""


def profiles() -> list[Profile]:
    return [load_profile(name) for name in profile_ids()]


def chunks_of(profile_id: str) -> list[bytes]:
    """Return all that the device of a profile sends in its transcripts, good and bad."""
    runs = (run for t in read_transcripts(TRANSCRIPTS / profile_id) for run in t.runs())
    return [chunk for run in runs for chunk in run]


def good_frames(profile: Profile) -> list[bytes]:
    """Return the frames of a profile's transcripts that are readings on their own."""
    found = set()
    for chunk in chunks_of(profile.id):
        items = profile.make_driver().feed(chunk + chunk, 0.0)
        found |= {item.raw for item in items if isinstance(item, Reading)}
    alone = [raw for raw in sorted(found) if readings(profile, raw)]
    assert alone, profile.id
    return alone


def readings(profile: Profile, data: bytes) -> list[Reading]:
    """Return what a driver reads after a reset; one that joins at a line's end hears one before."""
    driver = _driver(profile.id)
    driver.reset()
    if getattr(driver, "_must_join", False):
        driver.feed(b"\r\n", 0.0)
    return [item for item in driver.feed(data, 0.0) if isinstance(item, Reading)]


@cache
def _driver(profile_id: str) -> Driver:
    return load_profile(profile_id).make_driver()


def single_bits(frame: bytes) -> Iterator[bytes]:
    """Return the frame with each of its bits flipped in turn."""
    for bit in range(8 * len(frame)):
        spoilt = bytearray(frame)
        spoilt[bit // 8] ^= 1 << bit % 8
        yield bytes(spoilt)


def other_bytes(frame: bytes, chance: random.Random) -> Iterator[bytes]:
    """Return the frame with one byte overwritten by another, a few for each place."""
    for place in range(len(frame)):
        for _ in range(8):
            yield frame[:place] + bytes((chance.randrange(256),)) + frame[place + 1 :]


def lost_bytes(frame: bytes) -> Iterator[bytes]:
    """Return the frame without each of its bytes in turn."""
    for place in range(len(frame)):
        yield frame[:place] + frame[place + 1 :]


def doubled_bytes(frame: bytes) -> Iterator[bytes]:
    """Return the frame with each of its bytes twice in turn."""
    for place in range(len(frame)):
        yield frame[: place + 1] + frame[place:]


def merged(frame: bytes, other: bytes) -> Iterator[bytes]:
    """Return a frame whose end was lost and that runs into the rest of another."""
    for end in range(1, len(frame)):
        for begin in range(1, len(other), 3):
            yield frame[:end] + other[begin:]


KINDS = ("one bit flipped", "one byte overwritten", "one byte lost", "one byte twice", "merged")


def damaged(kind: str, frame: bytes, other: bytes, chance: random.Random) -> Iterator[bytes]:
    """Return the damaged forms of a frame."""
    return {
        KINDS[0]: lambda: single_bits(frame),
        KINDS[1]: lambda: other_bytes(frame, chance),
        KINDS[2]: lambda: lost_bytes(frame),
        KINDS[3]: lambda: doubled_bytes(frame),
        KINDS[4]: lambda: merged(frame, other),
    }[kind]()


def outcome(profile: Profile, spoilt: bytes, value: float, sent: Container[bytes]) -> str:
    """Say what a damaged frame gives: refused, the same value, or another one.

    A frame of ``sent`` that came whole behind the damage is as it was sent.
    """
    found = [reading for reading in readings(profile, spoilt) if reading.raw not in sent]
    if not found:
        return "refused"
    return "wrong" if any(reading.value != value for reading in found) else "same"


def rates(profile: Profile, kind: str, seed: int = 1) -> Counter[str]:
    """Count the outcomes of one kind of damage over all good frames of a profile."""
    chance = random.Random(seed)
    frames = good_frames(profile)
    counts: Counter[str] = Counter()
    for frame in frames:
        value = readings(profile, frame)[-1].value
        for spoilt in damaged(kind, frame, chance.choice(frames), chance):
            if spoilt != frame:
                counts[outcome(profile, spoilt, value, frames)] += 1
    return counts


def mutated(corpus: list[bytes], chance: random.Random, length: int) -> bytes:
    """Return about ``length`` bytes of frames that were spoilt in every way."""
    parts: list[bytes] = []
    size = 0
    while size < length:
        piece = bytearray(chance.choice(corpus))
        for _ in range(chance.choice((0, 0, 1, 1, 2, 5))):
            place = chance.randrange(len(piece) + 1)
            what = chance.randrange(6)
            if what == 0 and piece:
                piece[place % len(piece)] ^= 1 << chance.randrange(8)
            elif what == 1 and piece:
                piece[place % len(piece)] = chance.randrange(256)
            elif what == 2:
                del piece[place : place + chance.randint(1, 4)]
            elif what == 3:
                piece[place:place] = chance.randbytes(chance.randint(1, 8))
            elif what == 4:
                piece[place:place] = chance.choice(corpus)[: chance.randint(1, 30)]
            else:
                piece[place:place] = bytes(piece[:place]) * chance.choice((1, 1, 1, 2, 30))
        parts.append(bytes(piece))
        size += len(piece)
    return b"".join(parts)
