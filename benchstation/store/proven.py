"""Up to where a journal was proven whole, noted beside the settings.

From there on *verify* reads what is new; what was before is held by the root of its tree. The note
is forgotten when the file was written by anything else than this program's closed runs: then all is
read again.
"""

import json
import logging
from dataclasses import dataclass, replace
from pathlib import Path
from typing import Any

from benchstation.atomic_file import private_folder, write_private
from benchstation.store.known_heads import place_of
from benchstation.store.signed_heads import SignedHead, head_from

FOLDER = "proven"
_LOG = logging.getLogger(__name__)
State = tuple[int, int, int, int]
"""Size, times of the last writing and of the last change, and number of a file."""


@dataclass(frozen=True, slots=True)
class Proven:
    """A journal was read whole at a time, and is proven up to a signed head since."""

    whole_utc: str
    whole_entries: int
    head: SignedHead
    hash: str
    """Of the last entry under the head."""
    state: State | None = None
    """The file as this program closed it; ``None``: this program has it open."""


class ProvenHeads:
    """The folder of these notes, a file for each journal."""

    def __init__(self, home: Path) -> None:
        self._folder = home / FOLDER

    def of(self, path: Path) -> Proven | None:
        """Return the note of a journal; ``None`` where there is none that can be read."""
        try:
            return _proven_from(json.loads(self._file(path).read_bytes()))
        except (OSError, ValueError, KeyError, TypeError):
            # As good as none: then all is read.
            return None

    def of_closed(self, path: Path) -> Proven | None:
        """Return the note where the file is as this program closed it."""
        found, now = self.of(path), state_of(path)
        return found if found is not None and now is not None and found.state == now else None

    def of_open(self, path: Path) -> Proven | None:
        """Return the note where this program has had the file open since it was as noted."""
        found = self.of(path)
        return found if found is not None and found.state is None else None

    def keep(self, path: Path, proven: Proven) -> None:
        """Write the note. Raises ``OSError``."""
        head = proven.head.as_data()
        data = {
            "whole_utc": proven.whole_utc,
            "whole_entries": proven.whole_entries,
            "head": head,
            "hash": proven.hash,
            "state": proven.state,
        }
        private_folder(self._folder)
        write_private(self._file(path), json.dumps(data, indent=1).encode())

    def forget(self, path: Path) -> None:
        """Remove the note. Raises ``OSError``."""
        self._file(path).unlink(missing_ok=True)

    def opened(self, path: Path) -> bool:
        """Take note that this program writes; forget all where the file was written by others.

        Returns False where nothing is noted.
        """
        try:
            found = self.of_closed(path)
            if found is None:
                self.forget(path)
                return True
            self.keep(path, replace(found, state=None))
        except OSError:
            _LOG.exception("it was not noted that the records are open")
            return False
        return True

    def closed(self, path: Path) -> None:
        """Take note of the file as this program leaves it; without a note all is read again."""
        found = self.of_open(path)
        try:
            if found is not None:
                self.keep(path, replace(found, state=state_of(path)))
        except OSError:
            _LOG.exception("it was not noted that the records are closed")

    def _file(self, path: Path) -> Path:
        return self._folder / place_of(path)


def state_of(path: Path) -> State | None:
    """Return what changes with every writing of the file; ``None`` while its log is not empty."""
    log = path.with_name(path.name + "-wal")
    try:
        if log.is_file() and log.stat().st_size:
            return None
        found = path.stat()
    except OSError:
        return None
    return found.st_size, found.st_mtime_ns, found.st_ctime_ns, found.st_ino


def _proven_from(data: Any) -> Proven:
    state = data["state"]
    if state is not None:
        size, written, changed, number = (int(part) for part in state)
        state = (size, written, changed, number)
    head = head_from(data["head"])
    if not head.genuine:
        raise ValueError("the signature is not the key's")
    return Proven(
        str(data["whole_utc"]), int(data["whole_entries"]), head, str(data["hash"]), state
    )
