"""Moving a bench to another computer: once closed for writing here, it is taken over there.

The old computer puts the move on record and closes its file in one transaction; then the folder is
written, whole or not at all, and the private key goes from here into it, sealed by a passphrase. A
step that was killed is run again and continues. The new computer proves the copy, says in the
folder that it takes it, and puts the records in their place last.
"""

import json
import secrets
import shutil
import sqlite3
from collections.abc import Mapping
from contextlib import closing
from dataclasses import dataclass
from datetime import UTC, datetime
from pathlib import Path
from typing import Any

from benchstation.atomic_file import part_of, private_folder, put_in_place, write_private
from benchstation.domain.events import BenchMoved
from benchstation.store import migrations, signed_heads
from benchstation.store.bench_key import KEY_FILE, BenchKey, sealed, unsealed
from benchstation.store.connections import WriterLock
from benchstation.store.engine import Store, open_store
from benchstation.store.errors import MovedError, StoreCorruptError, StoreError
from benchstation.store.known_heads import KnownHeads
from benchstation.store.migrations import MOVED, moved_to
from benchstation.store.signed_heads import SignedHead, head_from
from benchstation.store.trust import Trust, first_hash

FORM = 1
NOTE, TAKEN, RECORDS, SEALED = "move.json", "taken.json", "rebuilds.sqlite", "bench_key.sealed.pem"
BESIDE = "settings"
"""The folder of what lay beside the settings."""
COMPUTER = "computer.txt"
LEAST_PASSPHRASE = 10
README = """\
A bench of the bench station on its way to another computer.

On that computer, with the program installed:  benchstation move --take THIS-FOLDER
It wants the passphrase that was given on the old computer. Where that is lost, leave it empty: a
lead then signs for a new key (benchstation new-key). The password of the shop's database is not
here: join the shop again.
"""


@dataclass(frozen=True, slots=True)
class Taken:
    """What was taken over."""

    entries: int
    head: SignedHead
    set_aside: tuple[Path, ...]


def move_out(
    path: Path, folder: Path, trust: Trust, person: str, reason: str, passphrase: str,
    beside: Mapping[str, bytes], now: datetime,
) -> SignedHead:  # fmt: skip
    """Close the records at ``path`` and write all of the bench into ``folder``.

    Run again after it was killed, it continues. Raises :class:`StoreError`.
    """
    _require_new(folder)
    _close(path, folder, trust, person, reason, now)
    part = part_of(folder)
    try:
        if part.is_dir():
            shutil.rmtree(part)
        private_folder(part)
        migrations.back_up(path, part / RECORDS)
        (part / RECORDS).chmod(0o600)
        head, first = _proven(part / RECORDS)
        for name, content in beside.items():
            private_folder((part / BESIDE / name).parent)
            write_private(part / BESIDE / name, content)
        write_private(part / SEALED, sealed(trust.key, passphrase))
        note = {"form": FORM, "head": head.as_data(), "first": first, "reason": reason}
        write_private(part / NOTE, json.dumps(note, indent=1).encode())
        write_private(part / "README.txt", README.encode())
        if folder.is_dir():
            folder.rmdir()
        part.rename(folder)
    except OSError as error:
        raise _folder_error(folder, error) from error
    return head


def is_written(path: Path, folder: Path) -> SignedHead | None:
    """Return the head of a move of these records that is whole in its folder already."""
    if not moved_to(path) or not (folder / NOTE).is_file():
        return None
    head = head_from(_note(folder)["head"])
    with open_store(path, "", read_only=True) as store:
        own, _ = _head_of(store)
    return head if own == head else None


def forget_key(home: Path) -> None:
    """Remove the private key here: it is in the folder of the move. Raises :class:`StoreError`."""
    try:
        (home / KEY_FILE).unlink(missing_ok=True)
    except OSError as error:
        raise _folder_error(home, error) from error


def take_over(
    folder: Path,
    target: Path,
    home: Path,
    passphrase: str,
    instead: Mapping[str, bytes],
    now: datetime,
) -> Taken:
    """Put a bench that was moved in place on this computer. Raises :class:`StoreError`.

    Without a passphrase its key stays where it is. ``instead``: files as they must be here. Run
    again after it was killed, it continues.
    """
    note = _note(folder)
    head = head_from(note["head"])
    key = unsealed(folder / SEALED, passphrase) if passphrase else None
    found, first = _proven(folder / RECORDS)
    fits = key is None or key.public == head.public_key
    if (found, first) != (head, note["first"]) or not fits:
        raise StoreCorruptError(
            "the records in this folder are not those that were moved.",
            where=str(folder),
            advice="Nothing was changed. Copy the folder from its source again.",
        )
    lock = WriterLock(target)
    try:
        private_folder(target.parent)
        lock.take()
        _require_free(target, head)
        _claim(folder, home, now)
        aside = _place_beside(folder, home, key, instead, now)
        KnownHeads(home).keep(target, first, head)
        part = part_of(target)
        shutil.copyfile(folder / RECORDS, part)
        part.chmod(0o600)
        _set_moved(part, "")
        for end in ("-wal", "-shm"):
            target.with_name(target.name + end).unlink(missing_ok=True)
        put_in_place(part, target)
    except OSError as error:
        raise _folder_error(target.parent, error) from error
    finally:
        lock.release()
    return Taken(head.size, head, aside)


