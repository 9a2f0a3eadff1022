"""The last signed head of each journal, kept beside the settings and not in the journal's file.

So a journal that was cut, rewritten or rolled back is found by the computer that wrote it, with
nobody typing an anchor. A journal is known by its place, and by its first entry when it was moved.
"""

import hashlib
import json
from collections.abc import Sequence
from dataclasses import dataclass
from datetime import UTC, datetime
from pathlib import Path

from sqlalchemy import Connection

from benchstation.atomic_file import private_folder, write_private
from benchstation.domain.events import LossAccepted
from benchstation.store import journal, signed_heads, tree_rows
from benchstation.store.bench_key import known_public_key
from benchstation.store.copies import newest_heads
from benchstation.store.errors import BehindError, StoreError
from benchstation.store.merkle import consistency_proof, proves_consistency, root_at
from benchstation.store.migrations import COPIED, value_of
from benchstation.store.schema import utc_from
from benchstation.store.signed_heads import SignedHead, head_from

FOLDER = "heads"


@dataclass(frozen=True, slots=True)
class KnownHead:
    """What was last signed of a journal: where it stood, and the hash of its first entry."""

    file: str
    first: str
    head: SignedHead
    keys: tuple[str, ...]
    """All keys that signed it here, so that copies from before another key count."""


@dataclass(frozen=True, slots=True)
class Lack:
    """What a journal does not hold although a head was signed over it; ``words`` say it."""

    known: SignedHead
    kept: int
    rewritten: bool
    note_gone: bool = False
    """What this computer noted is gone: whether anything is missing cannot be told."""

    @property
    def words(self) -> str:
        """Return it in a sentence."""
        if self.note_gone:
            return (
                f"this computer's note of its last signed head is gone, and this journal of "
                f"{self.kept} entries is signed with its key: whether entries are missing cannot "
                "be told."
            )
        when = f"{utc_from(self.known.utc).astimezone():%Y-%m-%d %H:%M}"
        if self.rewritten:
            return (
                f"the entries are not those that this bench signed ({self.known.size} of them, "
                f"{when}): the journal was rewritten, or it is another's."
            )
        return (
            f"the journal ends at entry {self.kept}, but this bench signed {self.known.size} "
            f"entries ({when}): {self.known.size - self.kept} are missing. It was cut or rolled "
            "back, its log was lost, or it is an older copy."
        )

    def accepted(self, reason: str) -> LossAccepted:
        """Return the fact that a person goes on without it."""
        known = self.known
        return LossAccepted(self.kept, known.size, known.root, known.utc, reason)


class KnownHeads:
    """The folder of known heads, a file for each journal."""

    def __init__(self, home: Path, copies: Sequence[Path] = ()) -> None:
        """Take the folder of the settings, and folders whose newest copies count as well."""
        self.home = home
        self._copies = copies
        self._folder = home / FOLDER
        self._kept: dict[Path, tuple[Path, str, set[str]]] = {}
        """By a journal's path: its file here, where it really is, and the keys that signed it."""

    def keep(self, path: Path, first: str, head: SignedHead) -> None:
        """Write the newest head of a journal. Raises :class:`StoreError`."""
        file, place, keys = self._kept.get(path) or self._begin(path)
        keys.add(head.public_key)
        data = {
            "file": place,
            "first": first,
            "head": head.as_data(),
            "keys": sorted(keys),
        }
        try:
            write_private(file, json.dumps(data, indent=1).encode())
        except OSError as error:
            raise StoreError(
                f"the signed head cannot be kept beside the settings ({error.strerror}).",
                where=str(file),
                advice="All is on record. See that the disk is not full and may be written.",
                detail=repr(error),
            ) from error

    def _begin(self, path: Path) -> tuple[Path, str, set[str]]:
        file = self._file(path)
        before = _read(file)
        try:
            private_folder(self._folder)
        except OSError as error:
            raise StoreError(
                f"the folder for signed heads cannot be made ({error.strerror}).",
                where=str(self._folder),
                advice="All is on record. See that the disk is not full and may be written.",
                detail=repr(error),
            ) from error
        keys = set(before.keys) if before is not None else set()
        self._kept[path] = (file, str(path.resolve()), keys)
        return self._kept[path]

    def of(self, path: Path, first: str) -> KnownHead | None:
        """Return what is known of the journal at a place, or of one that began the same."""
        own = _read(self._file(path))
        if own is not None or not first or not self._folder.is_dir():
            return own
        found = [_read(file) for file in sorted(self._folder.glob("*.json"))]
        same = [known for known in found if known is not None and known.first == first]
        return max(same, key=lambda known: known.head.size, default=None)

    def in_copies(self, bench: str) -> list[SignedHead]:
        """Return the last heads of a bench in the newest copies."""
        return [head for head in newest_heads(self._copies) if head.bench == bench]

    def _file(self, path: Path) -> Path:
        return self._folder / place_of(path)


