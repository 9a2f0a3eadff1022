"""Adding to a step before it is signed: photographs, lots of the last unit, what is typed."""

from collections.abc import Mapping
from pathlib import Path

from benchstation.bench.session import BenchSession
from benchstation.domain import photos
from benchstation.domain.parts import lot_field
from benchstation.domain.photos import LARGEST_BYTES, Photo, photo_of, require_size, size_in_words
from benchstation.domain.specification import StepKind
from benchstation.domain.unit_commands import AT, NotAllowedError, require_step

PICTURES = (".jpg", ".jpeg", ".png")


def typed(session: BenchSession, fields: Mapping[str, str]) -> str:
    """Keep what stands in the step's form, so that the view can compare and draw it.

    What comes late, from the form of another step, is not this one's: its fields have the same ids.
    """
    step = session.rebuild.current if session.rebuild is not None else None
    if step is not None and not session.unit().proof_due and fields.get(AT, step.id) == step.id:
        session.keep_typed(fields)
    return ""


def same_lots(session: BenchSession, fields: Mapping[str, str]) -> str:
    """Fill in the lots of the last filed unit of this family."""
    rebuild = session.unit()
    step = require_step(rebuild, StepKind.PARTS)
    known = session.known
    if not known.lots:
        raise NotAllowedError(
            "no unit of this family with lots is filed yet.",
            where=step.title,
            advice="Scan or type them this once.",
        )
    filled = {
        lot_field(place): known.lots[part.number]
        for place, part in enumerate(step.parts, 1)
        if part.lot and part.number in known.lots and not fields.get(lot_field(place), "").strip()
    }
    session.keep_typed({**fields, **filled})
    return f"Lots as in {known.lots_from}: compare them with the bags before you sign."


def add_photo(session: BenchSession, fields: Mapping[str, str]) -> str:
    """Put the chosen picture file on record at this step."""
    step = require_step(session.unit(), StepKind.PHOTO)
    path = fields.get("photo", "").strip()
    if not path:
        raise NotAllowedError(
            "no picture is chosen.", where=step.title, advice="Choose a file first."
        )
    return _add(session, Path(path), fields.get("caption", ""))


def newest_photo(session: BenchSession, fields: Mapping[str, str]) -> str:
    """Put the newest picture of the watched folder on record at this step."""
    step = require_step(session.unit(), StepKind.PHOTO)
    folder = session.photo_folder
    if folder is None:
        raise NotAllowedError(
            "no folder of a camera is named in the settings.",
            where=step.title,
            advice="Name it as photo_folder, or choose a file.",
        )
    try:
        found = [
            (entry.stat().st_mtime, entry)
            for entry in folder.iterdir()
            if entry.suffix.casefold() in PICTURES and entry.is_file()
        ]
    except OSError as error:
        raise NotAllowedError(
            f"the folder of the camera cannot be read ({error.strerror}).",
            where=str(folder),
            advice="Check that it is there, or choose a file.",
        ) from error
    if not found:
        raise NotAllowedError(
            "there is no JPEG or PNG picture in the folder of the camera.",
            where=str(folder),
            advice="Take the picture, wait until it is copied, and press again.",
        )
    return _add(session, max(found)[1], fields.get("caption", ""))


def set_photo_aside(session: BenchSession, fields: Mapping[str, str]) -> str:
    """Leave the last photograph out of this step."""
    session.journal(photos.set_aside(session.unit()))
    session.keep_typed(fields)
    return "The last photograph is set aside; it stays in the journal."


def _add(session: BenchSession, path: Path, caption: str) -> str:
    photo = _read(path)
    events = photos.take_photo(session.unit(), photo, caption)
    session.journal(events, photos={photo.sha256: photo.data})
    session.pictures[photo.sha256] = photo.data
    session.keep_typed({})
    return f"{path.name} is on record, {size_in_words(len(photo.data))}."


def _read(path: Path) -> Photo:
    try:
        with path.open("rb") as file:
            data = file.read(LARGEST_BYTES + 1)
            size = max(len(data), path.stat().st_size)
    except OSError as error:
        raise NotAllowedError(
            f"the picture cannot be read ({error.strerror}).",
            where=path.name,
            advice="Choose another; nothing was kept.",
        ) from error
    require_size(size, path.name)
    return photo_of(data, path.name)
