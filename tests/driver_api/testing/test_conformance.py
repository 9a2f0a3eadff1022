"""The conformance kit catches the driver that breaks each of its rules, and passes a sound one."""

import importlib.util
import re
import sys
from dataclasses import replace
from types import ModuleType

import pytest

from benchstation.driver_api.contract import (
    ChannelSpec,
    Driver,
    DriverInfo,
    FrameCounts,
    OptionSpec,
)
from benchstation.driver_api.errors import OptionError
from benchstation.driver_api.framing import LineFramer, xor8
from benchstation.driver_api.reading import Fault, FaultKind, Quantity, Reading
from benchstation.driver_api.testing import DriverConformance, parse_transcript
from benchstation.driver_api.testing.inspection import held_bytes, impurities


class Sound(Driver):
    """``12.5*18`` and a line feed: kilograms, and the exclusive-or of what stands before the *."""

    info = DriverInfo(
        "sound", "A sound one", (Quantity.MASS,), (OptionSpec("size", "any", required=True),)
    )

    def __init__(self, options):
        if set(options) != {"size"}:
            raise OptionError(f"size alone is wanted, and not {sorted(set(options) - {'size'})}")
        self.channels = (ChannelSpec("mass", Quantity.MASS),)
        self.capabilities = frozenset()
        self.counts = FrameCounts()
        self.framer = LineFramer(b"\n", 64)

    def feed(self, data, at):
        items = [self.item(line, at) for line in self.framer.push(data)]
        kinds = [item.kind for item in items if isinstance(item, Fault)]
        self.counts.frames += len(items)
        self.counts.discarded_bytes = self.framer.discarded
        self.counts.readings += len(items) - len(kinds)
        self.counts.rejected += len(kinds)
        for kind in kinds:
            self.counts.by_kind[kind] = self.counts.by_kind.get(kind, 0) + 1
        return items

    def item(self, line, at):
        found = self.match(line)
        if found is None or not self.holds(found[1], found[2]):
            return Fault(FaultKind.BAD_CHECKSUM, at, line, "wrong")
        return Reading("mass", self.value(found[1]), at, "kg", line)

    def match(self, line):
        return re.fullmatch(rb"(-?[0-9]+\.[0-9]+)\*([0-9A-F]{2})\n", line)

    def holds(self, number, check):
        return check == b"%02X" % xor8(number)

    def value(self, number):
        return float(number)

    def reset(self):
        self.framer.clear()
        self.counts.discarded_bytes = self.framer.discarded


TRANSCRIPT = parse_transcript(
    r"""
    device b"12.5*18\n"
    reading mass 12.5 kg
    device b"12.5*19\n-0.5"
    fault bad checksum
    device b"*06\n"
    reading mass -0.5 kg
    """
)


class TestSoundOne(DriverConformance):
    driver = Sound
    options = {"size": 1}  # noqa: RUF012 - as a driver author would write it
    transcripts = (TRANSCRIPT,)
    checksummed = True


class Raising(Sound):
    def feed(self, data, at):
        data.decode("ascii")
        return super().feed(data, at)


class Chunked(Sound):
    def feed(self, data, at):
        items = super().feed(data, at)
        self.framer.clear()
        return items


class Hoarding(Sound):
    def __init__(self, options):
        super().__init__(options)
        self.all = []

    def feed(self, data, at):
        self.all.append(bytes(bytearray(data)))
        return super().feed(data, at)


class Trusting(Sound):
    def holds(self, number, check):
        return True


class Keeping(Sound):
    def reset(self):
        pass


class Miscounting(Sound):
    def feed(self, data, at):
        items = super().feed(data, at)
        self.counts.readings += len(items)
        return items


class Lenient(Sound):
    def __init__(self, options):
        super().__init__({"size": 1})


class Boundless(Sound):
    def value(self, number):
        return float("inf")


class Undated(Sound):
    def feed(self, data, at):
        return super().feed(data, 0.0)


class Namesake(Sound):
    info = DriverInfo("Two words", "", ())


class Boasting(Sound):
    def __init__(self, options):
        super().__init__(options)
        self.capabilities = frozenset({"tare"})

    def command(self, name):
        return b""


class Deaf(Sound):
    def feed(self, data, at):
        if b"\xff" in data or self.counts.frames:
            self.counts.frames = 1
            return []
        return super().feed(data, at)


class Searching(Sound):
    """Finds its frame anywhere in a line."""

    def match(self, line):
        return re.search(rb"(-?[0-9]+\.[0-9]+)\*([0-9A-F]{2})\n", line)


class Beginning(Sound):
    """Takes whatever stands behind its frame."""

    def match(self, line):
        return re.match(rb"(-?[0-9]+\.[0-9]+)\*([0-9A-F]{2})", line)


class Uncounted(Sound):
    def feed(self, data, at):
        frames = self.counts.frames
        items = super().feed(data, at)
        self.counts.frames = frames
        return items


class Concealing(Sound):
    """Says nothing of a line that has no star in it."""

    def feed(self, data, at):
        items = [self.item(line, at) for line in self.framer.push(data) if b"*" in line]
        self.counts.frames += len(items)
        return items


