"""Copies of the records in another place: made while the bench runs, checked, kept by a rule.

A copy is made with SQLite's own online backup, never by copying the file. The newest ten are kept,
the last of each of thirty days, and the last of each month. The settings and profiles of the moment
lie beside each copy; the bench's private key does not.
"""

import io
import shutil
import sqlite3
import zipfile
from collections.abc import Mapping
from dataclasses import dataclass, replace
from datetime import UTC, datetime, timedelta
from pathlib import Path

from benchstation.atomic_file import part_of, private_folder, put_in_place, write_private
from benchstation.store import copies, migrations, signed_heads
from benchstation.store.connections import WriterLock
from benchstation.store.copies import Copy
from benchstation.store.engine import Store, open_store
from benchstation.store.errors import NotOnRecordError, StoreCorruptError, StoreError
from benchstation.store.known_heads import KnownHeads, lack_of
from benchstation.store.proven import Proven
from benchstation.store.verification import Outside, Verification
from benchstation.store.verify_since import proven_by, verify_since

NEWEST_KEPT = 10
DAYS_KEPT = 30
_STAMP = "%Y%m%dT%H%M%S"


@dataclass(frozen=True, slots=True)
class Restored:
    """What was put in place, what it holds, and where the file went that stood there."""

    copy: Copy
    entries: int
    set_aside: Path | None
    damaged: bool
    """What stood there cannot be read as records."""


def copies_in(folder: Path) -> list[Copy]:
    """Return the copies in a folder by their names, the newest first."""
    try:
        return copies.copies_in(folder)
    except OSError as error:
        raise _folder_error(folder, error) from error


def make_copy(
    path: Path, folder: Path, now: datetime, beside: Mapping[str, Path] | None = None
) -> Copy:
    """Write a checked copy of the records at ``path`` and remove copies that the rule lets go.

    ``beside``: files to keep with it, by their names. From any thread and any program, also while
    the bench runs.
    """
    made = copies.copy_at(folder, now)
    try:
        private_folder(folder)
        # First, so that no copy is there without them.
        if beside:
            _pack(beside, made.beside)
        migrations.back_up(path, made.path)
        made.path.chmod(0o600)
        for old in outlived(copies_in(folder), now):
            old.path.unlink()
            old.beside.unlink(missing_ok=True)
    except OSError as error:
        raise _folder_error(folder, error) from error
    return made


def _pack(files: Mapping[str, Path], target: Path) -> None:
    packed = io.BytesIO()
    with zipfile.ZipFile(packed, "w", zipfile.ZIP_DEFLATED) as archive:
        for name, file in files.items():
            archive.writestr(name, file.read_bytes())
    write_private(target, packed.getvalue())


def unpack_missing(copy: Copy, home: Path) -> list[str]:
    """Put settings and profiles of a copy where there are none; return the names of these."""
    if not copy.beside.is_file():
        return []
    written = []
    try:
        with zipfile.ZipFile(copy.beside) as archive:
            for name in archive.namelist():
                place = home / name
                if home.resolve() not in place.resolve().parents or place.exists():
                    continue
                private_folder(place.parent)
                write_private(place, archive.read(name))
                written.append(name)
    except (OSError, zipfile.BadZipFile) as error:
        raise StoreError(
            "the settings beside this copy cannot be put back.",
            where=str(copy.beside),
            advice="The records are in their place. Set the bench up from its set-up file.",
            detail=repr(error),
        ) from error
    return written


def outlived(copies: list[Copy], now: datetime) -> list[Copy]:
    """Return the copies, of a list with the newest first, that the rule lets go."""
    days: set[object] = set()
    months: set[object] = set()
    gone = []
    for number, copy in enumerate(copies):
        day, month = copy.utc.date(), (copy.utc.year, copy.utc.month)
        of_day = day not in days and now.date() - day < timedelta(days=DAYS_KEPT)
        if number >= NEWEST_KEPT and not of_day and month in months:
            gone.append(copy)
        days.add(day)
        months.add(month)
    return gone


