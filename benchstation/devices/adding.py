"""Bringing a device to the bench: what is heard on a port, who reads it, what to try next.

The command line and the window both go this way. Nothing is sent and no line setting is changed
unless the person who owns the port said so; the port is closed again whatever happens.
"""

import re
from collections.abc import Callable, Iterator, Sequence
from dataclasses import dataclass, replace
from pathlib import Path

from benchstation.atomic_file import part_of, put_in_place
from benchstation.devices import discovery
from benchstation.devices.profile import Profile, load_profile, profile_ids, profile_text
from benchstation.devices.reading_range import is_near_range
from benchstation.devices.value_words import value_words
from benchstation.driver_api.contract import LineSettings
from benchstation.driver_api.errors import StationError
from benchstation.driver_api.reading import Reading
from benchstation.link.ports import find, resolve
from benchstation.link.recording import REPLAY
from benchstation.link.transport import open_transport

SHOWN_BYTES, SHOWN_LINES = 16, 8
OTHER_RANGE = "Copy it under another id with the range on the plate, or look for another."
"""What to do about a profile whose range does not hold what the device shows."""
_LINE = re.compile(r"([0-9]{2,7}) ?([78])([NEO])([12])", re.IGNORECASE)


@dataclass(frozen=True, slots=True)
class Heard:
    """What came with some line settings, and the profiles that read it, the best first."""

    settings: LineSettings
    chunks: Sequence[bytes]
    matches: Sequence[discovery.Match]
    beyond: Sequence[discovery.Match] = ()
    """Profiles whose frames these are, and that read nothing of them that their range holds."""
    answered: bool = False
    """Whether it came after requests, maybe at the wrong line settings, and not by itself."""

    @property
    def good(self) -> bool:
        """Return True when the best explains nearly all."""
        return bool(self.matches) and self.matches[0].share >= discovery.GOOD_SHARE

    @property
    def worth(self) -> tuple[bool, float, int, bool, int]:
        """Return what decides between two: a reading, the share explained, the bytes that came.

        Bytes that came by themselves tell more than answers that nobody reads.
        """
        best = self.matches[0] if self.matches else None
        reads, share = (best.readings > 0, best.share) if best else (False, 0.0)
        by_itself = self.count > 0 and not self.answered
        return reads, share, len(self.beyond), by_itself, self.count

    @property
    def count(self) -> int:
        """Return the bytes that came."""
        return sum(map(len, self.chunks))


def _nothing(_: object) -> None:
    """Tell nobody."""


