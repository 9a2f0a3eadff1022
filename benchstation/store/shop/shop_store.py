"""The records of the whole shop: every chain is read, the shop's own grows."""

import tempfile
import threading
from collections.abc import Callable, Iterator, Mapping, Sequence
from contextlib import AbstractContextManager, contextmanager
from datetime import datetime
from pathlib import Path
from types import MappingProxyType
from typing import Self

from sqlalchemy import Connection, case, select, text

from benchstation.domain.events import Event, ShopFounded
from benchstation.domain.shop_chain import SHOP
from benchstation.store import (
    append_rules,
    journal,
    photo_rows,
    signed_heads,
    trace_rows,
    tree_rows,
)
from benchstation.store.backends.postgresql import ShopAddress, shop_engine
from benchstation.store.backends.postgresql_errors import in_shop_words
from benchstation.store.chain_store import ChainStore
from benchstation.store.errors import StoreError, StoreReadOnlyError
from benchstation.store.journal import Entry
from benchstation.store.known_heads import behind
from benchstation.store.schema import journal as journal_table
from benchstation.store.shop import form, projector
from benchstation.store.shop.checking import check_chains
from benchstation.store.shop_fact_rows import NO_END
from benchstation.store.signed_heads import SignedHead
from benchstation.store.traces import Trace
from benchstation.store.trust import Trust, first_hash
from benchstation.store.verification import Cancelled, Progress, Verification

_LOCK = text("SELECT lock_chain(:chain)")
_LAST_IN_SHOP = case((journal_table.c.bench == SHOP, 1), else_=0)


def open_shop(address: ShopAddress, trust: Trust | None = None) -> "ShopStore":
    """Open the shop's records. With ``trust`` the heads of the shop's chain are signed.

    Raises :class:`StoreError` and its kinds: away, refused, of another form, behind what this
    computer signed.
    """
    store = ShopStore(address, trust)
    try:
        with store.reading() as connection:
            form.require_current(connection, store.where)
        if trust is not None:
            store.require_whole(trust)
    except BaseException:
        store.close()
        raise
    return store


class ShopStore(ChainStore):
    """The records of all benches of a shop. Appending adds to the shop's own chain."""

    bench = SHOP

    def __init__(self, address: ShopAddress, trust: Trust | None = None) -> None:
        """Use :func:`open_shop`."""
        self._where = address.where
        self.place = Path(address.where)
        """The name under which this computer keeps what it signed here."""
        self.trust = trust
        self.on_signed: Callable[[], None] | None = None
        self._engine = shop_engine(address)
        self._readers = self._engine.execution_options(
            isolation_level="REPEATABLE READ", postgresql_readonly=True
        )
        self._lock = threading.Lock()

    @property
    def where(self) -> str:
        """Return the address, without password and parameters."""
        return self._where

    @property
    def beside(self) -> Path:
        """Return the place beside which this computer keeps what waits to be written."""
        home = self.trust.home if self.trust is not None else Path(tempfile.gettempdir())
        return home / SHOP

    def __enter__(self) -> Self:
        """Return the store; it is closed at the end."""
        return self

    def __exit__(self, *_: object) -> None:
        """Close the store."""
        self.close()

    def close(self) -> None:
        """Close all connections; a second call does nothing."""
        self._engine.dispose()

    def require_whole(self, trust: Trust) -> None:
        """Raise :class:`BehindError` when the shop's chain lacks what this computer signed."""
        with in_shop_words(self._where), self._engine.begin() as connection:
            _catch_up(connection, self._where)
            lack = trust.lack(connection, SHOP, self.place)
        if lack is not None:
            raise behind(lack, self.place)

    @contextmanager
    def reading(self) -> Iterator[Connection]:
        """Return a connection that sees one snapshot; for this package. From any thread."""
        with in_shop_words(self._where), self._readers.connect() as connection, connection.begin():
            yield connection

    def entries(self, *, unit_id: str | None = None, kind: str | None = None) -> list[Entry]:
        """Return the entries of all chains, of one unit or kind if asked.

        Each chain in its own order: those of the benches, then what the shop said.
        """
        query = select(journal_table)
        for column, value in ((journal_table.c.unit_id, unit_id), (journal_table.c.kind, kind)):
            if value is not None:
                query = query.where(column == value)
        query = query.order_by(_LAST_IN_SHOP, journal_table.c.bench, journal_table.c.seq)
        with self.reading() as connection:
            # Every index of the chains begins with the bench.
            query = query.where(journal_table.c.bench.in_(projector.chains(connection)))
            return [journal.entry_of(row) for row in connection.execute(query)]

    def append(
        self,
        events: Sequence[Event],
        *,
        person: str,
        utc: datetime,
        traces: Sequence[Trace] = (),
        photos: Mapping[str, bytes] | None = None,
    ) -> list[Entry]:
        """Append events to the shop's chain, under its lock; all or nothing, durable on return.

        Raises :class:`NotStorableError` and :class:`NotInOrderError` as a bench's store does.
        """
        with self._lock, in_shop_words(self._where), self._engine.begin() as connection:
            added = add_to_shop(
                connection,
                events,
                person=person,
                utc=utc,
                where=self._where,
                traces=traces,
                photos=photos or {},
            )
            signed = self._signed(connection, added, utc)
            first = first_hash(connection, SHOP)
        if signed is not None and self.trust is not None:
            self.trust.keep(self.place, first, signed)
        return added

    def _signed(
        self, connection: Connection, added: Sequence[Entry], utc: datetime
    ) -> SignedHead | None:
        if self.trust is None or not added:
            return None
        frontier = tree_rows.frontier(connection, SHOP, added[-1].seq)
        head = self.trust.sign(SHOP, frontier, utc)
        signed_heads.keep(connection, head)
        return head

    def verify(
        self, progress: Progress | None = None, cancelled: Cancelled | None = None
    ) -> Verification:
        """Check every chain: each entry against its hash and the one before, each signed head."""
        with self.reading() as connection:
            return check_chains(connection, projector.chains(connection), progress, cancelled)

    def name(self) -> str:
        """Return the shop's name, as it was founded."""
        with self.reading() as connection:
            founded = journal.read(connection, SHOP, kind=ShopFounded.kind)
        names = [e.event.name for e in founded if isinstance(e.event, ShopFounded)]
        return names[0] if names else SHOP

    def benches(self) -> list[str]:
        """Return the benches that joined, by name."""
        with self.reading() as connection:
            return [bench for bench in projector.chains(connection) if bench != SHOP]

    @property
    def chains(self) -> list[str]:
        """Return the names of all chains."""
        return [SHOP, *self.benches()]

    def of_bench(self, bench: str) -> "BenchInShop":
        """Return the records of one bench."""
        return BenchInShop(self, bench)

    def catch_up(self, cancelled: Callable[[], bool] = bool) -> projector.CaughtUp:
        """Bring the searched tables up to all chains; slow after a long time away."""
        caught = projector.catch_up(self._engine, self._where, cancelled)
        with self.reading() as connection:
            self.shop_seq = projector.stands_at(connection, SHOP)
        return caught


