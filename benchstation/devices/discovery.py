"""Which device speaks: every profile tried on the bytes that came, the best first.

Nothing is guessed: a profile matches when its driver, strict as it is at the bench, reads these
bytes, and what it reads lies in the profile's range. Several may; people choose, and put a known
weight or pressure on.
"""

import time
from collections.abc import Callable, Iterable, Iterator, Sequence
from dataclasses import dataclass

from benchstation.devices.frame_fit import SPOILT
from benchstation.devices.profile import Profile
from benchstation.devices.reading_range import is_in_range
from benchstation.driver_api.contract import LineSettings
from benchstation.driver_api.reading import Fault, Item, Reading, Reply
from benchstation.link.transport import Transport

LEAST_SHARE = 0.5
"""A profile that explains less than half of what came is not the device's."""
GOOD_SHARE = 0.8
ANSWER_WAIT_S = 0.4
LINE_PAUSE_S = 0.1
"""More than the 3.5 characters that part two frames of Modbus, at 600 baud and faster."""
MOST_BYTES = 65_536
"""Five seconds at 115,200 baud; a peer that floods the line must not fill the memory."""
COMMON_RATES = (9600, 2400, 4800, 19200, 38400, 57600, 115_200)
COMMON_FORMATS = ((8, "N"), (7, "E"), (8, "E"), (7, "O"))


@dataclass(frozen=True, slots=True)
class Match:
    """One profile that reads what came.

    ``share`` of the bytes, 0 to 1, stood in frames that the profile explains. ``readings`` are
    those inside its range, ``beyond`` counts the others and ``farthest`` is one of them.
    ``reports`` are frames that say overload or an error: understood, but no reading.
    """

    profile: Profile
    share: float
    readings: int
    reports: int
    last: Reading | None
    streams: bool
    """Whether the profile's device sends by itself."""
    beyond: int = 0
    farthest: Reading | None = None

    @property
    def fits(self) -> bool:
        """Return True when its frames are those that came, whatever they read."""
        return self.share >= LEAST_SHARE and self.readings + self.reports + self.beyond > 0

    @property
    def is_offer(self) -> bool:
        """Return True when it may be the device: what it reads is no more out of range than in.

        An answer that only reports overload or an error may be any device's; a frame that comes by
        itself is known by its shape.
        """
        reads = self.readings > 0 or (self.streams and self.reports > 0)
        return self.fits and reads and self.readings >= self.beyond

    @property
    def rank(self) -> tuple[bool, float, bool, int, int]:
        """Return what decides: any reading, share explained, streaming, readings, frame length."""
        length = len(self.last.raw) if self.last else 0
        share = round(self.share, 2)
        return self.readings > 0, share, self.streams, self.readings - self.beyond, length


def try_profile(profile: Profile, chunks: Iterable[bytes]) -> Match:
    """Read what came with one profile."""
    driver = profile.make_driver()
    explained = total = readings = reports = beyond = 0
    last: Reading | None = None
    farthest: Reading | None = None
    for chunk in chunks:
        total += len(chunk)
        for item in driver.feed(chunk, 0.0):
            if isinstance(item, Fault) and (item.kind in SPOILT or item.place is not None):
                continue
            if _of_another(item, profile.further):
                continue
            explained += len(item.raw)
            if isinstance(item, Reading):
                if is_in_range(profile, item.value):
                    readings, last = readings + 1, item
                else:
                    beyond, farthest = beyond + 1, item
            elif not isinstance(item, Reply):
                reports += 1
    # The first frame may have begun before we listened, and the last may not have ended.
    known = last or farthest
    lost = 2 * len(known.raw) if known else 0
    share = min(1.0, explained / max(total - lost, explained, 1))
    streams = driver.poll() is None
    return Match(profile, share, readings, reports, last, streams, beyond, farthest)


def _of_another(item: Item, further: frozenset[str]) -> bool:
    """Return True for what a line says of another of its channels."""
    return not isinstance(item, Reply) and item.channel in further


def offers(matches: Iterable[Match]) -> list[Match]:
    """Return those that may be the device, the best first."""
    return sorted((m for m in matches if m.is_offer), key=lambda m: m.rank, reverse=True)


def out_of_range(matches: Iterable[Match]) -> list[Match]:
    """Return those whose frames came, and that read nothing of them that their range holds."""
    found = [match for match in matches if match.fits and not match.is_offer]
    return sorted(found, key=lambda match: match.beyond, reverse=True)


def rank(profiles: Iterable[Profile], chunks: Sequence[bytes]) -> list[Match]:
    """Return the profiles that match what came, the best first."""
    return offers(try_profile(profile, chunks) for profile in profiles)


def never() -> bool:
    """Return False: nobody stops it."""
    return False


def listen(
    transport: Transport,
    seconds: float,
    clock: Callable[[], float] = time.perf_counter,
    *,
    stop: Callable[[], bool] = never,
    heard: Callable[[bytes], object] = bytes,
) -> list[bytes]:
    """Return the chunks that come by themselves in so many seconds, or until ``stop`` says so.

    ``heard`` is told each of them at once. More than ``MOST_BYTES`` tell nothing more.
    """
    end = clock() + seconds
    chunks: list[bytes] = []
    came = 0
    while clock() < end and came < MOST_BYTES and not stop():
        data = transport.read()
        if data:
            chunks.append(data)
            came += len(data)
            heard(data)
    return chunks


def ask(
    transport: Transport,
    profiles: Iterable[Profile],
    times: int = 3,
    *,
    stop: Callable[[], bool] = never,
) -> Iterator[tuple[Match, list[bytes]]]:
    """Send each profile's request and give what came with what it makes of it, if anything came.

    ``stop`` says when to end.

    Sends bytes to whatever is on the line: only with the user's consent. Before each profile the
    line has a pause, so that no request ends what another began, and no late answer is taken for
    that to the next.
    """
    for profile in profiles:
        if stop():
            return
        driver = profile.make_driver()
        if driver.poll() is None:
            continue
        _pause(transport)
        chunks: list[bytes] = []
        for attempt in range(times):
            transport.write(driver.poll() or b"")
            end = time.perf_counter() + ANSWER_WAIT_S
            answered = False
            while not answered and time.perf_counter() < end:
                data = transport.read()
                chunks += [data] if data else []
                answered = bool(driver.feed(data, 0.0)) if data else False
            # The first request may only have ended what was on the line before.
            if attempt and not chunks:
                break
        if chunks:
            yield try_profile(profile, chunks), chunks


def _pause(transport: Transport) -> None:
    """Let the line be silent, and throw away what still comes."""
    end = time.perf_counter() + LINE_PAUSE_S
    while time.perf_counter() < end:
        transport.read()


def line_settings(profiles: Iterable[Profile]) -> list[LineSettings]:
    """Return line settings to try in turn: those of the profiles, then other common ones."""
    found = [profile.line_settings for profile in profiles]
    found += [
        LineSettings(rate, bits, parity) for rate in COMMON_RATES for bits, parity in COMMON_FORMATS
    ]
    return list(dict.fromkeys(found))