@dataclass(frozen=True, slots=True)
class Search:
    """How a port is listened to. ``asks`` and ``tries`` only with the user's consent."""

    url: str
    profiles: Sequence[Profile]
    seconds: float = 3.0
    asks: bool = False
    """Whether the requests of polled profiles may be sent, each at its own line settings."""
    tries: bool = False
    """Whether other line settings may be tried in turn."""
    fixed: bool = False
    """Whether the line settings are known: it is asked at these alone."""
    stop: Callable[[], bool] = discovery.never
    tell: Callable[[str], object] = _nothing
    """Told in words what is done now."""
    heard: Callable[[bytes], object] = _nothing
    """Told of each chunk at once."""

    def run(self, first: LineSettings) -> Iterator[Heard]:
        """Return what is heard, and then answered, with each line setting in turn, until one fits.

        Requests of Modbus are sent apart from those in text, on a line of their own: a device that
        hears the other's takes them for damage, and a program at a network address may hang up.
        """
        for settings in self._settings(first):
            found = self._hear(settings)
            yield found
            if found.good or self.stop():
                return
            if not self.asks:
                continue
            asking = [(settings, group) for group in self._groups(self.profiles)]
            if settings == first and not self.fixed and has_line_settings(self.url):
                asking = self._at_their_own()
            for at, group in asking:
                answered = self._ask(at, group)
                yield answered
                if (answered.good and answered.matches[0].readings) or self.stop():
                    return

    def _settings(self, first: LineSettings) -> Sequence[LineSettings]:
        if not self.tries or not has_line_settings(self.url):
            return [first]
        return list(dict.fromkeys([first, *discovery.line_settings(self.profiles)]))

    def _groups(self, profiles: Sequence[Profile]) -> list[list[Profile]]:
        """Return the profiles that wait to be asked, those of one kind of frames together."""
        drivers = [(profile, profile.make_driver()) for profile in profiles]
        asked = [(profile, d.speaks) for profile, d in drivers if d.poll() is not None]
        # A frame with a checksum is not taken for another: those first. TCP's own frames make no
        # sense on a serial line; the serial ones do at an address, behind a plain gateway.
        kinds = ("rtu", "text") if has_line_settings(self.url) else ("tcp", "rtu", "text")
        groups = [[profile for profile, speaks in asked if speaks == kind] for kind in kinds]
        return [group for group in groups if group]

    def _at_their_own(self) -> list[tuple[LineSettings, list[Profile]]]:
        """Return the groups at the line settings of their profiles."""
        found = []
        for group in self._groups(self.profiles):
            for settings in dict.fromkeys(profile.line_settings for profile in group):
                found.append((settings, [p for p in group if p.line_settings == settings]))
        return found

    def _hear(self, settings: LineSettings) -> Heard:
        transport = open_transport(self.url, settings)
        try:
            self.tell(f"listening{self._at(settings)} for {self.seconds:g} s")
            chunks = discovery.listen(transport, self.seconds, stop=self.stop, heard=self.heard)
        finally:
            transport.close()
        return self._judged(
            settings, chunks, [discovery.try_profile(p, chunks) for p in self.profiles]
        )

    def _ask(self, settings: LineSettings, profiles: Sequence[Profile]) -> Heard:
        names = ", ".join(profile.id for profile in profiles)
        self.tell(f"asking{self._at(settings)} in the words of {names}")
        chunks: list[bytes] = []
        unread: list[bytes] = []
        matches: list[discovery.Match] = []
        transport = open_transport(self.url, settings)
        try:
            for profile in profiles:
                try:
                    answers = list(discovery.ask(transport, [profile], stop=self.stop))
                except ConnectionError:
                    # A program at an address that makes no sense of a request may hang up.
                    transport.close()
                    transport = open_transport(self.url, settings)
                    continue
                for match, pieces in answers:
                    matches.append(match)
                    if match.fits:
                        chunks += pieces
                    elif sum(map(len, unread)) < discovery.MOST_BYTES:
                        unread += pieces
                    for piece in pieces:
                        self.heard(piece)
        finally:
            transport.close()
        # Where a profile reads its answers, those to the words of others are of no use.
        heard = self._judged(settings, chunks or unread, matches)
        return replace(heard, answered=True)

    def _at(self, settings: LineSettings) -> str:
        """Return the line settings in words; an address has none."""
        return f" at {line_words(settings)}" if has_line_settings(self.url) else ""

    @staticmethod
    def _judged(
        settings: LineSettings, chunks: Sequence[bytes], matches: Sequence[discovery.Match]
    ) -> Heard:
        return Heard(settings, chunks, discovery.offers(matches), discovery.out_of_range(matches))


def usable(extra: Sequence[Path] = ()) -> tuple[list[Profile], list[StationError]]:
    """Return the profiles that can be used, and why the others cannot."""
    found, left_out = [], []
    for name in profile_ids(extra):
        try:
            profile = load_profile(name, extra)
            profile.make_driver()
            every = [profile, *(profile.of_value(kind) for kind in sorted(profile.further))]
        except StationError as error:
            left_out.append(error)
        else:
            found += every
    return found, left_out


def has_line_settings(url: str) -> bool:
    """Return True when there is a serial line whose settings matter."""
    plain = "://" not in url and not url.startswith(REPLAY)
    return plain or url.startswith("rfc2217://")


def stable_url(url: str) -> str:
    """Return what stays the same of a port: its identity, a path that stays, or what was given."""
    port = find(url)
    return port.stable_url if port else url


def same_line(one: str, other: str) -> bool:
    """Return True when two names mean the same port now."""
    return one == other or _name(one) == _name(other)


def _name(url: str) -> str:
    try:
        return str(Path(resolve(url)).resolve()) if "://" not in url else url
    except StationError:
        return url


def line_words(settings: LineSettings) -> str:
    """Return line settings as people write them: ``9600 8N1``."""
    return f"{settings.baudrate} {settings.bytesize}{settings.parity}{settings.stopbits:g}"


def line_from(text: str) -> LineSettings | None:
    """Read line settings written like ``9600 8N1``; ``None`` when they are none."""
    found = _LINE.fullmatch(text.strip())
    if found is None:
        return None
    return LineSettings(int(found[1]), int(found[2]), found[3].upper(), int(found[4]))


def byte_lines(data: bytes) -> list[str]:
    """Return bytes in hexadecimal and as text, in lines of sixteen."""
    pieces = (data[at : at + SHOWN_BYTES] for at in range(0, len(data), SHOWN_BYTES))
    return [f"{piece.hex(' '):<{3 * SHOWN_BYTES}} {printable(piece)}" for piece in pieces]


def last_lines(data: bytes) -> list[str]:
    """Return the last bytes so."""
    return byte_lines(data[-SHOWN_LINES * SHOWN_BYTES :])


