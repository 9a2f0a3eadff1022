"""``benchstation devices``: list ports, watch, record and replay a line, and add an instrument.

A port belongs to somebody: nothing is sent to it without ``--ask``, and other line settings are
tried only with ``--try-settings``. Nothing here edits settings; what to put into the set-up file is
printed.
"""

import argparse
import logging
import math
import sys
import time
from collections.abc import Callable, Mapping
from dataclasses import dataclass
from datetime import UTC, datetime
from pathlib import Path
from typing import Any, ClassVar

from benchstation.cli import outputs as output_commands
from benchstation.cli.profile_trial import TOLERANCE, try_profile
from benchstation.config.settings import profile_folders
from benchstation.devices import adding
from benchstation.devices.adding import Heard, Search, quoted, reading_words
from benchstation.devices.profile import Profile, load_profile
from benchstation.devices.registry import added_drivers, problems
from benchstation.domain.instrument_roles import role_of
from benchstation.driver_api.contract import Driver, DriverInfo, FrameCounts, LineSettings
from benchstation.driver_api.errors import StationError
from benchstation.driver_api.reading import Fault, Item, Reading
from benchstation.link.ports import ports
from benchstation.link.raw_log import Direction, RawLog
from benchstation.link.reader import Reader
from benchstation.link.recording import REPLAY, Recorder, Recording, read_recording
from benchstation.link.statistics import LinkState
from benchstation.link.transport import open_transport

FOREVER = math.inf
NOT_CONFIRMED = 1
STOP_WAIT_S = 5.0
Say = Callable[[str], None]


class DeviceCommandError(StationError):
    """A device command cannot do what was asked."""


def add_commands(parser: argparse.ArgumentParser) -> None:
    """Declare the commands under ``devices``."""
    parts = parser.add_subparsers(dest="device_command", required=True)
    parts.add_parser("list", help="the serial ports with what stays the same of them, and drivers")

    watched = parts.add_parser("watch", help="bytes, frames and readings of a line, live")
    recorded = parts.add_parser("record", help="every byte of a line with its time, to a file")
    for one in (watched, recorded):
        one.add_argument("port", help="a name, usb:VID:PID:SERIAL, a path or a URL")
    recorded.add_argument("file", type=Path, help="a new file")
    replayed = parts.add_parser("replay", help="a recording in place of its device")
    replayed.add_argument("file", type=Path)
    replayed.add_argument("--speed", type=float, default=1.0, help="times as fast (1)")
    replayed.add_argument(
        "--serve", action="store_true", help="offer it as a port that the station can open"
    )
    tried = parts.add_parser("try-profile", help="check a profile of your own on a transcript")
    tried.add_argument("file", type=Path, help="the profile, named ID.toml")
    tried.add_argument("--transcript", type=Path, help="what the device sends, and what it means")
    tried.add_argument(
        "--tolerance",
        type=float,
        default=TOLERANCE,
        metavar="SHARE",
        help=f"how near a value must come to what is written, as a share of it ({TOLERANCE:g})",
    )
    added = parts.add_parser("add", help="listen to a new device and say which profile reads it")
    added.add_argument("port", help="a name, usb:VID:PID:SERIAL, a path or a URL")
    added.add_argument(
        "--ask",
        action="store_true",
        help="send the requests of polled profiles, each at its own line settings",
    )
    added.add_argument(
        "--try-settings", action="store_true", help="try other line settings in turn"
    )
    added.add_argument("--id", help="the instrument's name in the records (scale-1 or gauge-1)")
    added.add_argument("--title", help="what people call it")
    added.add_argument("--serial", default="", help="the serial number on its plate")
    output_commands.add_parsers(parts)
    for one in (watched, recorded, replayed):
        one.add_argument("--profile", help="how it speaks; see 'benchstation profiles'")
        one.add_argument("--seconds", type=float, default=FOREVER, help="how long (until stopped)")
    added.add_argument("--seconds", type=float, default=3.0, help="how long to listen (3)")
    for one in (watched, recorded, added):
        one.add_argument(
            "--line", type=_line_of, metavar="SETTINGS", help="line settings, such as '9600 8N1'"
        )
    for one in (watched, recorded, replayed, added):
        one.add_argument("--profiles", type=Path, help="a further folder with profiles")


