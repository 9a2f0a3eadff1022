"""The copies in a folder, by their names, and what the newest of them knows of the journal."""

import logging
import re
import sqlite3
from collections.abc import Iterable
from contextlib import closing
from dataclasses import dataclass
from datetime import UTC, datetime
from pathlib import Path

from benchstation.store.connections import read_only
from benchstation.store.errors import StoreError
from benchstation.store.signed_heads import SignedHead

_NAME = re.compile(r"rebuilds-(\d{8}T\d{6})Z\.sqlite")
_STAMP = "%Y%m%dT%H%M%S"
_HEAD = (
    "SELECT bench, size, root, utc, public_key, signature FROM tree_head "
    "WHERE bench = (SELECT value FROM meta WHERE key = 'bench') ORDER BY size DESC LIMIT 1"
)
_LOG = logging.getLogger(__name__)


@dataclass(frozen=True, slots=True)
class Copy:
    """A copy in a folder, and when it was made."""

    path: Path
    utc: datetime

    @property
    def beside(self) -> Path:
        """Return where the settings and profiles of then are."""
        return self.path.with_suffix(".settings.zip")


def copy_at(folder: Path, utc: datetime) -> Copy:
    """Return the copy of a moment, as it is named."""
    path = folder / f"rebuilds-{utc.astimezone(UTC):{_STAMP}}Z.sqlite"
    return Copy(path, _time_of(path))


def copies_in(folder: Path) -> list[Copy]:
    """Return the copies in a folder by their names, the newest first. Raises ``OSError``."""
    names = sorted((f for f in folder.iterdir() if _NAME.fullmatch(f.name)), reverse=True)
    return [Copy(file, _time_of(file)) for file in names]


def newest_heads(folders: Iterable[Path]) -> list[SignedHead]:
    """Return the last genuine head in the newest copy of each folder.

    A folder that is away or a copy that cannot be read says nothing: that is told elsewhere.
    """
    found = []
    for folder in folders:
        try:
            newest = next(iter(copies_in(folder)), None)
            if newest is None:
                continue
            with closing(read_only(newest.path)) as raw:
                row = raw.execute(_HEAD).fetchone()
        except (OSError, sqlite3.Error, StoreError):
            _LOG.warning("the newest copy in %s cannot be read", folder, exc_info=True)
            continue
        if row is not None and (head := SignedHead(*row)).genuine:
            found.append(head)
    return found


def _time_of(file: Path) -> datetime:
    match = _NAME.fullmatch(file.name)
    assert match is not None
    return datetime.strptime(match[1], _STAMP).replace(tzinfo=UTC)
