"""Verifying records with what this computer keeps of them beside the settings.

By default from where they were proven whole before; all of them on demand, and wherever that is not
known or the file was written by anything else than this program since.
"""

import logging
from collections.abc import Callable
from dataclasses import replace
from datetime import UTC, datetime

from benchstation.store.engine import Store
from benchstation.store.errors import StoreError
from benchstation.store.known_heads import KnownHeads
from benchstation.store.proven import Proven, ProvenHeads, State, state_of
from benchstation.store.verification import Cancelled, Outside, Progress, Verification
from benchstation.store.verify_since import proven_by, verify_since

_LOG = logging.getLogger(__name__)


def _now() -> datetime:
    return datetime.now(UTC)


class Verifier:
    """Verifies a store, and notes up to where it was proven beside the settings."""

    def __init__(self, store: Store, known: KnownHeads, utc: Callable[[], datetime] = _now) -> None:
        """Take a store, open for reading or for writing."""
        self._store, self._utc = store, utc
        self._known, self._notes = known, ProvenHeads(known.home)

    def new(
        self,
        progress: Progress | None = None,
        cancelled: Cancelled | None = None,
        anchor: tuple[int, str] | None = None,
    ) -> Verification:
        """Prove what came since the records were proven whole; all where that is not known."""
        path = self._store.path
        notes = self._notes
        proven = notes.of_open(path) if self._store.writes else notes.of_closed(path)
        if proven is None:
            return self.whole(progress, cancelled, anchor)
        before = state_of(path)
        outside = Outside(path, self._known, anchor)
        with self._store.reading() as connection:
            found = verify_since(
                connection, self._store.bench, outside, proven, progress, cancelled
            )
        self._note(found, before)
        return found

    def whole(
        self,
        progress: Progress | None = None,
        cancelled: Cancelled | None = None,
        anchor: tuple[int, str] | None = None,
    ) -> Verification:
        """Prove all of the records."""
        before = state_of(self._store.path)
        found = self._store.verify(progress, cancelled, anchor, self._known)
        self._note(found, before)
        return found

    def _note(self, found: Verification, state: State | None) -> None:
        """Note how far the records are proven, where this computer knows a head of them."""
        path = self._store.path
        try:
            if not found.ok:
                if not found.stopped:
                    self._notes.forget(path)
                return
            if (state is None and not self._store.writes) or self._known.of(path, "") is None:
                return
            with self._store.reading() as connection:
                proven = proven_by(connection, self._store.bench, found, self._utc())
            if proven is not None:
                self._notes.keep(path, self._as_it_is(proven, state))
        except (OSError, StoreError):
            # The next time reads more than it need; the verdict stands.
            _LOG.exception("it was not noted how far the records are proven")

    def _as_it_is(self, proven: Proven, state: State | None) -> Proven:
        return proven if self._store.writes else replace(proven, state=state)
