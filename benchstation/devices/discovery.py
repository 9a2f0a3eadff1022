"""Which device speaks: every profile tried on the bytes that came, the best first.

Nothing is sent here and nothing is guessed: a profile matches when its driver, strict as it is at
the bench, reads these bytes. Several may; people choose, and put a known weight or pressure on.
"""

import time
from collections.abc import Callable, Iterable, Iterator, Sequence
from dataclasses import dataclass

from benchstation.devices.frame_fit import SPOILT
from benchstation.devices.profile import Profile
from benchstation.driver_api.contract import LineSettings
from benchstation.driver_api.reading import Fault, Item, Reading, Reply
from benchstation.link.transport import Transport

LEAST_SHARE = 0.5
"""A profile that explains less than half of what came is not the device's."""
GOOD_SHARE = 0.8
ANSWER_WAIT_S = 0.4
MOST_BYTES = 65_536
"""Five seconds at 115,200 baud; a peer that floods the line must not fill the memory."""
COMMON_RATES = (9600, 2400, 4800, 19200, 38400, 57600, 115_200)
COMMON_FORMATS = ((8, "N"), (7, "E"), (8, "E"), (7, "O"))


@dataclass(frozen=True, slots=True)
class Match:
    """One profile that reads what came.

    ``share`` of the bytes, 0 to 1, stood in frames that the profile explains. ``reports`` are
    frames that say overload or an error: understood, but no reading.
    """

    profile: Profile
    share: float
    readings: int
    reports: int
    last: Reading | None
    streams: bool
    """Whether the profile's device sends by itself."""

    @property
    def rank(self) -> tuple[float, bool, int, int]:
        """Return what decides: share explained, streaming, readings, length of a frame."""
        length = len(self.last.raw) if self.last else 0
        return round(self.share, 2), self.streams, self.readings, length


def try_profile(profile: Profile, chunks: Iterable[bytes]) -> Match:
    """Read what came with one profile."""
    driver = profile.make_driver()
    explained = total = readings = reports = 0
    last: Reading | None = None
    for chunk in chunks:
        total += len(chunk)
        for item in driver.feed(chunk, 0.0):
            if isinstance(item, Fault) and item.kind in SPOILT:
                continue
            if _of_another(item, profile.further):
                continue
            explained += len(item.raw)
            if isinstance(item, Reading):
                readings, last = readings + 1, item
            elif not isinstance(item, Reply):
                reports += 1
    # The first frame may have begun before we listened, and the last may not have ended.
    lost = 2 * len(last.raw) if last else 0
    share = min(1.0, explained / max(total - lost, explained, 1))
    return Match(profile, share, readings, reports, last, driver.poll() is None)


def _of_another(item: Item, further: frozenset[str]) -> bool:
    """Return True for what a line says of another of its channels."""
    return not isinstance(item, Reply) and item.channel in further


def rank(profiles: Iterable[Profile], chunks: Sequence[bytes]) -> list[Match]:
    """Return the profiles that match what came, the best first."""
    found = [try_profile(profile, chunks) for profile in profiles]
    matching = [m for m in found if m.share >= LEAST_SHARE and m.readings + m.reports]
    return sorted(matching, key=lambda match: match.rank, reverse=True)


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
    """Send each profile's request and give what became of the answers, until ``stop`` says so.

    Sends bytes to whatever is on the line: only with the user's consent.
    """
    for profile in profiles:
        if stop():
            return
        driver = profile.make_driver()
        if driver.poll() is None:
            continue
        chunks: list[bytes] = []
        for attempt in range(times):
            transport.write(driver.poll() or b"")
            end = time.perf_counter() + ANSWER_WAIT_S
            answered = False
            while not answered and time.perf_counter() < end:
                data = transport.read()
                chunks += [data] if data else []
                answered = bool(driver.feed(data, 0.0)) if data else False
            # The first request may only have ended what another profile's had begun.
            if attempt and not chunks:
                break
        match = try_profile(profile, chunks)
        if match.readings + match.reports and match.share >= LEAST_SHARE:
            yield match, chunks


def line_settings(profiles: Iterable[Profile]) -> list[LineSettings]:
    """Return line settings to try in turn: those of the profiles, then other common ones."""
    found = [profile.line_settings for profile in profiles]
    found += [
        LineSettings(rate, bits, parity) for rate in COMMON_RATES for bits, parity in COMMON_FORMATS
    ]
    return list(dict.fromkeys(found))
