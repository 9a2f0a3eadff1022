"""Proving that what is stored is what was recorded, in one pass over the journal.

A long journal is looked at by several processes (``verify_apart``), and one that was proven whole
before from there on (``verify_since``).
"""

import sqlite3
from collections.abc import Callable
from dataclasses import dataclass
from pathlib import Path

from sqlalchemy import Connection
from sqlalchemy.exc import DBAPIError

from benchstation.domain.events import EventError
from benchstation.domain.shop_chain import SHOP
from benchstation.driver_api.errors import StationError
from benchstation.store import journal, signed_heads, taken_chain
from benchstation.store.checks import (
    Found,
    IndexesDamaged,
    Stopped,
    content_count,
    project_again,
    readable,
    require_content,
    require_end,
    require_intact,
    require_known,
    require_no_more,
    require_nodes,
    require_row,
    require_schema,
    require_signed,
    require_tables,
    require_taken,
    scratch,
)
from benchstation.store.errors import NotStorableError, StoreCorruptError
from benchstation.store.known_heads import KnownHeads
from benchstation.store.proven import Proven
from benchstation.store.tree_rows import Compared
from benchstation.store.trust import key_facts

MISFITS = (
    Found, EventError, StoreCorruptError, NotStorableError, DBAPIError, sqlite3.Error, TypeError,
    ValueError,
)  # fmt: skip
"""What a check meets where something does not fit."""
Progress = Callable[[int, int], None]
Cancelled = Callable[[], bool]


@dataclass(frozen=True, slots=True)
class Verification:
    """The verdict. ``problem`` names the first thing that does not fit; empty when ``ok``.

    ``stopped``: it was not looked at to the end, and nothing was wrong up to there.
    """

    ok: bool
    entries: int
    head: str
    problem: str
    stopped: bool = False
    damaged_indexes: tuple[str, ...] = ()
    """Nothing but these is damaged: they can be made again from their tables."""
    since: Proven | None = None
    """What was proven before and not read again; ``None``: all was read."""


@dataclass(frozen=True, slots=True)
class Outside:
    """What a journal is held against besides itself.

    ``anchor``: sequence and hash noted elsewhere (a certificate, a backup), which a chain made
    anew or cut short cannot match. ``known``: the heads that this computer signed last, which do
    the same for the file at ``path`` with nobody typing anything.
    """

    path: Path | None = None
    known: KnownHeads | None = None
    anchor: tuple[int, str] | None = None


class Pass:
    """Counts what was looked at and asks whether to continue."""

    def __init__(self, total: int, progress: Progress | None, cancelled: Cancelled | None) -> None:
        """Begin at nothing of ``total``."""
        self._total = total
        self._progress = progress
        self._cancelled = cancelled
        self._done = 0

    def step(self) -> None:
        """Count one more. Raises :class:`Stopped` when asked to end."""
        self._done += 1
        if self._done % 256 and self._done != self._total:
            return
        if self._cancelled is not None and self._cancelled():
            raise Stopped
        if self._progress is not None:
            self._progress(self._done, self._total)


def verify(
    connection: Connection,
    bench: str,
    outside: Outside,
    progress: Progress | None = None,
    cancelled: Cancelled | None = None,
) -> Verification:
    """Check chain, bodies, traces, guards and projections; reads one snapshot, changes nothing."""
    last = (0, journal.GENESIS)
    try:
        require_intact(connection)
        entries = journal.count(connection, bench) + journal.count(connection, SHOP)
        walk = Pass(entries + content_count(connection), progress, cancelled)
        require_content(connection, walk.step)
        heads = {head.size: head for head in signed_heads.kept(connection, bench)}
        keys = set(key_facts(connection, bench))
        with scratch() as again:
            tree = Compared(connection, bench)
            shop = (0, journal.GENESIS)
            for row in taken_chain.rows_as_known(connection, bench):
                body = require_row(row, last if row.bench == bench else shop, connection)
                project_again(again, row, readable(row, body), bench)
                walk.step()
                if row.bench != bench:
                    shop = (row.seq, row.hash)
                    continue
                last = (row.seq, row.hash)
                require_taken(row, shop)
                require_nodes(tree, row.hash)
                require_signed(heads.pop(last[0], None), tree.frontier, keys)
                require_anchor(outside.anchor, last)
            require_rest(connection, bench, last, outside, max(heads, default=0))
            require_no_more(tree)
            require_tables(connection, again)
    except MISFITS as error:
        return verdict(last, error)
    return Verification(True, last[0], last[1], "")


def require_anchor(anchor: tuple[int, str] | None, last: tuple[int, str]) -> None:
    """Raise when the entry that was noted elsewhere is another one here."""
    if anchor is not None and anchor[0] == last[0] and not last[1].startswith(anchor[1]):
        raise Found(f"entry {last[0]} is not the one that was noted elsewhere.")


def require_rest(
    connection: Connection, bench: str, last: tuple[int, str], outside: Outside, signed: int
) -> None:
    """Raise when end, schema or what is known outside do not fit; ``signed`` beyond the end."""
    require_end(connection, bench, last, outside.anchor)
    require_schema(connection)
    if signed:
        raise Found(f"the journal ends at entry {last[0]}, but {signed} entries were signed.")
    if outside.path is not None:
        require_known(connection, bench, outside.path, outside.known)


def verdict(last: tuple[int, str], error: Exception) -> Verification:
    """Return the verdict of what was found after ``last``."""
    if isinstance(error, IndexesDamaged):
        return Verification(False, *last, str(error), damaged_indexes=error.names)
    if isinstance(error, Found):
        return Verification(False, *last, str(error), isinstance(error, Stopped))
    if isinstance(error, StationError):
        return Verification(False, *last, error.what)
    # A column may hold anything once the guards are off: text for bytes, say.
    return Verification(False, *last, f"what follows cannot be read: {error}")