def _line_of(text: str) -> LineSettings:
    found = adding.line_from(text)
    if found is None:
        raise argparse.ArgumentTypeError(f"'{text}' is none; write them like '9600 8N1'")
    return found


def run(options: argparse.Namespace, say: Say | None = None) -> int:
    """Run one of the commands. Raises ``StationError`` in words; 0 when it was done."""
    out = say or _print
    _check(options)
    # What the log would say of a line is said here.
    logging.getLogger("benchstation").addHandler(logging.NullHandler())
    try:
        match options.device_command:
            case "list":
                _list(out)
            case "watch":
                _watch(options, out)
            case "record":
                _record(options, out)
            case "replay":
                _replay(options, out)
            case "lamp":
                return 0 if output_commands.try_lamp(out) else NOT_CONFIRMED
            case "feed":
                output_commands.read_feed(out)
            case "try-profile":
                for line in try_profile(options.file, options.transcript, options.tolerance):
                    out(line)
            case _:
                _add(options, out)
    except KeyboardInterrupt:
        out("stopped")
    return 0


def _print(text: str) -> None:
    sys.stdout.write(text + "\n")
    sys.stdout.flush()


def _check(options: argparse.Namespace) -> None:
    seconds, speed = getattr(options, "seconds", 1.0), getattr(options, "speed", 1.0)
    if not seconds > 0.0:
        raise DeviceCommandError(f"--seconds {seconds:g} is no time to watch.")
    if not 0.0 < speed <= 1e6:
        raise DeviceCommandError(f"--speed {speed:g} is none; give 0.01 to 1000000.")
    tolerance = getattr(options, "tolerance", TOLERANCE)
    if not 0.0 <= tolerance < 1.0:
        raise DeviceCommandError(f"--tolerance {tolerance:g} is none; give 0 to 1, such as 1e-4.")


# --- list ----------------------------------------------------------------------------------------


def _list(say: Say) -> None:
    found = ports()
    for port in found:
        say(f"{port.stable_url:<40} {port.name:<16} {port.description}")
        if port.identity and port.by_id:
            say(f"{'':<40} {port.by_id}")
    if not found:
        say("no serial ports; devices on the network are named socket://HOST:PORT")
    for added in added_drivers():
        say(f"driver {added.id}: {added.title}")
    for name, problem in problems().items():
        say(f"driver {name} cannot be used: {problem.what}")


# --- watch, record, replay -----------------------------------------------------------------------


class _Unread(Driver):
    """Reads nothing: for a line of which only the bytes are wanted."""

    info: ClassVar[DriverInfo] = DriverInfo("unread", "Bytes only", ())

    def __init__(self, options: Mapping[str, Any]) -> None:
        self.channels, self.capabilities, self.counts = (), frozenset(), FrameCounts()

    def feed(self, data: bytes, at: float) -> list[Item]:
        """Return nothing."""
        return []

    def reset(self) -> None:
        """Do nothing: no state is kept."""


class _ShownLog(RawLog):
    """A raw log that hands every chunk on: to people, and to a recorder."""

    def __init__(self, shown: Callable[[float, Direction, bytes], None]) -> None:
        super().__init__()
        self._shown = shown

    def add(self, at: float, direction: Direction, data: bytes) -> None:
        """Keep bytes and show them."""
        super().add(at, direction, data)
        self._shown(at, direction, data)


@dataclass(frozen=True, slots=True)
class _Source:
    """A line and how to read it."""

    url: str
    profile: Profile | None
    line: LineSettings | None = None

    def driver(self) -> Driver:
        """Make the profile's driver, or one that reads nothing."""
        return self.profile.make_driver() if self.profile else _Unread({})

    @property
    def settings(self) -> LineSettings:
        """Return the line settings given, the profile's, or the usual ones."""
        if self.line is not None:
            return self.line
        return self.profile.line_settings if self.profile else LineSettings()

    @property
    def poll_interval_s(self) -> float:
        """Return how often it is asked."""
        rate = self.profile.rate if self.profile else None
        return 1.0 / (rate.poll_hz or rate.expected_hz) if rate else 1.0


