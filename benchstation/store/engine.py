"""The store of one bench: append durably, read back, verify.

One program writes a file at a time; any number may read it. :func:`open_store` is the way in.
"""

import logging
import os
import threading
from collections.abc import Callable, Iterator, Mapping, Sequence
from contextlib import contextmanager, suppress
from datetime import datetime
from pathlib import Path
from types import TracebackType
from typing import Any, Self

from sqlalchemy import Connection, Row
from sqlalchemy.exc import DBAPIError

from benchstation.atomic_file import private_file, private_folder
from benchstation.domain.events import Event, ShopTaken
from benchstation.domain.shop_chain import SHOP
from benchstation.store import append_rules as order
from benchstation.store import (
    closing,
    journal,
    known_forms,
    migrations,
    photo_rows,
    projections,
    put_back,
    signed_heads,
    taken_chain,
    trace_rows,
    tree_rows,
    verification,
)
from benchstation.store.chain_store import ChainStore
from benchstation.store.connections import (
    WriterLock,
    reading_engine,
    undo_half_written,
    writing_engine,
)
from benchstation.store.errors import (
    NotBegunError,
    StoreCorruptError,
    StoreError,
    StoreReadOnlyError,
    in_words,
)
from benchstation.store.head_writer import HeadWriter
from benchstation.store.journal import Entry
from benchstation.store.known_heads import KnownHeads, behind
from benchstation.store.last_entry import LastEntry
from benchstation.store.learned_late import learned_late
from benchstation.store.merkle import Frontier
from benchstation.store.signed_heads import SignedHead
from benchstation.store.taken import taken
from benchstation.store.traces import Trace
from benchstation.store.trust import (
    SIGNED_AT,
    SYSTEM,
    Acceptance,
    Trust,
    accepts_loss,
    first_hash,
    key_fact,
    key_facts,
    sign_now,
)
from benchstation.store.verification import Cancelled, Outside, Progress, Verification
from benchstation.store.verify_apart import verify_apart

_LOG = logging.getLogger(__name__)
APART_FROM = 10_000
"""A journal of so many entries is verified by several processes, and by how many at most."""
MOST_WORKERS = 4


def open_store(
    path: Path,
    bench: str,
    *,
    read_only: bool = False,
    trust: Trust | None = None,
    accepted: Acceptance | None = None,
) -> "Store":
    """Open the records of ``bench``, making or migrating the file unless ``read_only``.

    An empty ``bench`` takes the one that the file names. With ``trust`` its heads are signed, and
    records that lack what was signed are refused with :class:`BehindError`, unless a person
    ``accepted`` that. Raises :class:`StoreError` and its kinds.
    """
    lock = None if read_only else WriterLock(path)
    try:
        if lock is not None:
            _make_folder(path.parent)
            lock.take()
            undo_half_written(path)
        version = migrations.version_of(path)
        if trust is not None and not version and not read_only:
            trust.require_begun(path)
        if version and not read_only:
            migrations.require_here(path)
        if version and not read_only and not accepts_loss(accepted):
            closing.require_entries(path, trust.known if trust is not None else None)
        if version:
            known_forms.require_known(path)
        if read_only and version not in (0, migrations.VERSION):
            raise StoreReadOnlyError(
                "an older version wrote these records; they must be brought up to date first.",
                where=str(path),
                advice="Open them once for writing; a copy of the old form is kept.",
            )
        if read_only and version == 0 and path.is_file():
            raise NotBegunError(
                "no records were begun in this file, or all of them were in its log (the file that "
                "ends in -wal), which is not beside it.",
                where=str(path),
                advice="If it was copied, copy it with 'benchstation backup'. If the bench was "
                "started here for the first time, start it once more: it makes the file whole.",
            )
        if lock is not None:
            _make_private(path)
        return Store(path, bench, lock, version, trust, accepted)
    except BaseException:
        if lock is not None:
            lock.release()
        raise


def _make_folder(folder: Path) -> None:
    try:
        private_folder(folder)
    except OSError as error:
        raise StoreError(
            "the folder for the records cannot be made.",
            where=str(folder),
            advice="Choose a folder that you may write.",
            detail=repr(error),
        ) from error


def _make_private(path: Path) -> None:
    """Let only the owner read the records: the log and its index get the file's own rights."""
    # A file that may not be opened or changed is worded where it is used.
    with suppress(OSError):
        private_file(path)


