"""What is held against what when records are verified: each check raises the first misfit."""

import hashlib
import sqlite3
from collections.abc import Callable, Iterator, Mapping
from contextlib import contextmanager
from pathlib import Path
from typing import Any

from sqlalchemy import Connection, Row, Table, create_engine, insert, select
from sqlalchemy.pool import StaticPool

from benchstation.domain.events import ShopTaken
from benchstation.driver_api.errors import StationError
from benchstation.store import journal, signed_heads, taken_chain
from benchstation.store.canonical import parsed
from benchstation.store.closing import why_not_whole
from benchstation.store.journal import Entry
from benchstation.store.known_heads import KnownHead, KnownHeads, Lack, lack_in
from benchstation.store.merkle import Frontier
from benchstation.store.migrations import COPIED, missing_triggers, value_of
from benchstation.store.projections import project
from benchstation.store.row_check import RowError, checked_body
from benchstation.store.schema import journal as journal_rows
from benchstation.store.schema import projections, tree_node
from benchstation.store.shop_renewal import renewed_from
from benchstation.store.signed_heads import SignedHead
from benchstation.store.stored_schema import damaged_indexes, differences
from benchstation.store.table_making import make_tables
from benchstation.store.tree_rows import Compared
from benchstation.store.trust import first_hash

Step = Callable[[], None]
"""Counts one thing that was looked at; raises :class:`Stopped` when asked to end."""
CONTENT = {"trace": "trace", "photo": "photograph"}
"""The tables of content, and what a row of each is called."""
_CONTENT = {name: f"SELECT sha256, data FROM {name}" for name in CONTENT}  # noqa: S608
_DATA = {name: f"SELECT data FROM {name} WHERE sha256 = ?" for name in CONTENT}  # noqa: S608
_THERE = {name: f"SELECT 1 FROM {name} WHERE sha256 = ?" for name in CONTENT}  # noqa: S608


class Found(Exception):
    """The first thing that does not fit."""


class IndexesDamaged(Found):
    """Only indexes are damaged."""

    def __init__(self, names: tuple[str, ...]) -> None:
        super().__init__(f"the index {', '.join(names)} is damaged: a search may miss units.")
        self.names = names


class Stopped(Found):
    """Asked to end before it was done."""

    def __init__(self) -> None:
        super().__init__("stopped before the end; nothing wrong up to there.")


def raw_of(connection: Connection) -> sqlite3.Connection:
    """Return the driver's own connection: many small questions cost less there."""
    raw = connection.connection.driver_connection
    assert isinstance(raw, sqlite3.Connection)
    return raw


def require_intact(connection: Connection) -> None:
    """Raise when SQLite finds the file damaged."""
    findings = list(connection.exec_driver_sql("PRAGMA integrity_check").scalars())
    if findings != ["ok"]:
        names = damaged_indexes(findings)
        raise IndexesDamaged(names) if names else Found(f"the file is damaged: {findings[0]}")


def require_schema(connection: Connection) -> None:
    """Raise when the guards or the rest of the schema are not what they must be."""
    gone = missing_triggers(connection)
    if gone:
        raise Found(f"the guard against changes is missing: {', '.join(gone)}.")
    if other := differences(connection):
        raise Found(f"the schema in the file was altered: {', '.join(other)}.")


def content_count(connection: Connection) -> int:
    """Return how many traces and photographs are stored."""
    raw = raw_of(connection)
    counts = [raw.execute(f"SELECT count(*) FROM {name}").fetchone() for name in CONTENT]  # noqa: S608
    return sum(int(count) for (count,) in counts)


def require_content(connection: Connection, step: Step) -> None:
    """Raise when a trace or photograph is not the one of its name."""
    raw = raw_of(connection)
    for table, query in _CONTENT.items():
        for name, data in raw.execute(query):
            _require_named(table, name, data)
            step()


def require_content_of(
    connection: Connection, seq: int, body: Mapping[str, Any], *, hashed: bool
) -> None:
    """Raise when content that an entry refers to is missing; or altered, where ``hashed``."""
    for table, what in CONTENT.items():
        name = body.get(f"{table}_sha256", "")
        if not name:
            continue
        query = (_DATA if hashed else _THERE)[table]
        row = raw_of(connection).execute(query, (name,)).fetchone()
        if row is None:
            raise Found(f"entry {seq} refers to a {what} that is missing: {name[:12]}.")
        if hashed:
            _require_named(table, name, row[0])


def _require_named(table: str, name: str, data: bytes) -> None:
    if hashlib.sha256(data).hexdigest() != name:
        raise Found(f"the {CONTENT[table]} {name[:12]} was altered or damaged.")


