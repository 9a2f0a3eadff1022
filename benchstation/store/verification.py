"""Proving that what is stored is what was recorded, in one pass over the journal."""

import hashlib
import sqlite3
from collections.abc import Callable, Iterator
from contextlib import contextmanager
from dataclasses import dataclass
from pathlib import Path
from typing import Any

from sqlalchemy import Connection, Row, Table, create_engine, func, insert, select
from sqlalchemy.exc import DBAPIError
from sqlalchemy.pool import StaticPool

from benchstation.domain.events import ShopTaken
from benchstation.domain.shop_chain import SHOP
from benchstation.store import journal, signed_heads, taken_chain, tree_rows
from benchstation.store.canonical import parsed
from benchstation.store.closing import MISSING_LOG, log_is_missing
from benchstation.store.known_heads import KnownHead, KnownHeads, Lack, lack_of
from benchstation.store.merkle import Frontier
from benchstation.store.migrations import COPIED, missing_triggers, value_of
from benchstation.store.projections import project
from benchstation.store.row_check import RowError, checked
from benchstation.store.schema import journal as journal_rows
from benchstation.store.schema import photo, projections, trace
from benchstation.store.shop_renewal import renewed_from
from benchstation.store.signed_heads import SignedHead
from benchstation.store.stored_schema import damaged_indexes, differences
from benchstation.store.trust import first_hash, key_facts

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


class _Found(Exception):
    """The first thing that does not fit."""


class _IndexesDamaged(_Found):
    """Only indexes are damaged."""

    def __init__(self, names: tuple[str, ...]) -> None:
        super().__init__(f"the index {', '.join(names)} is damaged: a search may miss units.")
        self.names = names


class _Stopped(_Found):
    """Asked to go on no more."""


class _Pass:
    """Counts what was looked at and asks whether to go on."""

    def __init__(self, total: int, progress: Progress | None, cancelled: Cancelled | None) -> None:
        self._total = total
        self._progress = progress
        self._cancelled = cancelled
        self._done = 0

    def step(self) -> None:
        self._done += 1
        if self._done % 256 and self._done != self._total:
            return
        if self._cancelled is not None and self._cancelled():
            raise _Stopped("stopped before the end; nothing wrong up to there.")
        if self._progress is not None:
            self._progress(self._done, self._total)


def verify(
    connection: Connection,
    bench: str,
    progress: Progress | None = None,
    cancelled: Cancelled | None = None,
    anchor: tuple[int, str] | None = None,
    path: Path | None = None,
    known: KnownHeads | None = None,
) -> Verification:
    """Check chain, bodies, traces, guards and projections; reads one snapshot, changes nothing.

    ``anchor``: sequence and hash noted elsewhere (a certificate, a backup), which a chain made
    anew or cut short cannot match. ``known``: the heads that this computer signed last, which do
    the same for the file at ``path`` with nobody typing anything.
    """
    last = (0, journal.GENESIS)
    try:
        _intact(connection)
        content = sum(
            connection.execute(select(func.count()).select_from(table)).scalar_one()
            for table in (trace, photo)
        )
        entries = journal.count(connection, bench) + journal.count(connection, SHOP)
        walk = _Pass(entries + content, progress, cancelled)
        stored = _kept(connection, trace, "trace", walk) | _kept(
            connection, photo, "photograph", walk
        )
        heads = {head.size: head for head in signed_heads.kept(connection, bench)}
        keys = set(key_facts(connection, bench))
        with _scratch() as again:
            tree = tree_rows.Growing(again, bench)
            shop = (0, journal.GENESIS)
            for row in taken_chain.rows_as_known(connection, bench):
                if row.bench != bench:
                    shop = _entry(row, shop, stored, again, bench)
                    walk.step()
                    continue
                last = _entry(row, last, stored, again, bench)
                _taken(row, shop)
                tree.add(row.hash)
                _signed(heads.pop(last[0], None), tree.frontier, keys)
                if anchor is not None and anchor[0] == last[0] and anchor[1] != last[1]:
                    raise _Found(f"entry {last[0]} is not the one that was noted elsewhere.")
                walk.step()
            tree.finish()
            if not taken_chain.is_whole(connection, bench):
                raise _Found("the copy of the shop's chain ends elsewhere than this bench read it.")
            _ends(connection, last, anchor)
            _schema(connection)
            if heads:
                raise _Found(
                    f"the journal ends at entry {last[0]}, but {max(heads)} entries were signed."
                )
            if path is not None:
                _outside(connection, bench, path, known)
            _projections(connection, again)
    except _IndexesDamaged as found:
        return Verification(False, *last, str(found), damaged_indexes=found.names)
    except _Found as found:
        return Verification(False, last[0], last[1], str(found), isinstance(found, _Stopped))
    except (DBAPIError, TypeError, ValueError) as error:
        # A column may hold anything once the guards are off: text for bytes, say.
        return Verification(False, last[0], last[1], f"what follows cannot be read: {error}")
    return Verification(True, last[0], last[1], "")


