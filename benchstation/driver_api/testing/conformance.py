"""The checks that every driver passes, ours and anyone else's.

Subclass, and let pytest collect::

    from benchstation.driver_api.testing import DriverConformance, read_transcripts

    class TestMyGauge(DriverConformance):
        driver = MyGaugeDriver
        options = {"channel": {"quantity": "pressure", "reference": "gauge"}}
        transcripts = read_transcripts(Path(__file__).parent / "transcripts")

The transcripts must show readings and faults: they are also what the other checks cut up, spoil and
flip bits in. What is random is seeded, so a failure comes back.
"""

import math
import random
import time
from collections.abc import Callable, Iterator, Mapping, Sequence
from functools import partial
from typing import Any, ClassVar

from benchstation.driver_api.contract import API_VERSION, Driver
from benchstation.driver_api.errors import DriverError, OptionError, UnsupportedCommandError
from benchstation.driver_api.reading import Fault, Item, PressureReference, Quantity, Reading
from benchstation.driver_api.testing.inspection import held_bytes, impurities
from benchstation.driver_api.testing.transcript import Transcript, replay

_COMMANDS = {"tare", "zero", "print"}
_MEGABYTE = 1 << 20
_CUTS = 40
_NOISES = 60
_STRAYS = (b"x", b"#")
"""Bytes that no number holds."""
_STRETCHED = (*range(8, 33, 3), 64, 200)
_LONGEST_FRAME_S = 0.2


