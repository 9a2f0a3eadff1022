"""The photographs of a step: those on record, how many are asked for, and how one is added."""

from benchstation.bench.session import BenchSession
from benchstation.domain.inputs.photos import Photos
from benchstation.domain.photo_size import LARGEST_BYTES
from benchstation.domain.photos import size_in_words
from benchstation.domain.rebuild import Rebuild
from benchstation.domain.specification import Step
from benchstation.driver_api.errors import StationError
from benchstation.quantities.notation import fixed
from benchstation.screens.bench.forms import text_field
from benchstation.screens.model.elements import ActionView, FieldKind, FieldView, PhotoView, Tone


def counted(rebuild: Rebuild, step: Step, asked: Photos) -> tuple[tuple[str, Tone], ...]:
    """Return how many there are and how many are asked for."""
    count = len(rebuild.photos_of(step.id))
    tone = Tone.NORMAL if count >= asked.least else Tone.MANDATORY
    return ((f"{count} on record, at least {asked.least} specified", tone),)


def photo_fields(
    session: BenchSession, rebuild: Rebuild, step: Step, asked: Photos
) -> tuple[FieldView, ...]:
    """Return the field of the next caption, and that of the picture with those on record."""
    views = tuple(
        PhotoView(
            p.photo_sha256,
            f"{p.caption or 'no caption'}, {size_in_words(p.size_bytes)}",
            _picture(session, p.photo_sha256),
        )
        for p in rebuild.photos_of(step.id)
    )
    hint = asked.hint or f"JPEG or PNG, up to {fixed(LARGEST_BYTES / 1e6, 0)} MB"
    photo = FieldView(
        "photo",
        asked.label,
        FieldKind.PHOTO,
        session.work.typed.get("photo", ""),
        hint,
        photos=views,
    )
    caption = text_field(session, "caption", "Caption of the next one (may stay empty)")
    return caption, photo


def _picture(session: BenchSession, sha256: str) -> bytes:
    """Return a picture's bytes; none where it is missing or damaged, which is drawn as such."""
    if sha256 not in session.work.pictures:
        try:
            session.work.pictures[sha256] = session.store.get_photo(sha256)
        except StationError:
            session.work.pictures[sha256] = b""
    return session.work.pictures[sha256]


def photo_actions(
    session: BenchSession, rebuild: Rebuild, step: Step, asked: Photos
) -> tuple[ActionView, ...]:
    """Return the actions that add a picture or set one aside."""
    taken = len(rebuild.photos_of(step.id))
    full = "" if taken < asked.most else f"there are {taken} already"
    folder = full or (
        "" if session.photo_folder else "no folder of a camera is named in the settings"
    )
    return (
        ActionView("add_photo", "Add the chosen file", "Ctrl+P", not full, full),
        ActionView("newest_photo", "Newest from the camera", "Ctrl+N", not folder, folder),
        ActionView(
            "set_photo_aside",
            "Leave out the last",
            "Ctrl+S",
            bool(taken),
            "" if taken else "there is none yet",
        ),
    )
