"""Bringing a file to the form that this version knows, and refusing one it does not.

The version is SQLite's ``user_version``. A new file is made in the newest form; an older one is
copied first, then taken up step by step in one transaction. Projections have a version of their
own, since they need no migration: they are made again.
"""

import sqlite3
from collections.abc import Callable
from contextlib import closing
from datetime import UTC, datetime
from pathlib import Path

from sqlalchemy import Connection, bindparam, insert, select, text, update

from benchstation.atomic_file import part_of, put_in_place
from benchstation.store import journal, projections, taken_chain, tree_rows
from benchstation.store.connections import read_only
from benchstation.store.errors import (
    MovedError,
    NewerStoreError,
    StoreCorruptError,
    StoreError,
    in_words,
)
from benchstation.store.schema import TRIGGERS, core, meta, utc_text
from benchstation.store.schema import projections as projected
from benchstation.store.table_making import make_tables

APPLICATION_ID = 0x44425231
VERSION = 4
COPIED = "copied"
"""Under this key a copy says when it was made; it is taken away when it is put in use."""
IN_USE = "in_use"
"""Under this key the file says whether it was closed; see ``closing``."""
MOVED = "moved"
"""Under this key the file says when and to which folder the bench was moved."""
FORMS = "forms"
"""Under this key the kinds and forms of the events that the file holds; see ``known_forms``."""


def _photographs(connection: Connection) -> None:
    connection.execute(
        text(
            "CREATE TABLE photo (sha256 VARCHAR(64) NOT NULL, data BLOB NOT NULL, "
            "PRIMARY KEY (sha256), CONSTRAINT ck_photo_sha256 CHECK (length(sha256) = 64))"
        )
    )


def _numbered_forms(connection: Connection) -> None:
    # An older program would read a body of a later form as one of its own.
    set_value(connection, FORMS, "{}")


def _signed_heads(connection: Connection) -> None:
    connection.execute(
        text(
            "CREATE TABLE tree_head (bench VARCHAR(64) NOT NULL, size INTEGER NOT NULL, "
            "root VARCHAR(64) NOT NULL, utc VARCHAR(27) NOT NULL, "
            "public_key VARCHAR(64) NOT NULL, signature VARCHAR(128) NOT NULL, "
            "PRIMARY KEY (bench, size), "
            "CONSTRAINT ck_tree_head CHECK (size >= 1 AND length(root) = 64)) WITHOUT ROWID"
        )
    )


MIGRATIONS: dict[int, Callable[[Connection], None]] = {
    2: _photographs,
    3: _numbered_forms,
    4: _signed_heads,
}
"""The step that leads to each version after the first; a released step is never edited."""

FORMER = ("unit_part",)
"""Searched tables of earlier versions."""

_VALUE = select(meta.c.value).where(meta.c.key == bindparam("this"))
_SET_VALUE = update(meta).where(meta.c.key == bindparam("this")).values(value=bindparam("value"))


def version_of(path: Path) -> int:
    """Return the version of the file, 0 when it is new. Touches nothing.

    Raises :class:`NewerStoreError`, or :class:`StoreCorruptError` for a file of something else.
    """
    if not path.exists() or path.stat().st_size == 0:
        return 0
    with in_words(str(path)), closing(read_only(path)) as raw:
        (application,) = raw.execute("PRAGMA application_id").fetchone()
        (version,) = raw.execute("PRAGMA user_version").fetchone()
        tables = raw.execute("SELECT count(*) FROM sqlite_master").fetchone()[0]
    if tables == 0:
        return 0
    if application != APPLICATION_ID or version < 1:
        raise StoreCorruptError(
            "this file does not hold records of this program.",
            where=str(path),
            advice="Choose another file; this one was not touched.",
        )
    if version > VERSION:
        raise NewerStoreError(
            f"a newer version of this program wrote these records (form {version}, "
            f"this one knows {VERSION}).",
            where=str(path),
            advice="Use the newer version; nothing was touched.",
        )
    return int(version)


def moved_to(path: Path) -> str:
    """Return when and to which folder the bench was moved; empty: it was not. Touches nothing."""
    with in_words(str(path)), closing(read_only(path)) as raw:
        row = raw.execute("SELECT value FROM meta WHERE key = ?", (MOVED,)).fetchone()
    return str(row[0]) if row is not None else ""


def require_here(path: Path) -> None:
    """Raise :class:`MovedError` for records that were moved away."""
    if said := moved_to(path):
        utc, _, folder = said.partition(" ")
        when = datetime.fromisoformat(utc).astimezone()
        raise MovedError(
            f"the bench was moved to {folder} on {when:%Y-%m-%d %H:%M}.",
            where=str(path),
            advice="Its records can be read here and are written on the new computer alone. A move "
            "that was stopped is finished by 'benchstation move'; 'benchstation move --take' "
            "brings it back here.",
        )


def bring_up_to_date(connection: Connection, path: Path, bench: str, version: int) -> None:
    """Make or migrate the file; ``version`` is what :func:`version_of` gave."""
    if 0 < version < VERSION:
        back_up(path, path.with_name(f"{path.name}.form{version}.backup"))
    with in_words(str(path)), connection.begin():
        if version == 0:
            _create(connection, bench)
        for step in range(version + 1, VERSION + 1) if version else ():
            MIGRATIONS[step](connection)
        if version != VERSION:
            # A pragma takes no parameters; both are this module's own numbers.
            connection.execute(text(f"PRAGMA user_version={VERSION}"))
            connection.execute(text(f"PRAGMA application_id={APPLICATION_ID}"))
            recreate_triggers(connection)
        if value_of(connection, "projections") != projections.VERSION:
            _renew_projections(connection, bench)