class DriverConformance:
    """Checks of one driver with one set of options."""

    driver: ClassVar[type[Driver]]
    options: ClassVar[Mapping[str, Any]]
    transcripts: ClassVar[Sequence[Transcript]]
    checksummed: ClassVar[bool] = False
    """Whether every frame carries a checksum: then no single wrong bit may give a reading."""
    most_kept_bytes: ClassVar[int] = 16_384
    """How much the driver may grow, all its objects counted, whatever it is fed."""
    frames_to_recover: ClassVar[int] = 3
    """How many good frames after noise until a reading comes again."""
    skips_text: ClassVar[bool] = False
    """Whether a frame may hold text of any width that means nothing: stray bytes in it are read."""

    def make(self) -> Driver:
        """Make a fresh driver."""
        return self.driver(self.options)

    def good_frames(self) -> list[bytes]:
        """Return frames of the transcripts that a fresh driver reads without what came before."""
        frames = {
            item.raw
            for transcript in self.transcripts
            for run in transcript.runs()
            for item in _feed(self.make(), run)
            if isinstance(item, Reading)
        }
        alone = [raw for raw in sorted(frames) if _readings(_feed(self.make(), [raw, raw]))]
        assert alone, "no transcript holds a frame that is read on its own"
        return alone

    def _runs(self) -> Iterator[list[bytes]]:
        for transcript in self.transcripts:
            yield from transcript.runs()

    def _strays(self) -> Iterator[tuple[bytes, bytes]]:
        """Return good frames, each with one byte too many at every place before its last."""
        for frame in self.good_frames():
            for place in range(len(frame)):
                for stray in _STRAYS:
                    yield frame, frame[:place] + stray + frame[place:]

    def test_it_says_what_it_is(self) -> None:
        """Id, title, quantities, options and channels are there before anything is connected."""
        info = self.driver.info
        assert info.id.isidentifier()
        assert info.id == info.id.lower()
        assert info.title.strip()
        assert 1 <= info.api_version <= API_VERSION
        assert info.quantities
        names = [option.name for option in info.options]
        assert len(set(names)) == len(names)
        assert all(option.description.strip() for option in info.options)
        driver = self.make()
        assert driver.channels
        assert len({channel.name for channel in driver.channels}) == len(driver.channels)
        for channel in driver.channels:
            assert channel.quantity in info.quantities
            is_pressure = channel.quantity is Quantity.PRESSURE
            assert isinstance(channel.reference, PressureReference) == is_pressure

    def test_options_are_checked(self) -> None:
        """An unknown option and a missing one are refused by name."""
        _refused(self.driver, {**self.options, "no_such_option": 1}, "no_such_option")
        for option in self.driver.info.options:
            if option.required:
                left = {k: v for k, v in self.options.items() if k != option.name}
                _refused(self.driver, left, option.name)

    def test_requests_are_bytes(self) -> None:
        """Poll, hello and each command it has are bytes; any other command is refused."""
        driver = self.make()
        for request in (driver.poll(), driver.hello()):
            assert request is None or (isinstance(request, bytes) and request)
        assert driver.capabilities <= _COMMANDS
        for name in driver.capabilities:
            assert isinstance(driver.command(name), bytes)
            assert driver.command(name)
        for name in [*(_COMMANDS - driver.capabilities), "no_such_command"]:
            text = _refusal(UnsupportedCommandError, partial(driver.command, name))
            assert name in text, f"command '{name}' is not refused by name: {text}"

    def test_transcripts_come_out_as_written(self) -> None:
        """Every item of every transcript comes, no other, and the counts agree."""
        seen: list[Item] = []
        for transcript in self.transcripts:
            driver = self.make()
            items = replay(transcript, driver)
            faults = [item for item in items if isinstance(item, Fault)]
            assert driver.counts.readings == len(_readings(items)), transcript.name
            assert driver.counts.rejected == len(faults), transcript.name
            assert sum(driver.counts.by_kind.values()) == len(faults), transcript.name
            for fault in faults:
                assert fault.detail.strip(), f"{transcript.name}: {fault.raw!r} has no words"
                assert "\n" not in fault.detail, f"{transcript.name}: {fault.detail!r}"
            seen += items
        assert any(isinstance(item, Reading) for item in seen), "no transcript has a reading"
        assert any(isinstance(item, Fault) for item in seen), "no transcript has a fault"

    def test_readings_are_finite_and_dated(self) -> None:
        """A reading is a finite number of a channel it announced, dated as it was fed."""
        names = {channel.name for channel in self.make().channels}
        for frame in self.good_frames():
            for item in _readings(_feed(self.make(), [frame, frame], at=12.5)):
                assert item.channel in names
                assert math.isfinite(item.value)
                assert item.at == 12.5
                assert item.unit
                assert item.raw == frame
                step = item.resolution
                assert step is None or (math.isfinite(step) and step > 0.0), f"step {step}"

    def test_every_byte_and_frame_is_counted(self) -> None:
        """What was fed is in items or discarded; after a reset nothing is held any more.

        Frames are those that became items, each once however many channels it has; counts only
        grow.
        """
        halves = (
            piece
            for frame in self.good_frames()
            for cut in range(1, len(frame))
            for piece in ([frame, frame[:cut]], [frame, frame[cut:], frame])
        )
        strays = ([spoilt, frame] for frame, spoilt in self._strays())
        for run in (*self._runs(), *halves, *strays):
            driver = self.make()
            items = _feed(driver, run)
            frames, channels = driver.counts.frames, len(driver.channels)
            assert frames <= len(items) <= channels * frames, f"{frames} frames gave {items}"
            before = driver.counts.readings, driver.counts.rejected, frames
            driver.reset()
            after = driver.counts.readings, driver.counts.rejected, driver.counts.frames
            assert after == before, f"a reset made {before} into {after}"
            if channels == 1:
                known = sum(len(item.raw) for item in items) + driver.counts.discarded_bytes
                fed = sum(map(len, run))
                # A good frame may begin in a rejected one, whose bytes are then looked at again.
                again = sum(len(item.raw) for item in items if isinstance(item, Fault))
                assert fed <= known <= fed + again, f"of {fed} bytes {known} are told of: {run}"

    def test_a_stray_byte_spoils_its_frame(self) -> None:
        """No frame is read that holds a byte too many: the whole of it must be as it must be."""
        if self.skips_text:
            return
        for frame, spoilt in self._strays():
            driver = self.make()
            for item in _readings(_feed(driver, [frame, spoilt, frame])):
                assert item.raw == frame, f"{item.raw!r} is read as {item.value}"

    def test_half_a_frame_is_no_reading(self) -> None:
        """A frame is read when its last byte has come, and not before."""
        for frame in self.good_frames():
            for cut in range(len(frame)):
                driver = self.make()
                _feed(driver, [frame, frame])
                early = _readings(driver.feed(frame[:cut], 1.0))
                assert not early, f"{frame[:cut]!r} is read before {frame[cut:]!r} came"

    def test_two_devices_have_nothing_in_common(self) -> None:
        """What one driver was fed is not in another of the same class."""
        for frame in self.good_frames():
            alone = _feed(self.make(), [frame, frame])
            one, other = self.make(), self.make()
            one.feed(frame + frame[: len(frame) // 2], 0.0)
            assert _feed(other, [frame, frame]) == alone, f"another was fed {frame!r}"
            assert other.counts.readings == len(_readings(alone))

    def test_no_frame_takes_long(self) -> None:
        """However a frame is stretched, reading it takes no time that grows beyond measure."""
        for frame in self.good_frames():
            for byte, place in {byte: at for at, byte in enumerate(frame)}.items():
                for count in _STRETCHED:
                    more = bytes((byte,)) * count
                    for line in (
                        frame[:place] + more + frame[place:],
                        frame[:place] + more + b"!" + frame[-1:],
                    ):
                        spent = _processor_time(self.make(), line)
                        assert spent < _LONGEST_FRAME_S, f"{spent:.2f} s for {line!r}"

    def test_any_chunking_gives_the_same(self) -> None:
        """However the bytes are cut, the same items come out."""
        chance = _chance(1)
        for transcript in self.transcripts:
            for run in transcript.runs():
                whole = _feed(self.make(), [b"".join(run)])
                assert _feed(self.make(), run) == whole, transcript.name
                assert _feed(self.make(), _bytewise(run)) == whole, transcript.name
                for _ in range(_CUTS):
                    pieces = list(_cut(b"".join(run), chance))
                    assert _feed(self.make(), pieces) == whole, f"{transcript.name}: {pieces}"

    def test_noise_costs_only_itself(self) -> None:
        """After any bytes at all readings come again within a few good frames."""
        chance = _chance(2)
        frames = self.good_frames()
        for _ in range(_NOISES):
            noise = _noise(chance, frames)
            frame = chance.choice(frames)
            driver = self.make()
            driver.feed(noise, 0.0)
            for _ in range(self.frames_to_recover):
                items = driver.feed(frame, 1.0)
            other = self.make()
            other.feed(frame, 0.0)
            good = [(r.channel, r.value, frame) for r in _readings(other.feed(frame, 0.0))]
            text = f"{frame!r} is not read after {noise!r}"
            assert good, text
            assert [(r.channel, r.value, r.raw) for r in _readings(items)] == good, text

    def test_a_megabyte_without_an_end_is_not_kept(self) -> None:
        """A stream that never completes a frame does not fill the memory."""
        chance = _chance(3)
        starts = [frame[:1] for frame in self.good_frames()]
        fillers = [b"\x00", b"0", b"\xff", *starts]
        for data in [filler * 4096 for filler in fillers] + [chance.randbytes(4096)]:
            driver = self.make()
            driver.feed(data, 0.0)
            before = held_bytes(driver)
            for _ in range(_MEGABYTE // 4096):
                driver.feed(data, 0.0)
            grown = held_bytes(driver) - before
            assert grown <= self.most_kept_bytes, f"{grown} bytes more held after {data[:8]!r}..."

    def test_single_wrong_bits(self) -> None:
        """A wrong bit costs its frame and perhaps the next; with a checksum it gives no reading."""
        for frame in self.good_frames():
            for bit in range(8 * len(frame)):
                spoilt = bytearray(frame)
                spoilt[bit // 8] ^= 1 << bit % 8
                driver = self.make()
                items = driver.feed(bytes(spoilt), 0.0)
                text = f"bit {bit} of {frame!r} wrong gives {items}"
                assert not (self.checksummed and _readings(items)), text
                for _ in range(self.frames_to_recover):
                    items = driver.feed(frame, 1.0)
                assert _readings(items), f"after bit {bit} of {frame!r} was wrong nothing is read"

    def test_reset_forgets_half_a_frame(self) -> None:
        """After a reset the next frames are read as if nothing had come before."""
        for frame in self.good_frames():
            fresh = _feed(self.make(), [frame] * 3)
            for cut in range(1, len(frame)):
                driver = self.make()
                driver.feed(frame[:cut], 0.0)
                driver.reset()
                after = _feed(driver, [frame] * 3)
                assert after == fresh, f"{frame[:cut]!r}, reset, {frame!r} gives {after}"

    def test_it_is_pure(self) -> None:
        """No clock, thread, port or file: its sources import none and open none."""
        assert impurities(self.driver) == []


def _feed(driver: Driver, chunks: Sequence[bytes], at: float = 0.0) -> list[Item]:
    return [item for chunk in chunks for item in driver.feed(chunk, at)]


def _readings(items: Sequence[Item]) -> list[Reading]:
    return [item for item in items if isinstance(item, Reading)]


def _chance(seed: int) -> random.Random:
    return random.Random(seed)  # noqa: S311 - noise that can be had again


def _processor_time(driver: Driver, line: bytes) -> float:
    """Return what reading a line takes of the processor, seconds."""
    start = time.thread_time()
    driver.feed(line, 0.0)
    return time.thread_time() - start


def _bytewise(run: Sequence[bytes]) -> list[bytes]:
    return [bytes((byte,)) for byte in b"".join(run)]


def _cut(data: bytes, chance: random.Random) -> Iterator[bytes]:
    while data:
        size = chance.choice((0, 1, 2, 5, 17, len(data)))
        yield data[:size]
        data = data[size:]


def _noise(chance: random.Random, frames: Sequence[bytes]) -> bytes:
    """Return random bytes, pieces of good frames among them."""
    parts = [chance.randbytes(chance.randrange(40)) for _ in range(3)]
    frame = chance.choice(frames)
    begin = chance.randrange(len(frame))
    parts.insert(1, frame[begin : chance.randrange(begin, len(frame))])
    return b"".join(parts)


def _refused(driver: type[Driver], options: Mapping[str, Any], name: str) -> None:
    text = _refusal(OptionError, lambda: driver(options))
    assert name in text, f"option '{name}' is not refused by name: {text}"


def _refusal(kind: type[DriverError], ask: Callable[[], object]) -> str:
    """Return the words of a refusal, empty when nothing was refused."""
    try:
        ask()
    except kind as error:
        return str(error)
    return ""
