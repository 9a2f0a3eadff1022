"""Photographs of a step: what is taken for one, and signing them."""

import hashlib
from dataclasses import dataclass

from benchstation.domain.events import Event, PhotoSetAside, PhotoTaken
from benchstation.domain.inputs.photos import Photos
from benchstation.domain.photo_size import LARGEST_BYTES, pixel_size, why_not_drawn
from benchstation.domain.rebuild import Rebuild
from benchstation.domain.refusals import NotAllowedError
from benchstation.domain.specification import Step
from benchstation.domain.unit_commands import require_step
from benchstation.quantities.notation import fixed

LONGEST_CAPTION = 200
JPEG, PNG = "image/jpeg", "image/png"
# First bytes, and what the last part of the file must hold: a file cut off has no end.
_SIGNATURES = (
    (JPEG, b"\xff\xd8\xff", b"\xff\xd9"),  # ITU-T T.81, B.1.1.3: SOI and EOI
    (PNG, b"\x89PNG\r\n\x1a\n", b"IEND"),  # ISO/IEC 15948, 5.2 and 11.2.5
)


@dataclass(frozen=True, slots=True)
class Photo:
    """An image file's bytes."""

    data: bytes
    media_type: str

    @property
    def sha256(self) -> str:
        """Return the name under which it is kept."""
        return hashlib.sha256(self.data).hexdigest()


def photo_of(data: bytes, where: str) -> Photo:
    """Take bytes for a photograph by their signature; raises in words for anything else."""
    require_size(len(data), where)
    for media_type, begin, end in _SIGNATURES:
        if data.startswith(begin):
            if end not in data[len(begin) :]:
                raise NotAllowedError(
                    "the picture is cut off.", where=where, advice="Wait until it is copied whole."
                )
            _require_pixels(data, where)
            return Photo(data, media_type)
    raise NotAllowedError(
        "this is no JPEG or PNG picture.",
        where=where,
        advice="Choose a picture in one of these two forms; nothing was kept.",
    )


def _require_pixels(data: bytes, where: str) -> None:
    """Raise for a picture that would fill the memory once it is decoded, from its header."""
    why = why_not_drawn(*(pixel_size(data) or (0, 0)))
    if why:
        raise NotAllowedError(
            f"{why}.",
            where=where,
            advice="Choose a smaller picture size on the camera; nothing was kept.",
        )


def require_size(size_bytes: int, where: str) -> None:
    """Raise when a picture is larger than is taken."""
    if size_bytes > LARGEST_BYTES:
        raise NotAllowedError(
            f"the picture has {fixed(size_bytes / 1e6, 1)} MB; at most "
            f"{fixed(LARGEST_BYTES / 1e6, 0)} MB are allowed.",
            where=where,
            advice="Choose a smaller picture size on the camera; nothing was kept.",
        )


def require_photos(rebuild: Rebuild) -> tuple[Step, Photos]:
    """Return the current step with the photographs that it asks for; raise where it has none."""
    step = require_step(rebuild)
    asked = next((a.input for a in step.asked if isinstance(a.input, Photos)), None)
    if asked is None:
        raise NotAllowedError(
            f"the route stands at '{step.title}'.",
            where=rebuild.opened.serial,
            advice="This step asks for no photographs.",
        )
    return step, asked


def take_photo(rebuild: Rebuild, photo: Photo, caption: str) -> list[Event]:
    """Put a photograph on record at the current step."""
    step, asked = require_photos(rebuild)
    taken = rebuild.photos_of(step.id)
    if any(p.photo_sha256 == photo.sha256 for p in taken):
        raise NotAllowedError(
            "this very picture is on record here.", where=step.title, advice="Choose another."
        )
    if len(taken) >= asked.most:
        raise NotAllowedError(
            f"there are {asked.most} photographs already.",
            where=step.title,
            advice="Set one aside first.",
        )
    words = " ".join(caption.split())
    if len(words) > LONGEST_CAPTION or not words.isprintable():
        raise NotAllowedError(
            f"the caption is longer than {LONGEST_CAPTION} characters or cannot be printed.",
            where=step.title,
            advice="Shorten it; what you typed is kept.",
        )
    size = len(photo.data)
    return [PhotoTaken(rebuild.unit_id, step.id, photo.sha256, size, photo.media_type, words)]


def set_aside(rebuild: Rebuild) -> list[Event]:
    """Leave the last photograph out of the step; it stays in the journal."""
    step, _ = require_photos(rebuild)
    taken = rebuild.photos_of(step.id)
    if not taken:
        raise NotAllowedError("there is no photograph yet.", where=step.title)
    return [PhotoSetAside(rebuild.unit_id, step.id, taken[-1].photo_sha256)]


def size_in_words(size_bytes: int) -> str:
    """Return a file's size."""
    return (
        f"{fixed(size_bytes / 1e6, 1)} MB"
        if size_bytes >= 1e5
        else f"{fixed(size_bytes / 1e3, 0)} kB"
    )