def place_of(path: Path) -> str:
    """Return the name of the file that notes something of the journal at a place."""
    return f"{hashlib.sha256(str(path.resolve()).encode()).hexdigest()[:32]}.json"


def _read(file: Path) -> KnownHead | None:
    try:
        text = file.read_bytes()
        if not text:
            # The mains failed while it was written: as good as none.
            return None
        data = json.loads(text)
        head = head_from(data["head"])
        keys = tuple(str(key) for key in data["keys"])
        known = KnownHead(str(data["file"]), str(data["first"]), head, keys)
    except FileNotFoundError:
        return None
    except (OSError, ValueError, KeyError, TypeError) as error:
        raise _altered(file, repr(error)) from error
    if not head.genuine:
        raise _altered(file, "the signature is not the key's")
    return known


def _altered(file: Path, detail: str) -> StoreError:
    return StoreError(
        "what this computer knows of the journal's last head is damaged or was altered.",
        where=str(file),
        advice="The records were not touched. Keep that file for QA and move it away; then hold "
        "the records against a backup or a printed certificate.",
        detail=detail,
    )


def lack_of(connection: Connection, bench: str, known: SignedHead) -> Lack | None:
    """Return what the journal lacks of what was signed; ``None`` when it holds all of it.

    Proves by consistency (RFC 9162, 2.1.4) that the journal begins with what was signed; reads a
    few nodes however long it is.
    """
    size, _ = journal.head(connection, bench)
    if known.bench != bench:
        return Lack(known, size, rewritten=True)
    if known.size > size:
        return Lack(known, size, rewritten=False)
    node = tree_rows.node_at(connection, bench)
    path = consistency_proof(known.size, size, node)
    earlier, now = bytes.fromhex(known.root), root_at(size, node)
    follows = proves_consistency(known.size, earlier, size, now, path)
    return None if follows else Lack(known, size, rewritten=True)


def lack_in(
    connection: Connection, bench: str, known: KnownHeads, held: KnownHead | None
) -> Lack | None:
    """Return what a journal lacks of what this computer signed, or its newest copies hold.

    ``held`` is what it noted of this journal. Where nothing is noted although the journal is signed
    with its key, the note is gone.
    """
    if held is not None and (lack := lack_of(connection, bench, held.head)):
        return lack
    if held is None and (lack := _note_gone(connection, bench, known)):
        return lack
    if value_of(connection, COPIED):
        # A copy of an earlier day lacks what the newest has.
        return None
    accepted = _loss_accepted(connection, bench)
    found = (
        lack_of(connection, bench, head)
        for head in known.in_copies(bench)
        if utc_from(head.utc) > accepted
    )
    return next((lack for lack in found if lack is not None), None)


def _note_gone(connection: Connection, bench: str, known: KnownHeads) -> Lack | None:
    newest = signed_heads.newest(connection, bench)
    own = known_public_key(known.home)
    if newest is None or newest.public_key != own:
        return None
    return Lack(newest, journal.head(connection, bench)[0], rewritten=False, note_gone=True)


def _loss_accepted(connection: Connection, bench: str) -> datetime:
    """Return when a person accepted last that entries are missing."""
    entries = journal.read(connection, bench, kind=LossAccepted.kind)
    return entries[-1].utc if entries else datetime.min.replace(tzinfo=UTC)


def behind(lack: Lack, path: Path) -> BehindError:
    """Return the refusal to open a journal that lacks what was signed."""
    return BehindError(
        lack.words,
        where=str(path),
        advice="Nothing was changed. Keep this file for QA; then put the newest copy in its place "
        "with 'benchstation restore DIR', what the shop holds beyond it with 'benchstation restore "
        "--shop', or continue without what is missing with 'benchstation accept-loss': a lead "
        "signs for it.",
        detail=lack.known.root,
    )
