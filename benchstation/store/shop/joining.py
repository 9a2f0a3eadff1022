"""Founding a shop, and letting benches and desks into it: done by the database's owner."""

from collections.abc import Sequence
from dataclasses import dataclass
from datetime import datetime
from uuid import uuid4

from sqlalchemy import Connection, select

from benchstation.domain.events import BenchJoined, DeskJoined, Event, ShopFounded, ShopJoined
from benchstation.domain.shop_chain import SHOP
from benchstation.store import journal
from benchstation.store.backends.postgresql import ShopAddress, shop_engine
from benchstation.store.backends.postgresql_errors import in_shop_words
from benchstation.store.engine import Store
from benchstation.store.errors import StoreError
from benchstation.store.schema import journal as journal_table
from benchstation.store.shop import form
from benchstation.store.shop.members import add_bench, add_login, new_password, renew_password
from benchstation.store.shop.rules import SHOP_DESK
from benchstation.store.shop.shop_store import add_to_shop
from benchstation.store.shop.tables import bench_chain
from benchstation.store.trust import SYSTEM


@dataclass(frozen=True, slots=True)
class Login:
    """A login of its own for a bench or a desk, and the shop that it is for."""

    address: ShopAddress
    shop_id: str
    name: str


def found_shop(address: ShopAddress, name: str, utc: datetime) -> bool:
    """Make the tables, or bring them up to date; return True when the shop is new."""
    engine = shop_engine(address, statement_timeout_s=0)
    try:
        with in_shop_words(address.where):
            form.bring_up_to_date(engine, utc)
            with engine.begin() as connection:
                if journal.head(connection, SHOP)[0]:
                    return False
                founded = ShopFounded(uuid4().hex, name or address.url.database or SHOP)
                _say(connection, address, founded, SYSTEM, utc)
                return True
    finally:
        engine.dispose()


def join_bench(address: ShopAddress, store: Store, person: str, utc: datetime) -> Login:
    """Let a bench in, and put it on record in both chains; ``address`` is the owner's.

    A bench that joined before gets a new password. Raises :class:`StoreError` where its name is
    another bench's, or where the bench lacks entries that the shop holds.
    """
    assert store.trust is not None
    key, password = store.trust.key.public, new_password()
    engine = shop_engine(address)
    try:
        with in_shop_words(address.where), engine.begin() as connection:
            founded = _founded(connection, address.where)
            _require_own_shop(store, founded, address.where)
            chain = bench_chain.c.bench == store.bench
            known = connection.execute(select(bench_chain).where(chain)).first()
            if known is None:
                role = add_bench(connection, store.bench, password, key, utc)
                seq, own = store.head()
                joined = BenchJoined(store.bench, key, seq, own)
                _say(connection, address, joined, person, utc)
            else:
                _require_same(connection, store, known.public_key, key, address.where)
                role = known.login_role
                renew_password(connection, role, password)
    finally:
        engine.dispose()
    if not store.entries(kind=ShopJoined.kind):
        store.append([ShopJoined(founded.shop_id, founded.name)], person=person, utc=utc)
    return Login(address.as_user(role, password), founded.shop_id, founded.name)


def join_desk(address: ShopAddress, desk: str, public_key: str, utc: datetime) -> Login:
    """Let a desk in, and put its key on record; ``address`` is the owner's."""
    password = new_password()
    engine = shop_engine(address)
    try:
        with in_shop_words(address.where), engine.begin() as connection:
            founded = _founded(connection, address.where)
            role = add_login(connection, SHOP_DESK, desk, password)
            _say(connection, address, DeskJoined(desk, public_key), SYSTEM, utc)
    finally:
        engine.dispose()
    return Login(address.as_user(role, password), founded.shop_id, founded.name)


def _say(
    connection: Connection, address: ShopAddress, fact: Event, person: str, utc: datetime
) -> None:
    add_to_shop(connection, [fact], person=person, utc=utc, where=address.where)


def _founded(connection: Connection, where: str) -> ShopFounded:
    form.require_current(connection, where)
    found = journal.read(connection, SHOP, kind=ShopFounded.kind)
    if not found or not isinstance(found[0].event, ShopFounded):
        raise StoreError(
            "the shop is not founded yet.", where=where, advice="Run 'benchstation shop init'."
        )
    return found[0].event


def _require_own_shop(store: Store, founded: ShopFounded, where: str) -> None:
    joined: Sequence[Event] = [e.event for e in store.entries(kind=ShopJoined.kind)]
    for fact in joined:
        if isinstance(fact, ShopJoined) and fact.shop_id != founded.shop_id:
            raise StoreError(
                f"this bench belongs to another shop, '{fact.name}'.",
                where=where,
                advice="Nothing was changed. A bench joins one shop.",
            )


def _require_same(
    connection: Connection, store: Store, known_key: str, key: str, where: str
) -> None:
    """Raise unless the chain of this name in the shop is the one of this bench."""
    seq, there = journal.head(connection, store.bench)
    own, _ = store.head()
    if seq > own:
        lacks = journal.selection().where(journal_table.c.seq == own)
        row = connection.execute(lacks, {"own": store.bench}).first()
        with store.reading() as local:
            mine = journal.head(local, store.bench)[1]
        if row is not None and row.hash == mine:
            raise StoreError(
                f"the shop holds {seq - own} more entries of this bench than the bench itself.",
                where=where,
                advice="Nothing was changed. Put the newest copy in place first: benchstation "
                "restore DIR",
            )
        raise _taken(store.bench, where)
    if seq == 0:
        if known_key != key:
            raise _taken(store.bench, where)
        return
    with store.reading() as local:
        query = journal.selection().where(journal_table.c.seq == seq)
        row = local.execute(query, {"own": store.bench}).first()
    if row is None or row.hash != there:
        raise _taken(store.bench, where)


def _taken(bench: str, where: str) -> StoreError:
    return StoreError(
        f"another bench of this shop is called '{bench}'.",
        where=where,
        advice="Nothing was changed. Each bench needs a name of its own before its first unit: "
        "bench_id in its settings.",
    )