def _intact(connection: Connection) -> None:
    """Raise when SQLite finds the file damaged."""
    findings = list(connection.exec_driver_sql("PRAGMA integrity_check").scalars())
    if findings != ["ok"]:
        names = damaged_indexes(findings)
        raise _IndexesDamaged(names) if names else _Found(f"the file is damaged: {findings[0]}")


def _schema(connection: Connection) -> None:
    """Raise when the guards or the rest of the schema are not what they must be."""
    gone = missing_triggers(connection)
    if gone:
        raise _Found(f"the guard against changes is missing: {', '.join(gone)}.")
    if other := differences(connection):
        raise _Found(f"the schema in the file was altered: {', '.join(other)}.")


def _signed(head: SignedHead | None, frontier: Frontier, keys: set[str]) -> None:
    """Raise when a head in the file is not genuine, or not of the entries up to there."""
    if head is None:
        return
    place = f"the signed head of entry {head.size}"
    if not head.genuine:
        raise _Found(f"{place} is not genuine: its signature does not fit.")
    if head.public_key not in keys:
        raise _Found(f"{place} was signed with a key that is not on record.")
    if head.root != frontier.root().hex():
        raise _Found(f"{place} is not of these entries: they were rewritten after it was signed.")


def _outside(connection: Connection, bench: str, path: Path, known: KnownHeads | None) -> None:
    """Raise when the journal lacks what is known of it outside its file."""
    if log_is_missing(path):
        raise _Found(MISSING_LOG)
    if known is None:
        return
    held = known.of(path, first_hash(connection, bench))
    if held is None:
        return
    lack = lack_of(connection, bench, held.head)
    if lack is not None and not _whole_copy(connection, bench, path, held, lack):
        raise _Found(lack.words)


def _whole_copy(
    connection: Connection, bench: str, path: Path, held: KnownHead, lack: Lack
) -> bool:
    """Return True for a copy of an earlier day that ends where its own head was signed."""
    newest = signed_heads.newest(connection, bench)
    at_its_place = Path(held.file) == path.resolve()
    return (
        not lack.rewritten
        and not at_its_place
        and bool(value_of(connection, COPIED))
        and newest is not None
        and newest.size <= lack.kept
        and newest.public_key in held.keys
    )


def _kept(connection: Connection, table: Table, what: str, walk: _Pass) -> set[str]:
    names = connection.execute(select(table.c.sha256)).scalars().all()
    for name in names:
        data = connection.execute(select(table.c.data).where(table.c.sha256 == name)).scalar_one()
        if hashlib.sha256(data).hexdigest() != name:
            raise _Found(f"the {what} {name[:12]} was altered or damaged.")
        walk.step()
    return set(names)


def _entry(
    row: Row[Any], last: tuple[int, str], stored: set[str], again: Connection, here: str
) -> tuple[int, str]:
    place = f"entry {row.seq} ({row.kind}, {row.utc})"
    try:
        entry = checked(row, last)
    except RowError as error:
        raise _Found(str(error)) from error
    for name, what in (("trace_sha256", "trace"), ("photo_sha256", "photograph")):
        wanted = getattr(entry.event, name, "")
        if wanted and wanted not in stored:
            raise _Found(f"{place} refers to a {what} that is missing: {wanted[:12]}.")
    if renewed_from(entry):
        again.execute(insert(journal_rows), row._asdict())
    project(again, entry, here)
    return row.seq, row.hash


def _taken(row: Row[Any], shop: tuple[int, str]) -> None:
    """Raise when the shop's chain was not taken as a row of the bench's own says."""
    if row.kind == ShopTaken.kind:
        fact = parsed(row.body)
        if (fact["seq"], fact["hash"]) != shop:
            raise _Found(f"entry {row.seq} read other entries of the shop than are in the file.")


def _ends(connection: Connection, last: tuple[int, str], anchor: tuple[int, str] | None) -> None:
    if value_of(connection, "head") != f"{last[0]}:{last[1]}":
        raise _Found(f"the journal ends at entry {last[0]}, but that was not the last one written.")
    if anchor is not None and anchor[0] > last[0]:
        raise _Found(f"the journal ends at entry {last[0]}; entry {anchor[0]} is missing.")


def _projections(connection: Connection, again: Connection) -> None:
    for table in projections.sorted_tables:
        query = select(table).order_by(*table.primary_key)
        kept, derived = connection.execute(query), again.execute(query)
        while True:
            one, other = kept.fetchmany(journal.PAGE), derived.fetchmany(journal.PAGE)
            if one != other:
                raise _Found(
                    f"the table {table.name.replace('_', ' ')} does not match the journal; "
                    "make it again from the journal."
                )
            if not one:
                break


@contextmanager
def _scratch() -> Iterator[Connection]:
    # An empty name is a private file that the system removes; it may outgrow the memory.
    engine = create_engine(
        "sqlite+pysqlite://",
        creator=lambda: sqlite3.connect("", check_same_thread=False),
        poolclass=StaticPool,
    )
    try:
        with engine.connect() as connection:
            connection.exec_driver_sql("PRAGMA synchronous=OFF")
            projections.create_all(connection)
            journal_rows.create(connection)
            yield connection
    finally:
        engine.dispose()