def back_up(path: Path, target: Path) -> None:
    """Write a whole, checked copy of the records to ``target``, from any thread."""
    part = part_of(target)
    part.unlink(missing_ok=True)
    with in_words(str(target)):
        with closing(read_only(path)) as source, closing(sqlite3.connect(part)) as copy:
            source.backup(copy)
            _mark_copy(copy)
            (verdict,) = copy.execute("PRAGMA quick_check").fetchone()
            # The copy is one file, with no log beside it.
            copy.execute("PRAGMA journal_mode=DELETE")
        if verdict != "ok":
            raise StoreCorruptError(
                "the copy of the records is damaged; the backup was not made.",
                where=str(path),
                advice="Check the disk, and verify the records.",
                detail=str(verdict),
            )
    put_in_place(part, target)


def _mark_copy(copy: sqlite3.Connection) -> None:
    """Write into the copy that it is one, of which time, and that no program has it open."""
    now = utc_text(datetime.now(UTC))
    for key, value in ((COPIED, now), (IN_USE, "")):
        copy.execute("INSERT OR REPLACE INTO meta VALUES (?, ?)", (key, value))
    copy.commit()


def value_of(connection: Connection, key: str) -> str | None:
    """Return a value of the table ``meta``."""
    return connection.execute(_VALUE, {"this": key}).scalar()


def set_value(connection: Connection, key: str, value: str) -> None:
    """Set a value of the table ``meta`` that is there already or not."""
    if not connection.execute(_SET_VALUE, {"this": key, "value": value}).rowcount:
        connection.execute(insert(meta), {"key": key, "value": value})


def missing_triggers(connection: Connection) -> list[str]:
    """Return the names of the triggers that are gone or say something else."""
    query = text("SELECT name, sql FROM sqlite_master WHERE type = 'trigger'")
    found = {row.name: row.sql for row in connection.execute(query)}
    return [name for name, statement in TRIGGERS.items() if found.get(name) != statement]


def own_bench(connection: Connection, path: Path, bench: str) -> str:
    """Return the bench that the file belongs to; raises when ``bench`` names another."""
    own = value_of(connection, "bench") or ""
    if bench and bench != own:
        raise StoreError(
            f"these are the records of the bench '{own}', not of '{bench}'.",
            where=str(path),
            advice="Name the bench as it was, or choose another file.",
        )
    return own


def own_bench_of(path: Path, bench: str) -> None:
    """Raise :class:`StoreError` when the file at a place holds another bench's records."""
    with in_words(str(path)), closing(read_only(path)) as raw:
        row = raw.execute("SELECT value FROM meta WHERE key = 'bench'").fetchone()
    if row is not None and row[0] != bench:
        raise StoreError(
            f"the copy is of the bench '{bench}', and here are the records of '{row[0]}'.",
            where=str(path),
            advice="Nothing was changed. Choose a copy of this bench. Where the copy is right, "
            "rename the file of the records first.",
        )


def assert_sound(connection: Connection, path: Path, bench: str) -> None:
    """Raise :class:`StoreCorruptError` when the guards are gone or the end was cut off."""
    seq, own = journal.head(connection, bench)
    gone = missing_triggers(connection)
    cut = value_of(connection, "head") != f"{seq}:{own}"
    if gone or cut or not taken_chain.is_whole(connection, bench):
        why = f"guards are missing ({', '.join(gone)})" if gone else "the end was cut off"
        raise StoreCorruptError(
            f"the records were altered by other means: {why}.",
            where=str(path),
            advice="Keep the file as it is, verify it, and continue with the last backup.",
        )


def recreate_triggers(connection: Connection) -> None:
    """Make every trigger anew."""
    for name, statement in TRIGGERS.items():
        connection.execute(text(f"DROP TRIGGER IF EXISTS {name}"))
        connection.execute(text(statement))


def _create(connection: Connection, bench: str) -> None:
    if not bench:
        raise StoreError("new records need the bench's name.", advice="Name the bench.")
    make_tables(connection, core)
    make_tables(connection, projected)
    seq, own = 0, journal.GENESIS
    for key, value in (
        ("bench", bench),
        ("head", f"{seq}:{own}"),
        ("projections", projections.VERSION),
        (FORMS, "{}"),
    ):
        set_value(connection, key, value)


def _renew_projections(connection: Connection, bench: str) -> None:
    for table in reversed(projected.sorted_tables):
        table.drop(connection, checkfirst=True)
    for name in FORMER:
        connection.execute(text(f"DROP TABLE IF EXISTS {name}"))
    make_tables(connection, projected)
    own = value_of(connection, "bench") or bench
    tree = tree_rows.Growing(connection, own)
    for row in taken_chain.rows_as_known(connection, own):
        projections.project(connection, journal.entry_of(row), own)
        if row.bench == own:
            tree.add(row.hash)
    tree.finish()
    set_value(connection, "projections", projections.VERSION)
