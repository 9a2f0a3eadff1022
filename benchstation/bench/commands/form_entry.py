"""Adding to a step before it is signed: photographs, lots of the last unit, what is typed."""

from collections.abc import Mapping
from dataclasses import dataclass
from pathlib import Path

from benchstation.bench.commands.parsing import named
from benchstation.bench.gas_ticks import note_ticks
from benchstation.bench.messages import Message
from benchstation.bench.session import WORKERS, BenchSession, Command
from benchstation.domain import photos
from benchstation.domain.form_fields import AT
from benchstation.domain.inputs.part import PartLine
from benchstation.domain.materials import Sort, Standing
from benchstation.domain.photo_size import LARGEST_BYTES
from benchstation.domain.photos import Photo, photo_of, require_size, size_in_words
from benchstation.domain.unit_commands import NotAllowedError, require_step

PICTURES = (".jpg", ".jpeg", ".png")


@dataclass(frozen=True, slots=True)
class KeepTyped(Command):
    """Keep what stands in the step's form, so that the view can compare and draw it.

    What comes late, from the form of another step, is not this one's: its fields have the same ids.
    """

    signed_in = False
    form: Mapping[str, str]

    def __call__(self, session: BenchSession) -> Message:
        step = session.rebuild.current if session.rebuild is not None else None
        if (
            step is not None
            and not session.unit().proof_due
            and self.form.get(AT, step.id) == step.id
        ):
            note_ticks(session, self.form)
            session.work.keep_typed(self.form)
        return Message()


@dataclass(frozen=True, slots=True)
class FillLastLots(Command):
    """Fill in the lots of the last filed unit of this family."""

    roles = WORKERS
    form: Mapping[str, str]

    def __call__(self, session: BenchSession) -> Message:
        step = require_step(session.unit())
        known = session.work.history
        if not known.lots:
            raise NotAllowedError(
                "no unit of this family with lots is filed yet.",
                where=step.title,
                advice="Scan or type them this once.",
            )
        parts = [(a.name, a.input) for a in step.asked if isinstance(a.input, PartLine)]
        last = {
            name: (part.number, known.lots[part.number])
            for name, part in parts
            if part.lot and part.number in known.lots and not self.form.get(name, "").strip()
        }
        stock, today = session.shop.stock, session.today
        gone = [
            lot
            for number, lot in last.values()
            if stock.standing(stock.find(Sort.PART, number, lot), today) is not Standing.OPEN
        ]
        filled = {name: lot for name, (_, lot) in last.items() if lot not in gone}
        session.work.keep_typed({**self.form, **filled})
        left = f" Choose again: {', '.join(gone)} may not be used." if gone else ""
        return Message(
            f"Lots as in {known.lots_from}: compare them with the bags before you sign.{left}"
        )


@dataclass(frozen=True, slots=True)
class AddPhoto(Command):
    """Put the chosen picture file on record at this step."""

    roles = WORKERS
    form: Mapping[str, str]
    path: str = named("photo")
    caption: str = ""

    def __call__(self, session: BenchSession) -> Message:
        step, _ = photos.require_photos(session.unit())
        if not self.path:
            raise NotAllowedError(
                "no picture is chosen.", where=step.title, advice="Choose a file first."
            )
        return _add(session, Path(self.path), self.caption, self.form)


@dataclass(frozen=True, slots=True)
class AddNewestPhoto(Command):
    """Put the newest picture of the watched folder on record at this step."""

    roles = WORKERS
    form: Mapping[str, str]
    caption: str = ""

    def __call__(self, session: BenchSession) -> Message:
        step, _ = photos.require_photos(session.unit())
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
        return _add(session, max(found)[1], self.caption, self.form)


@dataclass(frozen=True, slots=True)
class SetPhotoAside(Command):
    """Leave the last photograph out of this step."""

    roles = WORKERS
    form: Mapping[str, str]

    def __call__(self, session: BenchSession) -> Message:
        session.journal(photos.set_aside(session.unit()))
        session.work.keep_typed(self.form)
        return Message("The last photograph is set aside; it stays in the journal.")


def _add(session: BenchSession, path: Path, caption: str, form: Mapping[str, str]) -> Message:
    photo = _read(path)
    events = photos.take_photo(session.unit(), photo, caption)
    session.journal(events, photos={photo.sha256: photo.data})
    session.work.pictures[photo.sha256] = photo.data
    # The next picture gets a caption of its own; what else the step asks for stays as typed.
    rest = {k: v for k, v in form.items() if k not in ("photo", "caption")}
    session.work.keep_typed(rest)
    return Message(f"{path.name} is on record, {size_in_words(len(photo.data))}.")


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
