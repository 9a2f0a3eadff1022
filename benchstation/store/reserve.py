"""A file of fixed size beside the records, for alarms that a full disk keeps out of the journal.

Its room is taken while there is some, and it is written in place, which needs no more. So what
the guard found outlives a program that ends before the journal can be written again.
"""

import hashlib
import logging
import os
from collections.abc import Sequence
from dataclasses import dataclass
from datetime import datetime
from pathlib import Path

from benchstation.domain.events import AlarmChanged, EventError, event_from, stored_body
from benchstation.store.canonical import canonical, parsed
from benchstation.store.schema import utc_from, utc_text

log = logging.getLogger(__name__)
SIZE_BYTES = 65_536
_DIGEST = 64


@dataclass(frozen=True, slots=True)
class Unwritten:
    """An alarm's change with who stood there and when, as the journal is to have it."""

    event: AlarmChanged
    person: str
    utc: datetime


class Reserve:
    """Keeps what waits for the journal; what cannot be kept either is logged, never raised."""

    def __init__(self, path: Path) -> None:
        self._path = path
        self._holds = False

    def take_room(self) -> None:
        """Take the room on the disk, where that is not done."""
        try:
            if not self._path.exists() or self._path.stat().st_size < SIZE_BYTES:
                self._path.write_bytes(bytes(SIZE_BYTES))
        except OSError as error:
            log.warning("no room is reserved for alarms: %s", error)

    def keep(self, waiting: Sequence[Unwritten]) -> None:
        """Keep these in place of what was kept; the earliest where there is no room for all."""
        rows: list[bytes] = []
        for one in waiting:
            row = canonical(
                {
                    "body": stored_body(one.event),
                    "kind": one.event.kind,
                    "person": one.person,
                    "utc": utc_text(one.utc),
                }
            )
            if _DIGEST + 2 + sum(map(len, rows)) + len(rows) + len(row) + 1 > SIZE_BYTES:
                break
            rows.append(row)
        self._write(b"\n".join(rows))
        self._holds = bool(rows)

    def clear(self) -> None:
        """Keep nothing any more: it is on record."""
        if self._holds:
            self._write(b"")
            self._holds = False

    def read(self) -> list[Unwritten]:
        """Return what a program before kept; nothing where the file is not whole."""
        try:
            text = self._path.read_bytes().rstrip(b"\0")
        except OSError:
            return []
        digest, _, body = text.partition(b"\n")
        if not body or hashlib.sha256(body).hexdigest().encode() != digest:
            return []
        found = []
        for line in body.split(b"\n"):
            row = parsed(line)
            try:
                event = event_from(row["kind"], row["body"])
            except EventError as error:
                log.warning("an alarm that was kept cannot be read: %s", error)
                continue
            if isinstance(event, AlarmChanged):
                found.append(Unwritten(event, row["person"], utc_from(row["utc"])))
        self._holds = True
        return found

    def _write(self, body: bytes) -> None:
        text = hashlib.sha256(body).hexdigest().encode() + b"\n" + body if body else b""
        try:
            with self._path.open("r+b") as file:
                file.write(text.ljust(SIZE_BYTES, b"\0"))
                file.flush()
                os.fsync(file.fileno())
        except OSError as error:
            log.warning("alarms that are not on record cannot be kept either: %s", error)