class BenchInShop(ChainStore):
    """The records of one bench as the shop holds them, to read: it answers as the bench would."""

    def __init__(self, store: ShopStore, bench: str) -> None:
        self._store, self.bench = store, bench

    @property
    def where(self) -> str:
        """Return the address of the shop."""
        return self._store.where

    @property
    def beside(self) -> Path:
        """Return what the shop's records have."""
        return self._store.beside

    def reading(self) -> AbstractContextManager[Connection]:
        """Return a connection that sees one snapshot."""
        return self._store.reading()

    def verify(
        self, progress: Progress | None = None, cancelled: Cancelled | None = None
    ) -> Verification:
        """Check this bench's chain as the shop holds it."""
        with self.reading() as connection:
            return check_chains(connection, [self.bench], progress, cancelled)

    def append(self, *_: object, **__: object) -> list[Entry]:
        """Refuse: a chain grows at its own bench."""
        raise StoreReadOnlyError(
            f"what the bench {self.bench} did is written at that bench alone.",
            where=self.where,
            advice="Nothing was kept. What the shop says stands in the shop's own chain.",
        )


def add_to_shop(
    connection: Connection,
    events: Sequence[Event],
    *,
    person: str,
    utc: datetime,
    where: str,
    traces: Sequence[Trace] = (),
    photos: Mapping[str, bytes] = MappingProxyType({}),
) -> list[Entry]:
    """Append events to the shop's chain in the transaction that is open, and project them."""
    connection.execute(_LOCK, {"chain": SHOP})
    _catch_up(connection, where)
    head = journal.head(connection, SHOP)
    chained = journal.chained(events, bench=SHOP, head=head, person=person, utc=utc)
    trace_rows.keep(connection, {t.sha256: t.encoded for t in traces}, events, where)
    photo_rows.keep(connection, photos, events, where)
    for entry, body in chained:
        append_rules.admit(connection, SHOP, entry.event, entry.person, where)
        journal.write(connection, [(entry, body)])
        _catch_up(connection, where)
    return [entry for entry, _ in chained]


def _catch_up(connection: Connection, where: str) -> None:
    """Bring the searched tables up to the shop's chain, which this transaction has locked."""
    problem = projector.project_shop(connection, NO_END)
    if problem:
        raise StoreError(
            f"the shop's own chain cannot be read further: {problem}",
            where=where,
            advice="Nothing was added. A newer version may have written it: bring this one "
            "up to date, else tell QA.",
        )