def _require_new(folder: Path) -> None:
    if folder.exists() and (not folder.is_dir() or any(folder.iterdir())):
        raise StoreError(
            "this folder is there already, and not empty.",
            where=str(folder),
            advice="Nothing was changed. Name a new folder; where the move is in it already, run "
            "'benchstation move --take' on the new computer.",
        )


def _close(path: Path, folder: Path, trust: Trust, person: str, reason: str, now: datetime) -> None:
    """Put the move on record, sign it, and let the file be opened for writing no more."""
    if moved_to(path):
        return
    with open_store(path, "", trust=trust) as store:
        last = store.entries(kind=BenchMoved.kind)[-1:]
        if not last or last[0].seq != store.head()[0]:
            store.append([BenchMoved(reason)], person=person, utc=now)
    lock = WriterLock(path)
    lock.take()
    try:
        _set_moved(path, f"{now.astimezone(UTC):%Y-%m-%dT%H:%M:%SZ} {folder}")
    finally:
        lock.release()


def _proven(path: Path) -> tuple[SignedHead, str]:
    """Return the head over all entries of a copy that is whole, and its first hash."""
    with open_store(path, "", read_only=True) as store:
        found = store.verify()
        head, first = _head_of(store)
    if not found.ok or head is None or head.size != found.entries:
        raise StoreCorruptError(
            f"the copy is not sound: {found.problem or 'its end is not signed.'}",
            where=str(path),
            advice="Run it again. If it stays so, verify the records and check that disk.",
        )
    return head, first


def _head_of(store: Store) -> tuple[SignedHead | None, str]:
    with store.reading() as connection:
        newest = signed_heads.newest(connection, store.bench)
        return newest, first_hash(connection, store.bench)


def _note(folder: Path) -> dict[str, Any]:
    try:
        note: dict[str, Any] = json.loads((folder / NOTE).read_bytes())
        if note["form"] != FORM or not head_from(note["head"]).genuine:
            raise ValueError("the form or the signature does not fit")
    except (OSError, ValueError, KeyError, TypeError) as error:
        raise StoreError(
            "there is no bench in this folder that was moved, or it is damaged.",
            where=str(folder),
            advice="Nothing was changed. Name the folder that 'benchstation move' wrote.",
            detail=repr(error),
        ) from error
    return note


def _require_free(target: Path, head: SignedHead) -> None:
    """Raise where other records are, or the same that were not moved from here."""
    if not target.is_file():
        return
    with open_store(target, "", read_only=True) as store:
        own, _ = _head_of(store)
    if not moved_to(target) or own != head:
        raise StoreError(
            "there are records on this computer already.",
            where=str(target),
            advice="Nothing was changed. Name another folder for data in the settings, or move "
            "these records away.",
        )


def _claim(folder: Path, home: Path, now: datetime) -> None:
    """Note in the folder that this computer takes it; raise where another did."""
    private_folder(home)
    own = home / COMPUTER
    if not own.is_file():
        write_private(own, secrets.token_hex(16).encode())
    me, claimed = own.read_text("ascii"), folder / TAKEN
    if claimed.is_file():
        said = json.loads(claimed.read_bytes())
        if said["computer"] != me:
            raise MovedError(
                f"another computer took this bench over on {said['utc'][:16]}.",
                where=str(folder),
                advice="Nothing was changed. The bench continues there; two would part its "
                "records for ever.",
            )
        return
    write_private(claimed, json.dumps({"computer": me, "utc": now.isoformat()}).encode())


def _place_beside(
    folder: Path, home: Path, key: BenchKey | None, instead: Mapping[str, bytes], now: datetime
) -> tuple[Path, ...]:
    """Put key, settings and profiles in place; return where what stood there was set aside."""
    stamp, aside = f"{now.astimezone(UTC):%Y%m%dT%H%M%S}Z", []
    files = sorted(f for f in (folder / BESIDE).rglob("*") if f.is_file())
    given = {f.relative_to(folder / BESIDE).as_posix(): f.read_bytes() for f in files}
    for name, content in {**given, **instead}.items():
        aside += _put(home / name, content, stamp)
    if key is not None:
        aside += _put(home / KEY_FILE, key.plain(), stamp)
    return tuple(aside)


def _put(place: Path, content: bytes, stamp: str) -> list[Path]:
    if place.is_file() and place.read_bytes() == content:
        return []
    private_folder(place.parent)
    aside = []
    if place.is_file():
        aside.append(place.with_name(f"{place.name}.set-aside-{stamp}"))
        place.rename(aside[0])
    write_private(place, content)
    return aside


def _set_moved(path: Path, said: str) -> None:
    with closing(sqlite3.connect(path)) as raw:
        raw.execute("INSERT OR REPLACE INTO meta VALUES (?, ?)", (MOVED, said))
        raw.commit()


def _folder_error(folder: Path, error: OSError) -> StoreError:
    return StoreError(
        f"the folder cannot be used ({error.strerror}).",
        where=str(folder),
        advice="See that it is there, may be written and has room; then run it once more.",
        detail=repr(error),
    )