def _source(options: argparse.Namespace, url: str, profile_id: str | None) -> _Source:
    profile = load_profile(profile_id, profile_folders(options.profiles)) if profile_id else None
    return _Source(url, profile, getattr(options, "line", None))


def _follow(
    source: _Source,
    seconds: float,
    say: Say,
    tap: Callable[[float, Direction, bytes], None],
    on_item: Callable[[Item], None],
) -> Reader:
    """Read a line until the time is up; a line that cannot be opened at first is an error."""
    driver = source.driver()  # first: the first units that are looked up take their time
    start = time.perf_counter()
    seen: list[LinkState] = []
    refused: list[str] = []

    def on_state(state: LinkState, words: str) -> None:
        seen.append(state)
        if seen == [LinkState.LOST]:
            refused.append(words)
            return
        say(f"{time.perf_counter() - start:9.3f} s  {state.value}{': ' if words else ''}{words}")

    reader = Reader(
        source.url,
        driver,
        lambda: open_transport(source.url, source.settings),
        clock=lambda: time.perf_counter() - start,
        on_item=on_item,
        on_state=on_state,
        poll_interval_s=source.poll_interval_s,
        raw_log=_ShownLog(tap),
    )
    reader.start()
    try:
        while not refused and reader.state is not LinkState.FAILED:
            left = start + seconds - time.perf_counter()
            if left <= 0.0:
                break
            time.sleep(min(0.05, left))
    except KeyboardInterrupt:
        say("stopped")
    finally:
        reader.stop(STOP_WAIT_S)
    if refused:
        raise DeviceCommandError(refused[0])
    if reader.state is LinkState.FAILED:
        raise DeviceCommandError(f"the reading stopped: {reader.statistics.last_error}.")
    return reader


def _watch(options: argparse.Namespace, say: Say) -> None:
    source = _source(options, options.port, options.profile)
    shown = _Shown(say)
    reader = _follow(source, options.seconds, say, shown.chunk, shown.item)
    _sum_up(reader, say)


class _Shown:
    """Writes chunks and items for people."""

    def __init__(self, say: Say) -> None:
        self._say = say

    def chunk(self, at: float, direction: Direction, data: bytes) -> None:
        """Write bytes in hexadecimal and as text."""
        arrow = "<-" if direction is Direction.RECEIVED else "->"
        for line in adding.byte_lines(data):
            self._say(f"{at:9.3f} s  {arrow} {line}")

    def item(self, item: Item) -> None:
        """Write what a frame is."""
        self._say(f"{item.at:9.3f} s     {describe(item)}")


def describe(item: Item) -> str:
    """Return one line about a reading, fault or reply."""
    if isinstance(item, Reading):
        flags = {True: " steady", False: " moving", None: ""}[item.stable]
        net = {True: " net", False: " gross", None: ""}[item.net]
        return f"reading {reading_words(item)}{flags}{net}  in {item.unit}, frame {item.raw!r}"
    if isinstance(item, Fault):
        return f"{item.kind}: {item.detail}  frame {item.raw!r}"
    return f"reply to {item.command}: {'accepted' if item.accepted else 'refused'}"


def _sum_up(reader: Reader, say: Say) -> None:
    told = reader.statistics
    say(
        f"{told.readings} readings, {told.rejected} frames without one, {told.received_bytes} "
        f"bytes, {told.discarded_bytes} of them in no frame"
    )
    if not math.isnan(told.rate_hz):
        say(
            f"{told.rate_hz:.1f} readings/s, longest gap {told.longest_gap_s * 1e3:.0f} ms, "
            f"jitter {told.jitter_s * 1e3:.1f} ms"
        )
    if not math.isnan(told.answer_s):
        say(
            f"answers after {told.answer_s * 1e3:.1f} ms, at most {told.longest_answer_s * 1e3:.1f}"
        )


def _record(options: argparse.Namespace, say: Say) -> None:
    source = _source(options, options.port, options.profile)
    open_transport(source.url, source.settings).close()
    begun = datetime.now(UTC).isoformat(timespec="seconds")
    log = Recorder(options.file, url=source.url, profile=options.profile or "", begun=begun)
    try:
        say(f"recording {source.url} to {options.file}")
        reader = _follow(source, options.seconds, say, log.add, lambda _: None)
        _sum_up(reader, say)
    finally:
        log.close()