def drill(copy: Copy, store: Store, since: Proven | None = None) -> Verification:
    """Open a copy, fold it, and prove that the records begin with what it holds.

    It is folded whole, or from where a copy of these records was proven before (``since``).
    """
    with open_store(copy.path, store.bench, read_only=True) as opened:
        if since is None:
            found = opened.verify()
        with opened.reading() as connection:
            if since is not None:
                found = verify_since(connection, opened.bench, Outside(), since)
            head = signed_heads.newest(connection, opened.bench)
    if not found.ok:
        return found
    if copy.beside.is_file() and not _whole(copy.beside):
        return replace(found, ok=False, problem="the settings beside the copy are damaged.")
    if head is None:
        return found
    with store.reading() as connection:
        lack = lack_of(connection, store.bench, head)
    if lack is None:
        return found
    return replace(found, ok=False, problem=f"copy and records differ: {lack.words}")


def proven_in(copy: Copy, store: Store, found: Verification) -> Proven | None:
    """Return up to where a copy was proven, for the drill of the next; ``None``: no head there."""
    with open_store(copy.path, store.bench, read_only=True) as opened, opened.reading() as rows:
        return proven_by(rows, store.bench, found, copy.utc)


def _whole(archive: Path) -> bool:
    try:
        with zipfile.ZipFile(archive) as opened:
            return opened.testzip() is None
    except (OSError, zipfile.BadZipFile):
        return False


def restore(source: Path, target: Path, known: KnownHeads, now: datetime) -> Restored:
    """Put the newest copy of a folder, or one copy, in the records' place once it is proven sound.

    What stood there is set aside, damaged or not, never removed.
    """
    copy = Copy(source, now) if source.is_file() else _newest(source)
    try:
        with open_store(copy.path, "", read_only=True) as opened:
            found, bench = opened.verify(known=known), opened.bench
    except StoreCorruptError as error:
        raise _unsound(copy, error.what) from error
    if not found.ok:
        raise _unsound(copy, found.problem)
    damaged = _is_damaged(target, bench)
    lock = WriterLock(target)
    try:
        private_folder(target.parent)
        lock.take()
        # Before anything is renamed: a full disk leaves all as it was.
        part = part_of(target)
        shutil.copyfile(copy.path, part)
        part.chmod(0o600)
        aside = _set_aside(target, now)
        put_in_place(part, target)
    except OSError as error:
        part_of(target).unlink(missing_ok=True)
        raise _folder_error(target.parent, error) from error
    finally:
        lock.release()
    return Restored(copy, found.entries, aside, damaged)


def _is_damaged(target: Path, bench: str) -> bool:
    """Return whether what stands there cannot be read; raises for records of another bench."""
    try:
        if target.is_file() and migrations.version_of(target):
            migrations.own_bench_of(target, bench)
    except (StoreCorruptError, sqlite3.Error):
        return True
    return False


def _unsound(copy: Copy, problem: str) -> StoreCorruptError:
    return StoreCorruptError(
        f"this copy is not sound: {problem}",
        where=str(copy.path),
        advice="Nothing was changed. Restore an older copy by its file name.",
    )


def _set_aside(target: Path, now: datetime) -> Path | None:
    """Rename the file that stands there, with its log; ``None`` where there is none."""
    ends = ("-wal", "-shm", "")
    aside = target.with_name(f"{target.name}.set-aside-{now.astimezone(UTC):{_STAMP}}Z")
    while any(aside.with_name(aside.name + end).exists() for end in ends):
        # A second one of the same moment would be put over the first.
        now += timedelta(seconds=1)
        aside = target.with_name(f"{target.name}.set-aside-{now.astimezone(UTC):{_STAMP}}Z")
    found = None
    for end in ends:
        file = target.with_name(target.name + end)
        if file.exists():
            found = aside
            file.rename(aside.with_name(aside.name + end))
    return found


def _newest(folder: Path) -> Copy:
    found = copies_in(folder)
    if not found:
        raise NotOnRecordError(
            "there is no copy of the records in this folder.",
            where=str(folder),
            advice="Nothing was changed. Name the folder of the copies, or one copy.",
        )
    return found[0]


def _folder_error(folder: Path, error: OSError) -> StoreError:
    return StoreError(
        f"the folder cannot be used ({error.strerror}).",
        where=str(folder),
        advice="The records are as they were. See that it is there, may be written and has room.",
        detail=repr(error),
    )