def require_row(row: Row[Any], last: tuple[int, str], connection: Connection) -> dict[str, Any]:
    """Return the body of a row that is whole and follows ``last``, with its content stored."""
    try:
        body = checked_body(row, last)
    except RowError as error:
        raise Found(str(error)) from error
    require_content_of(connection, row.seq, body, hashed=False)
    return body


def readable(row: Row[Any], body: dict[str, Any]) -> Entry:
    """Return the entry of a row; raise where its event cannot be understood."""
    try:
        return journal.entry_with(row, body)
    except (StationError, ValueError) as error:
        place = f"entry {row.seq} ({row.kind}, {row.utc})"
        raise Found(f"{place} cannot be read: {error}") from error


def project_again(again: Connection, row: Row[Any], entry: Entry, bench: str) -> None:
    """Bring tables that are made again up to date with one more entry, as ``bench`` sees it."""
    if renewed_from(entry):
        again.execute(insert(journal_rows), row._asdict())
    project(again, entry, bench)


def require_taken(row: Row[Any], shop: tuple[int, str]) -> None:
    """Raise when the shop's chain was not taken as a row of the bench's own says."""
    if row.kind == ShopTaken.kind:
        fact = parsed(row.body)
        if (fact["seq"], fact["hash"]) != shop:
            raise Found(f"entry {row.seq} read other entries of the shop than are in the file.")


def require_signed(head: SignedHead | None, frontier: Frontier, keys: set[str]) -> None:
    """Raise when a head in the file is not genuine, or not of the entries up to there."""
    if head is None:
        return
    place = f"the signed head of entry {head.size}"
    if not head.genuine:
        raise Found(f"{place} is not genuine: its signature does not fit.")
    if head.public_key not in keys:
        raise Found(f"{place} was signed with a key that is not on record.")
    if head.root != frontier.root().hex():
        raise Found(f"{place} is not of these entries: they were rewritten after it was signed.")


def require_end(
    connection: Connection, bench: str, last: tuple[int, str], anchor: tuple[int, str] | None
) -> None:
    """Raise when the journal does not end where it was written to, or before an ``anchor``."""
    if not taken_chain.is_whole(connection, bench):
        raise Found("the copy of the shop's chain ends elsewhere than this bench read it.")
    if value_of(connection, "head") != f"{last[0]}:{last[1]}":
        raise Found(f"the journal ends at entry {last[0]}, but that was not the last one written.")
    if anchor is not None and anchor[0] > last[0]:
        raise Found(f"the journal ends at entry {last[0]}; entry {anchor[0]} is missing.")


def require_known(connection: Connection, bench: str, path: Path, known: KnownHeads | None) -> None:
    """Raise when the journal lacks what is known of it outside its file."""
    if why := why_not_whole(path, known):
        raise Found(why)
    if known is None:
        return
    held = known.of(path, first_hash(connection, bench))
    lack = lack_in(connection, bench, known, held)
    if lack is not None and not _whole_copy(connection, bench, path, held, lack):
        raise Found(lack.words)


def _whole_copy(
    connection: Connection, bench: str, path: Path, held: KnownHead | None, lack: Lack
) -> bool:
    """Return True for a copy of an earlier day that ends where its own head was signed."""
    if held is None:
        return False
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


def other_table(table: Table) -> Found:
    """Return what is said of a table that is not what the journal gives."""
    return Found(
        f"the table {table.name.replace('_', ' ')} does not match the journal; "
        "make it again from the journal."
    )


def require_nodes(tree: Compared, entry_hash: str) -> None:
    """Take one more entry into the tree; raise where the tree is kept otherwise."""
    if not tree.add(entry_hash):
        raise other_table(tree_node)


def require_no_more(tree: Compared) -> None:
    """Raise where more of the tree is kept than the entries give."""
    if not tree.is_all():
        raise other_table(tree_node)


def require_tables(connection: Connection, again: Connection) -> None:
    """Raise when a searched table, but for the tree's, is not what the journal gives."""
    for table in projections.sorted_tables:
        if table is tree_node:
            continue
        query = select(table).order_by(*table.primary_key)
        kept, derived = connection.execute(query), again.execute(query)
        while True:
            one, other = kept.fetchmany(journal.PAGE), derived.fetchmany(journal.PAGE)
            if one != other:
                raise other_table(table)
            if not one:
                break


@contextmanager
def scratch() -> Iterator[Connection]:
    """Return empty searched tables that are thrown away."""
    # An empty name is a private file that the system removes; it may outgrow the memory.
    engine = create_engine(
        "sqlite+pysqlite://",
        creator=lambda: sqlite3.connect("", check_same_thread=False),
        poolclass=StaticPool,
    )
    try:
        with engine.connect() as connection:
            connection.exec_driver_sql("PRAGMA synchronous=OFF")
            make_tables(connection, projections)
            journal_rows.create(connection)
            yield connection
    finally:
        engine.dispose()