def _replay(options: argparse.Namespace, say: Say) -> None:
    recording = read_recording(options.file)
    if not recording.received:
        raise DeviceCommandError("nothing was received in this recording.", where=str(options.file))
    length = recording.chunks[-1].at / options.speed
    say(f"recorded from {recording.url or 'an unknown line'} at {recording.begun}")
    if options.serve:
        _serve(recording, options, say)
        return
    name = options.profile or recording.profile or None
    source = _source(options, f"{REPLAY}{options.file}?speed={options.speed!r}", name)
    shown = _Shown(say)
    seconds = min(options.seconds, length + 0.5)
    _sum_up(_follow(source, seconds, say, shown.chunk, shown.item), say)


def _serve(recording: Recording, options: argparse.Namespace, say: Say) -> None:
    from sample_devices.host import serve
    from sample_devices.recorded import RecordedDevice

    chunks = [(c.at, c.data) for c in recording.chunks if c.direction is Direction.RECEIVED]
    served = serve(RecordedDevice(chunks, options.speed, again=True), time.perf_counter)
    try:
        say(f"offered at {served.url}, over and over")
        end = time.perf_counter() + options.seconds
        while (left := end - time.perf_counter()) > 0.0:
            time.sleep(min(0.05, left))
    finally:
        served.close()


# --- add -----------------------------------------------------------------------------------------


def _add(options: argparse.Namespace, say: Say) -> None:
    profiles, left_out = adding.usable(profile_folders(options.profiles))
    for error in left_out:
        say(f"left out: {error}")
    search = Search(
        options.port,
        profiles,
        options.seconds,
        asks=options.ask,
        tries=options.try_settings,
        fixed=options.line is not None,
        tell=say,
    )
    best: Heard | None = None
    for heard in search.run(options.line or LineSettings()):
        _show_bytes(heard, say)
        if best is None or heard.worth > best.worth:
            best = heard
    if best is None or not best.matches:
        what = adding.nothing_words(best, asked=options.ask)
        advice = _next(options) if best is None or not best.beyond else adding.OTHER_RANGE
        raise DeviceCommandError(what, where=options.port, advice=advice)
    _show_matches(best, say)
    _show_set_up(best, options, say)


def _show_bytes(heard: Heard, say: Say) -> None:
    say(f"{heard.count} bytes came")
    for line in adding.last_lines(b"".join(heard.chunks)):
        say(f"  {line}")


def _show_matches(heard: Heard, say: Say) -> None:
    say("profiles that read it, the best first:")
    for match in heard.matches:
        say(f"  {match.profile.id:<28}{adding.match_words(match)}")
    for match in heard.beyond:
        say(f"  {match.profile.id:<28}{adding.beyond_words(match)}: no offer")
    say("Put a known weight or pressure on and compare before you rely on it.")


def _show_set_up(heard: Heard, options: argparse.Namespace, say: Say) -> None:
    profile = heard.matches[0].profile
    role = role_of(profile.kind, profile.channel.reference)
    say("for the set-up file:")
    say(f"[instruments.{role}]")
    say(f"id = {quoted(options.id or f'{role}-1')}")
    say(f"title = {quoted(options.title or profile.title)}")
    say(f"profile = {quoted(profile.id)}")
    say(f"url = {quoted(adding.stable_url(options.port))}")
    say(f"serial = {quoted(options.serial)}")
    say(f"With another {role} on the bench write [[instruments.{role}]] for each of them.")
    if adding.has_line_settings(options.port) and heard.settings != profile.line_settings:
        spoke, says = map(adding.line_words, (heard.settings, profile.line_settings))
        say(f"It spoke at {spoke} and the profile says {says}: copy the")
        say(f"profile {profile.id} into your folder under another id, with")
        say(adding.line_table(heard.settings))


def _next(options: argparse.Namespace) -> str:
    tips = [] if options.ask else ["--ask, if the device waits for a request"]
    fixed = options.try_settings or not adding.has_line_settings(options.port)
    tips += [] if fixed else ["--try-settings, if its line is set otherwise"]
    return "Try " + ", or ".join(tips) + "." if tips else "Look its frame up and write a profile."