def printable(data: bytes) -> str:
    """Return bytes as text of one character each; what cannot be printed is a point."""
    return "".join(chr(byte) if 32 <= byte < 127 else "." for byte in data)


def reading_words(reading: Reading) -> str:
    """Return a reading's value in the unit that its kind is usually shown in."""
    return value_words(reading.channel, reading.value)


def match_words(match: discovery.Match) -> str:
    """Return what a profile makes of what came."""
    reads = f"reads {reading_words(match.last)}" if match.last else "reports an error or overload"
    return f"{match.share:4.0%} of the bytes, {match.readings} readings, {reads}"


def beyond_words(match: discovery.Match) -> str:
    """Return why a profile is no offer though its frames are those that came."""
    profile = match.profile
    if match.farthest is None:
        return "fits the bytes, and reads only that there is an overload or an error"
    low, high = (
        value_words(profile.kind, end) if end is not None else "any"
        for end in (profile.channel.low, profile.channel.high)
    )
    shown = match.farthest.value
    near = is_near_range(profile, shown)
    reads = f"reads {value_words(profile.kind, shown)}" if near else "reads values"
    return f"fits the bytes, but {reads} outside its range of {low} to {high}"


def nothing_words(heard: Heard | None, *, asked: bool) -> str:
    """Return the sentence for bytes that no profile reads, or for silence."""
    if heard is not None and heard.beyond:
        first = heard.beyond[0]
        return f"The profile {first.profile.id} {beyond_words(first)}."
    if heard is not None and heard.count:
        return f"{heard.count} bytes came, and no profile reads them."
    return "Nothing came." if not asked else "Nothing came, and nothing answered."


# --- a profile at other line settings ------------------------------------------------------------


def at_line(profile: Profile, settings: LineSettings) -> Profile:
    """Return the profile for a device that is set to another line, under another id."""
    if settings == profile.line_settings:
        return profile
    if profile.whole is not profile:
        return at_line(profile.whole, settings).of_value(profile.kind)
    line = profile.line.model_copy(
        update={
            "baudrate": settings.baudrate,
            "bytesize": settings.bytesize,
            "parity": settings.parity,
            "stopbits": int(settings.stopbits),
        }
    )
    tail = line_words(settings).replace(" ", "-").lower()
    title = f"{profile.title}, {line_words(settings)}"
    changed = {"id": f"{profile.id}-{tail}", "title": title, "line": line}
    return profile.model_copy(update=changed)


def keep_at_line(profile: Profile, made: Profile, folder: Path, extra: Sequence[Path]) -> None:
    """Write ``made``, which :func:`at_line` gave, as a profile of the user's own."""
    profile, made = profile.whole, made.whole
    if made == profile:
        return
    text = profile_text(profile.id, extra)
    text = re.sub(r"(?m)^\[line\]\n(?:(?!\[).*\n?)*", "", text)
    text = re.sub(r"(?m)^id *= *.*$", f'id = "{made.id}"', text, count=1)
    text = re.sub(r"(?m)^title *= *.*$", lambda _: f"title = {quoted(made.title)}", text, count=1)
    text = f"{text.rstrip()}\n\n{line_table(made.line_settings)}\n"
    path = folder / f"{made.id}.toml"
    write_own(path, text)
    try:
        as_made = load_profile(made.id, [*extra, folder]) == made
    except StationError:
        as_made = False
    if not as_made:
        path.unlink()
        raise StationError(
            "it cannot be copied for another line by itself; nothing was kept.",
            where=f"profile {profile.id}",
            advice=f"Copy it by hand to {path} with {line_words(made.line_settings)}.",
        )


def write_own(path: Path, text: str) -> None:
    """Write a file of the user's own whole, or raise and leave none that is half written."""
    try:
        path.parent.mkdir(parents=True, exist_ok=True)
        part = part_of(path)
        part.write_text(text, "utf-8")
        put_in_place(part, path)
    except OSError as error:
        raise StationError(
            f"it cannot be written ({error.strerror}).",
            where=str(path),
            advice="Check that the disk is not full and that you may write there.",
        ) from error


def line_table(settings: LineSettings) -> str:
    """Return the TOML table of line settings."""
    return (
        f"[line]\nbaudrate = {settings.baudrate}\nbytesize = {settings.bytesize}\n"
        f"parity = {quoted(settings.parity)}\nstopbits = {settings.stopbits:g}"
    )


def quoted(text: str) -> str:
    """Return a TOML basic string; what a device or a person says is data and no markup."""
    kept = "".join(c if c.isprintable() else "?" for c in text)
    return '"' + kept.replace("\\", "\\\\").replace('"', '\\"') + '"'
