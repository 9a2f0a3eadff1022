"""One bench's line to the shop: what is sent and read over it, a step at a time.

A step that fails drops the line; the next one begins with what both sides hold. So it makes no
difference where in between a line, a server or this program ended.
"""

import logging
import os
import socket
import threading
import time
from collections.abc import Iterator
from contextlib import contextmanager, suppress
from dataclasses import dataclass
from datetime import datetime

from sqlalchemy import Connection, Engine, text

from benchstation.store.backends.postgresql import ShopAddress, shop_engine
from benchstation.store.backends.postgresql_errors import in_shop_words
from benchstation.store.engine import Store
from benchstation.store.shop.batches import FIRST_BYTES, LEAST_BYTES, MOST_BYTES
from benchstation.store.shop.errors import ForkError
from benchstation.store.shop.sending import Position, Sent, record_fork, send_batch
from benchstation.store.shop.taking import ShopReader, feed_lost

# A bench whose line is cut in the middle holds the shop's row until the server notices.
_AT_THE_SERVER = (
    "SET idle_in_transaction_session_timeout = '15s'; SET tcp_user_timeout = '15s'; "
    "SET tcp_keepalives_idle = 5; SET tcp_keepalives_interval = 3; SET tcp_keepalives_count = 3"
)
QUICK_S = 3.0
"""A batch that took less is followed by one of four times its size."""
_LOG = logging.getLogger(__name__)


def _within(count: int) -> int:
    return max(LEAST_BYTES, min(MOST_BYTES, count))


@dataclass(frozen=True, slots=True)
class Exchanged:
    """What a step came to: how many of this bench's entries the shop holds, and what moved."""

    at_shop: int
    sent: int
    """Of this bench's entries, to the shop."""
    took: int
    """Of the shop's entries, to this bench."""


class Exchange:
    """Sends what the shop lacks of this bench, and takes what this bench lacks of the shop."""

    def __init__(self, store: Store, address: ShopAddress) -> None:
        """Connect at the first step."""
        self._store, self._address = store, address
        self._engine: Engine | None = None
        self._shop: Connection | None = None
        self._reader: ShopReader | None = None
        self._thought: Position | None = None
        self._most_bytes = FIRST_BYTES
        self._cut = False
        self._guard = threading.Lock()

    def step(self, now: datetime) -> Exchanged:
        """Send one batch and take one part of the shop's chain.

        Raises :class:`ForkError`, which is on record at the shop then; and :class:`StoreError` for
        everything else that the world does.
        """
        with self._line() as shop:
            try:
                done = self._send(shop, now)
                # What a bench has to say comes first; it is not kept up by asking in between.
                took = 0 if done.left else self._take(shop, now)
            except ForkError as fork:
                _LOG.critical("fork: %s", fork)
                with shop.begin(), self._store.reading() as local:
                    record_fork(shop, local, fork, now)
                raise
            return Exchanged(done.head[0], done.entries, took)

    def _send(self, shop: Connection, now: datetime) -> Sent:
        with shop.begin(), self._store.reading() as local:
            began, bench = time.monotonic(), self._store.bench
            done = send_batch(shop, local, bench, self._thought, now, self._most_bytes)
        if done.lost:
            _LOG.warning("the shop lacked %s entries that it had held; sent again", done.lost)
        self._thought = done.head
        quick = time.monotonic() - began < QUICK_S
        self._most_bytes = _within(self._most_bytes * 4 if quick else self._most_bytes // 2)
        return done

    def _take(self, shop: Connection, now: datetime) -> int:
        assert self._reader is not None
        with shop.begin():
            rows = self._reader.next_rows(shop)
        if rows:
            self._store.take_shop(rows, now)
        return len(rows)

    @contextmanager
    def _line(self) -> Iterator[Connection]:
        try:
            with in_shop_words(self._address.where):
                yield self._shop or self._open()
        except BaseException:
            self._most_bytes = _within(self._most_bytes // 4)
            self.close()
            raise

    def _open(self) -> Connection:
        self._engine = shop_engine(self._address)
        shop = self._engine.connect()
        with self._guard:
            self._shop = shop
        if self._cut:
            self.cut()
        with shop.begin():
            shop.execute(text(_AT_THE_SERVER))
        with self._store.reading() as local:
            self._reader = ShopReader(local)
        with shop.begin(), self._store.reading() as local:
            fed = feed_lost(shop, local, self._reader)
        if fed:
            _LOG.warning("the shop's chain lacked %s entries; they were put back", fed)
        return shop

    def cut(self) -> None:
        """Shut the line, so that a step that waits for it fails at once. From any thread."""
        self._cut = True
        with self._guard, suppress(Exception):
            if self._shop is not None and (raw := self._shop.connection.driver_connection):
                with socket.socket(fileno=os.dup(raw.fileno())) as line:
                    line.shutdown(socket.SHUT_RDWR)

    def close(self) -> None:
        """Drop the line; the next step connects."""
        with self._guard:
            shop, self._shop = self._shop, None
        self._reader, self._thought = None, None
        with suppress(Exception):
            if shop is not None:
                shop.invalidate()
                shop.close()
        if self._engine is not None:
            self._engine.dispose()
            self._engine = None