class Wasteful(Sound):
    """Throws half a line away at a reset, and does not tell."""

    def reset(self):
        discarded = self.framer.discarded
        self.framer.clear()
        self.framer.discarded = discarded
        self.counts.discarded_bytes = discarded


class Forgetful(Sound):
    def reset(self):
        super().reset()
        self.counts = FrameCounts(discarded_bytes=self.framer.discarded)


class Hasty(Sound):
    """Reads a line as soon as its check characters are there."""

    def feed(self, data, at):
        items = super().feed(data, at)
        rest = self.framer._rest + b"\n"
        return [*items, self.item(rest, at)] if self.match(rest) else items


SHARED = LineFramer(b"\n", 64)


class Sharing(Sound):
    def __init__(self, options):
        super().__init__(options)
        self.framer = SHARED


class Dawdling(Sound):
    """A pattern that tries every way to part the digits of a line that does not end well."""

    def match(self, line):
        if re.fullmatch(rb"-?(?:[0-9]+)+\.(?:[0-9]+)+\*[0-9A-F]{2}\n", line) is None:
            return None
        return super().match(line)


class Stepless(Sound):
    def item(self, line, at):
        item = super().item(line, at)
        return replace(item, resolution=0.0) if isinstance(item, Reading) else item


class Speechless(Sound):
    def item(self, line, at):
        item = super().item(line, at)
        return replace(item, detail="") if isinstance(item, Fault) else item


BROKEN = {
    Raising: "test_noise_costs_only_itself",
    Chunked: "test_any_chunking_gives_the_same",
    Hoarding: "test_a_megabyte_without_an_end_is_not_kept",
    Trusting: "test_single_wrong_bits",
    Keeping: "test_reset_forgets_half_a_frame",
    Miscounting: "test_transcripts_come_out_as_written",
    Lenient: "test_options_are_checked",
    Boundless: "test_readings_are_finite_and_dated",
    Undated: "test_readings_are_finite_and_dated",
    Namesake: "test_it_says_what_it_is",
    Boasting: "test_requests_are_bytes",
    Deaf: "test_noise_costs_only_itself",
    Searching: "test_a_stray_byte_spoils_its_frame",
    Beginning: "test_a_stray_byte_spoils_its_frame",
    Uncounted: "test_every_byte_and_frame_is_counted",
    Concealing: "test_every_byte_and_frame_is_counted",
    Wasteful: "test_every_byte_and_frame_is_counted",
    Forgetful: "test_every_byte_and_frame_is_counted",
    Hasty: "test_half_a_frame_is_no_reading",
    Sharing: "test_two_devices_have_nothing_in_common",
    Dawdling: "test_no_frame_takes_long",
    Stepless: "test_readings_are_finite_and_dated",
    Speechless: "test_transcripts_come_out_as_written",
}


@pytest.mark.parametrize(("broken", "check"), BROKEN.items())
def test_each_rule_can_fail(broken, check):
    kit = TestSoundOne()
    kit.driver = broken
    with pytest.raises((AssertionError, UnicodeDecodeError)):
        getattr(kit, check)()


def test_every_rule_is_broken_once():
    rules = {name for name in dir(DriverConformance) if name.startswith("test_")}
    assert rules - set(BROKEN.values()) == {"test_it_is_pure"}


def test_transcripts_must_show_a_reading_and_a_fault():
    kit = TestSoundOne()
    kit.transcripts = (parse_transcript('device b"12.5*18\\n"\nreading mass 12.5 kg'),)
    with pytest.raises(AssertionError, match="has a fault"):
        kit.test_transcripts_come_out_as_written()
    kit.transcripts = (parse_transcript('device b"x\\n"\nfault bad checksum'),)
    with pytest.raises(AssertionError, match="read on its own"):
        kit.good_frames()


@pytest.fixture
def written(tmp_path, monkeypatch):
    """Import a driver's module from its source."""

    def write(name, source):
        path = tmp_path / f"{name}.py"
        path.write_text(source)
        spec = importlib.util.spec_from_file_location(name, path)
        module = importlib.util.module_from_spec(spec)
        monkeypatch.setitem(sys.modules, name, module)
        spec.loader.exec_module(module)
        return module

    return write


@pytest.mark.parametrize(
    "line",
    [
        "import time",
        "from time import monotonic",
        "import threading",
        "import socket, re",
        "from os import path",
        "def late():\n    import subprocess",
        "def late():\n    return open('x')",
        "def late():\n    print('x')",
    ],
)
def test_what_is_impure_is_found(written, line):
    module = written("shady", f"import re\n{line}\nclass Shady: pass\n")
    assert len(impurities(module.Shady)) == 1


def test_a_neighbour_in_the_same_package_is_looked_into(written, monkeypatch):
    package = ModuleType("kin")
    monkeypatch.setitem(sys.modules, "kin", package)
    package.tool = written("kin.tool", "import time\n")
    driver = written("kin.driver", "from kin import tool\nclass Shady: pass\n").Shady
    assert impurities(driver) == ["kin.tool:1 uses time"]
    assert impurities(Sound) == []


def test_what_is_held_is_counted():
    made = Hoarding({"size": 1})
    before = held_bytes(made)
    made.feed(bytes(10_000), 0.0)
    assert 10_000 <= held_bytes(made) - before < 11_000
