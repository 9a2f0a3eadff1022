"""A device profile of one's own, held against a conversation that its author wrote down."""

from collections.abc import Iterator
from pathlib import Path

from benchstation.config.settings import own_profiles
from benchstation.devices.adding import line_words
from benchstation.devices.profile import Profile, parse_profile
from benchstation.driver_api.errors import StationError
from benchstation.driver_api.outside_text import text_in
from benchstation.driver_api.testing.transcript import (
    FromDevice,
    Transcript,
    TranscriptError,
    parse_transcript,
    replay,
)

LARGEST_TRANSCRIPT_BYTES = 1_000_000


class ProfileTrialError(StationError):
    """A profile does not read a transcript as it says."""


def try_profile(file: Path, transcript: Path | None = None) -> Iterator[str]:
    """Return in lines what a profile is and what it reads of a transcript.

    Raises :class:`StationError` in words for a profile that cannot be used, and
    :class:`ProfileTrialError` for the first line of the transcript that comes out otherwise.
    """
    profile = parse_profile(file, file.stem)
    yield from _described(profile)
    if transcript is None:
        yield "No transcript was given: nothing was read with it yet."
        return
    conversation = _read(transcript)
    try:
        items = replay(conversation, profile.make_driver())
    except AssertionError as error:
        raise ProfileTrialError(
            "the profile reads it otherwise.",
            where=str(transcript),
            advice=f"{error}. Correct the profile, or the transcript if it is wrong.",
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
    yield f"{len(conversation.steps)} steps, {len(chunks)} of them from the device: as written."
    yield f"Put it into {own_profiles()} to use it at this bench."


def _described(profile: Profile) -> Iterator[str]:
    driver = profile.make_driver()
    yield f"{profile.id}: {profile.title}, for {profile.kind}"
    rate = profile.rate.expected_hz
    yield f"line {line_words(profile.line_settings)}, {rate:g} readings a second"
    asked = driver.poll()
    yield "sends by itself" if asked is None else f"is asked by {asked!r}"
    known = ", ".join(f"{name} {driver.command(name)!r}" for name in sorted(driver.capabilities))
    yield f"commands: {known or 'none'}"


def _read(path: Path) -> Transcript:
    try:
        return parse_transcript(text_in(path, LARGEST_TRANSCRIPT_BYTES), path.stem)
    except TranscriptError as error:
        raise ProfileTrialError(
            f"it is no transcript: {error}.", where=str(path), advice="See the help, 'Devices'."
        ) from error
    except ValueError as error:
        where = str(path)[:200]
        raise ProfileTrialError(f"it cannot be used: {error}.", where=where) from error
