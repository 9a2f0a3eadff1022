"""A device profile of one's own, held against a conversation that its author wrote down."""

from collections.abc import Iterator
from dataclasses import replace
from pathlib import Path

from benchstation.config.settings import own_profiles
from benchstation.devices.adding import line_words, printable
from benchstation.devices.frame_fit import item_words
from benchstation.devices.profile import Profile, parse_profile
from benchstation.driver_api.errors import StationError
from benchstation.driver_api.outside_text import text_in
from benchstation.driver_api.reading import Fault, Item, Reading
from benchstation.driver_api.testing.transcript import (
    DiffersError,
    FromDevice,
    Transcript,
    TranscriptError,
    parse_transcript,
    replay,
)

LARGEST_TRANSCRIPT_BYTES = 1_000_000
TOLERANCE = 1e-6
"""How near a value must come to what a person wrote, as a share of it."""


class ProfileTrialError(StationError):
    """A profile does not read a transcript as it says."""


def try_profile(
    file: Path, transcript: Path | None = None, tolerance: float = TOLERANCE
) -> Iterator[str]:
    """Return in lines what a profile is and what it reads of a transcript.

    Values agree within ``tolerance`` of themselves. Raises :class:`StationError` in words for a
    profile that cannot be used, and :class:`ProfileTrialError` for the first line of the transcript
    that comes out otherwise.
    """
    profile = parse_profile(file, file.stem)
    yield from _described(profile)
    if transcript is None:
        yield "No transcript was given: nothing was read with it yet."
        return
    conversation = _read(transcript)
    try:
        items = _replayed(conversation, profile, tolerance)
    except DiffersError as error:
        raise ProfileTrialError(
            "the profile reads it otherwise.",
            where=f"{transcript}, line {error.line}",
            advice=f"{_difference(profile, error)}. Correct the profile, or the transcript if it "
            "is wrong.",
        ) from error
    except StationError as error:
        raise ProfileTrialError(
            f"the profile cannot answer it: {error.what}", where=str(transcript)
        ) from error
    chunks = [step for step in conversation.steps if isinstance(step, FromDevice)]
    if not items:
        raise ProfileTrialError(
            "no reading came out of it.",
            where=str(transcript),
            advice="Write at least one line of the device, and the reading that it means.",
        )
    yield from (f"  {_frame(item.raw)}  {item_words(profile, item)}" for item in items)
    yield f"{len(conversation.steps)} steps, {len(chunks)} of them from the device: as written."
    yield f"Put it into {own_profiles()} to use it at this bench."


def _replayed(conversation: Transcript, profile: Profile, tolerance: float) -> list[Item]:
    """Return what a profile makes of a conversation that may begin amid a frame, or at one's start.

    Where a number has any width the driver waits for a line's end before it believes one: a
    transcript that begins with a whole line has one before it.
    """
    try:
        return replay(conversation, profile.make_driver(), relative=tolerance, forgive_first=True)
    except DiffersError as error:
        first = next((s for s in conversation.steps if isinstance(s, FromDevice)), None)
        if first is None or not first.data or error.given is not None:
            raise
        driver = profile.make_driver()
        if driver.feed(first.data[-1:], 0.0):
            raise
        return replay(conversation, driver, relative=tolerance, forgive_first=True)


def _difference(profile: Profile, error: DiffersError) -> str:
    """Return what was written and what came instead, in the profile's units, and the place."""
    written, came = error.expected, error.given
    if written is None and came is None:
        return str(error).partition(": ")[2]
    parts = []
    if written is not None:
        # Written transcripts hold no bytes: those that came tell which digits there are.
        item = written.item
        if isinstance(item, Reading) and isinstance(came, Reading):
            item = replace(item, resolution=item.resolution or came.resolution, unit=item.unit)
        parts.append(f"written is {item_words(profile, item)}")
    if came is None:
        return "; ".join([*parts, "nothing comes"])
    parts.append(f"it reads {item_words(profile, came)}")
    if isinstance(came, Fault) and came.place is not None:
        before, after = came.raw[: came.place], came.raw[came.place :]
        parts.append(f"differs at {_frame(before, like=came.raw)}>{_frame(after, like=came.raw)}")
    return "; ".join(parts)


def _frame(data: bytes, *, like: bytes = b"") -> str:
    """Return bytes as text where most of a frame ``like`` them can be printed, else as digits."""
    whole = like or data
    legible = 2 * sum(32 <= byte < 127 for byte in whole) >= len(whole)
    return printable(data) if legible else data.hex(" ")


def _described(profile: Profile) -> Iterator[str]:
    driver = profile.make_driver()
    yield f"{profile.id}: {profile.title}, for {profile.kind}"
    rate = profile.rate.expected_hz
    yield f"line {line_words(profile.line_settings)}, {rate:g} readings a second"
    asked = driver.poll()
    yield "sends by itself" if asked is None else f"is requested by {asked!r}"
    known = ", ".join(f"{name} {driver.command(name)!r}" for name in sorted(driver.capabilities))
    yield f"commands: {known or 'none'}"


def _read(path: Path) -> Transcript:
    try:
        return parse_transcript(text_in(path, LARGEST_TRANSCRIPT_BYTES), path.stem)
    except TranscriptError as error:
        raise ProfileTrialError(
            f"it is no transcript: {error}.", where=str(path), advice="See the help, 'Drivers'."
        ) from error
    except ValueError as error:
        where = str(path)[:200]
        raise ProfileTrialError(f"it cannot be used: {error}.", where=where) from error