class Store(ChainStore):
    """The records of one bench. Appending is safe from any thread, one at a time."""

    def __init__(
        self,
        path: Path,
        bench: str,
        lock: WriterLock | None,
        version: int,
        trust: Trust | None = None,
        accepted: Acceptance | None = None,
    ) -> None:
        """Use :func:`open_store`. ``lock`` is the taken writer's lock, ``None`` to read only."""
        self.path = path
        self.trust = trust
        self._head_writer = HeadWriter(trust) if trust is not None else None
        self.on_signed: Callable[[], None] | None = None
        """Called after an append that signed a head, such as a filing."""
        self.on_appended: Callable[[int], None] | None = None
        """Called with the number of the last entry after each append; it returns at once."""
        self._proven_noted = False
        self._last_entry: LastEntry | None = None
        self._frontier: Frontier | None = None
        self._first_hash = ""
        self._last_utc: datetime | None = None
        self._file_lock = lock
        self._lock = threading.RLock()
        self._bulk: tuple[int, Connection] | None = None
        self._head: tuple[int, str] | None = None
        self._forms: dict[str, int] | None = None
        self._closed = False
        self._writer: Connection | None = None
        self._readers = reading_engine(path)
        try:
            if lock is not None:
                with in_words(str(path)):
                    self._writer = writing_engine(path).connect()
                migrations.bring_up_to_date(self._writer, path, bench, version)
            with self.reading() as connection:
                self.bench = migrations.own_bench(connection, path, bench)
                self.shop_seq = taken(connection, self.bench)[0]
                if lock is not None:
                    migrations.assert_sound(connection, path, self.bench)
            if lock is not None:
                self._begin(accepted)
        except BaseException:
            self._dispose()
            raise

    def _begin(self, accepted: Acceptance | None) -> None:
        """Hold the records against what was signed of them, and mark them as in use."""
        assert self._writer is not None
        facts: list[Event] = []
        if self.trust is not None:
            with self.reading() as connection:
                lack = self.trust.lack(connection, self.bench, self.path)
                keys = key_facts(connection, self.bench)
            if lack is not None:
                if accepted is None or not accepts_loss(accepted):
                    raise behind(lack, self.path)
                facts.append(lack.accepted(accepted.reason))
            facts += key_fact(keys, self.trust.key, self.path, accepted)
            self._proven_noted = self.trust.proven.opened(self.path)
            self._last_entry = LastEntry(self.trust.home, self.path)
            self._last_entry.done(self.head())
        closing.mark_in_use(self._writer)
        if facts and self.trust is not None:
            person = accepted.person if accepted is not None else SYSTEM
            self.append(facts, person=person, utc=self.trust.utc())

    @property
    def where(self) -> str:
        """Return the place of the file."""
        return str(self.path)

    @property
    def beside(self) -> Path:
        """Return the place of the file."""
        return self.path

    def __enter__(self) -> Self:
        """Return the store; it is closed at the end."""
        return self

    def __exit__(
        self,
        kind: type[BaseException] | None,
        error: BaseException | None,
        trail: TracebackType | None,
    ) -> None:
        """Close the store."""
        self.close()

    # --- writing -------------------------------------------------------------------------------

    def append(
        self,
        events: Sequence[Event],
        *,
        person: str,
        utc: datetime,
        traces: Sequence[Trace] = (),
        photos: Mapping[str, bytes] | None = None,
        beside: Callable[[Connection], None] | None = None,
    ) -> list[Entry]:
        """Append events with the content they refer to, all or nothing, durable on return.

        ``photos`` are bytes by their SHA-256. ``beside`` writes first, in the same transaction.

        Raises :class:`NotStorableError` for content that could not be given back, and
        :class:`NotInOrderError` for an event that contradicts what is on record.
        """
        blobs = {trace.sha256: trace.encoded for trace in traces}
        with self._lock, self._writing() as connection:
            head = self._head or journal.head(connection, self.bench)
            chained = journal.chained(events, bench=self.bench, head=head, person=person, utc=utc)
            if beside is not None:
                beside(connection)
            trace_rows.keep(connection, blobs, events, str(self.path))
            photo_rows.keep(connection, photos or {}, events, str(self.path))
            if chained:
                journal.write(connection, chained)
                grown = self._frontier or tree_rows.frontier(connection, self.bench, head[0])
                hashes = [entry.hash for entry, _ in chained]
                self._frontier = tree_rows.grow(connection, self.bench, grown, hashes)
            for entry, _ in chained:
                order.admit(connection, self.bench, entry.event, entry.person, str(self.path))
                projections.project(connection, entry)
            if chained:
                forms = known_forms.listed(connection) if self._forms is None else self._forms
                self._forms = known_forms.list_new(connection, forms, events)
                last = chained[-1][0]
                head = (last.seq, last.hash)
                migrations.set_value(connection, "head", f"{last.seq}:{last.hash}")
                self._last_utc = utc
                if self._last_entry is not None and self._bulk is None:
                    self._last_entry.begin((chained[0][0].seq - 1, chained[0][0].prev), head)
            signed = self._signed(connection, events, utc)
            # Under the lock, or another thread would chain to the entry before; a commit that
            # fails forgets it again.
            self._head = head
        self._note_last()
        if signed is not None and self._head_writer is not None:
            self._head_writer.keep(self.path, self._first(), signed)
            if self.on_signed is not None:
                self.on_signed()
        if chained and self.on_appended is not None:
            self.on_appended(head[0])
        return [entry for entry, _ in chained]

    def take_shop(self, rows: Sequence[Row[Any]], utc: datetime) -> list[Entry]:
        """Write what follows in the shop's chain and the fact that it was taken, all or nothing.

        Returns the shop's entries. Raises ``RowError`` for rows that do not follow what was taken.
        """
        with self._lock:
            with self.reading() as connection:
                last = journal.head(connection, SHOP)
            entries = taken_chain.checked_entries(rows, last)
            if entries:
                fact = ShopTaken(entries[-1].seq, entries[-1].hash)

                def beside(connection: Connection) -> None:
                    taken_chain.write(connection, self.bench, rows, entries)
                    known = known_forms.listed(connection)
                    known_forms.list_new(connection, known, [entry.event for entry in entries])
                    self._forms = None

                with self.reading() as connection:
                    late = learned_late(connection, self.bench, entries)
                self.append([fact, *late], person=SYSTEM, utc=utc, beside=beside)
                self.shop_seq = entries[-1].seq
        return entries

    def take_back(self, part: put_back.Part) -> None:
        """Write what of this bench's own entries was missing here and is kept elsewhere.

        Raises :class:`StoreCorruptError` for what does not follow or is not as it was signed.
        """
        with self._lock, self._writing() as connection:
            put_back.write(connection, self.bench, part, str(self.path))
            # All that is remembered of the file's end is asked of the file.
            self._head = self._forms = self._frontier = None

    def _signed(
        self, connection: Connection, events: Sequence[Event], utc: datetime
    ) -> SignedHead | None:
        """Sign the journal's head where one of ``events`` asks for it."""
        asked = any(isinstance(event, SIGNED_AT) for event in events)
        if self.trust is None or self._bulk is not None or not asked:
            return None
        assert self._frontier is not None
        head = self.trust.sign(self.bench, self._frontier, utc)
        signed_heads.keep(connection, head)
        return head

    def _first(self) -> str:
        if not self._first_hash:
            with self.reading() as connection:
                self._first_hash = first_hash(connection, self.bench)
        return self._first_hash

    def _note_last(self) -> None:
        # Under the lock: what another thread is about to write is not there yet.
        with self._lock:
            if self._last_entry is not None and self._bulk is None and self._head is not None:
                self._last_entry.done(self._head)

    def sign_head(self) -> SignedHead | None:
        """Sign the journal as it stands; gives the newest head, ``None`` without a key."""
        if self.trust is None:
            return None
        with self._lock:
            with self._writing() as connection:
                utc = self._last_utc or self.trust.utc()
                head = sign_now(connection, self.trust, self.bench, utc)
            if head is not None and self._head_writer is not None:
                self._head_writer.keep(self.path, self._first(), head)
        return head

    @contextmanager
    def bulk(self) -> Iterator[None]:
        """Group many appends into one commit: nothing is durable before the end, which is all.

        For making history, never at the bench. An exception leaves nothing of the group.
        """
        with self._lock:
            if self._bulk is not None:
                raise StoreError("a group of appends is under way already.", where=str(self.path))
            with self._writing() as connection:
                self._bulk = (threading.get_ident(), connection)
                try:
                    yield
                finally:
                    self._bulk = None
            self._note_last()

    def rebuild_projections(
        self, progress: Progress | None = None, cancelled: Cancelled | None = None
    ) -> int:
        """Make the searched tables again from the journal; gives the number of entries read.

        When stopped, the tables stay as they were and the number is 0.
        """
        with self._lock, self._writing() as connection, connection.begin_nested() as attempt:
            projections.clear(connection)
            total = journal.count(connection, self.bench) + journal.count(connection, SHOP)
            done = 0
            tree = tree_rows.Growing(connection, self.bench)
            for row in taken_chain.rows_as_known(connection, self.bench):
                if cancelled is not None and cancelled():
                    attempt.rollback()
                    return 0
                projections.project(connection, journal.entry_of(row), self.bench)
                if row.bench == self.bench:
                    tree.add(row.hash)
                done += 1
                if progress is not None:
                    progress(done, total)
            tree.finish()
        return done

    def rebuild_indexes(self) -> None:
        """Make every index again from its table."""
        with self._lock, self._writing() as connection:
            connection.exec_driver_sql("REINDEX")

    def back_up(self, target: Path) -> None:
        """Write a whole, checked copy of the records to ``target``."""
        migrations.back_up(self.path, target)

    def close(self) -> None:
        """Sign the last head and close; a second call does nothing."""
        with self._lock:
            if not self._closed and self._writer is not None and self._bulk is None:
                try:
                    self.sign_head()
                    closing.mark_closed(self._writer)
                except (StoreError, DBAPIError):
                    # All is on record; the next start finds it as after a power cut.
                    _LOG.exception("the records were not closed as they should be")
                    self._proven_noted = False
            self._dispose()

    @property
    def writes(self) -> bool:
        """Return True when this store may write."""
        return self._writer is not None

    # --- reading -------------------------------------------------------------------------------

    @contextmanager
    def reading(self) -> Iterator[Connection]:
        """Return a connection that sees one snapshot; for this package. From any thread."""
        if self._closed:
            raise self._is_closed()
        if self._bulk is not None and self._bulk[0] == threading.get_ident():
            with in_words(str(self.path)):
                yield self._bulk[1]
            return
        with in_words(str(self.path)), self._readers.connect() as connection, connection.begin():
            yield connection

    def verify(
        self,
        progress: Progress | None = None,
        cancelled: Cancelled | None = None,
        anchor: tuple[int, str] | None = None,
        known: KnownHeads | None = None,
    ) -> Verification:
        """Check everything; see :func:`verification.verify`. Slow: give it a process of its own.

        A long journal is looked at by several processes.
        """
        known = self.trust.known if self.trust is not None else known
        outside = Outside(self.path, known, anchor)
        try:
            with self.reading() as connection:
                workers = min(MOST_WORKERS, os.cpu_count() or 1)
                if workers < 2 or journal.head(connection, self.bench)[0] < APART_FROM:
                    return verification.verify(connection, self.bench, outside, progress, cancelled)
                return verify_apart(
                    self.path, connection, self.bench, outside, workers, progress, cancelled
                )
        except StoreCorruptError as error:
            return Verification(False, 0, journal.GENESIS, error.what)

    # --- inside --------------------------------------------------------------------------------

    @contextmanager
    def _writing(self) -> Iterator[Connection]:
        if self._closed:
            raise self._is_closed()
        if self._writer is None:
            raise StoreReadOnlyError(
                "the records are open for reading only; nothing of this was kept.",
                where=str(self.path),
                advice="Open them for writing.",
            )
        try:
            with in_words(str(self.path)):
                begin = self._writer.begin_nested if self._bulk else self._writer.begin
                with begin():
                    yield self._writer
        except BaseException:
            # What a failed commit left behind is asked of the file, not remembered.
            self._head = None
            self._forms = None
            self._frontier = None
            raise

    def _is_closed(self) -> StoreError:
        return StoreError("the records are closed.", where=str(self.path), advice="Open them.")

    def _dispose(self) -> None:
        # The writer closes last, so that it is the one to empty the write-ahead log.
        self._closed = True
        if self._head_writer is not None:
            self._head_writer.close()
        if self._last_entry is not None:
            self._last_entry.close()
        self._readers.dispose()
        if self._writer is not None:
            self._writer.close()
            self._writer.engine.dispose()
        if self._file_lock is not None:
            if self._proven_noted and self.trust is not None:
                self.trust.proven.closed(self.path)
                self._proven_noted = False
            self._file_lock.release()
