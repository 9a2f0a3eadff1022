"""What a bench's records rest on besides the file itself: its key, and the last head it signed."""

import logging
from collections.abc import Callable, Sequence
from dataclasses import dataclass
from datetime import UTC, datetime
from enum import StrEnum
from pathlib import Path

from sqlalchemy import Connection

from benchstation.domain.events import BenchKeyMade, Event, UnitFiled
from benchstation.store import journal, signed_heads, tree_rows
from benchstation.store.bench_key import KEY_FILE, BenchKey, bench_key
from benchstation.store.errors import BehindError, StoreError
from benchstation.store.known_heads import KnownHeads, Lack, lack_in
from benchstation.store.merkle import Frontier
from benchstation.store.proven import ProvenHeads
from benchstation.store.schema import journal as journal_table
from benchstation.store.schema import utc_from
from benchstation.store.signed_heads import SignedHead

SIGNED_AT = (UnitFiled, BenchKeyMade)
"""With these a head is signed; and when the records are closed."""
SYSTEM = "bench"
"""Who is named for what the program puts on record by itself."""
_LOG = logging.getLogger(__name__)


def _now() -> datetime:
    return datetime.now(UTC)


class Accepted(StrEnum):
    """What a person accepts."""

    LOSS = "loss"
    """The records lack entries that were there."""
    KEY = "key"
    """This computer's key is another than the one on record."""


@dataclass(frozen=True, slots=True)
class Acceptance:
    """A person's word that the bench goes on with these records as they are."""

    person: str
    reason: str
    what: Accepted = Accepted.LOSS


def accepts_loss(accepted: Acceptance | None) -> bool:
    """Return True when a person accepts that entries are missing."""
    return accepted is not None and accepted.what is Accepted.LOSS


@dataclass(frozen=True, slots=True)
class Trust:
    """The key of this computer and the heads that it knows."""

    key: BenchKey
    known: KnownHeads
    home: Path
    utc: Callable[[], datetime] = _now

    @property
    def proven(self) -> ProvenHeads:
        """Return the notes of what was proven whole."""
        return ProvenHeads(self.home)

    def sign(self, bench: str, frontier: Frontier, utc: datetime) -> SignedHead:
        """Return the signed head of a journal as it is now."""
        return self.key.sign(bench, frontier.size, frontier.root(), utc)

    def keep(self, path: Path, first: str, head: SignedHead) -> None:
        """Keep a head beside the settings; what goes wrong there is logged, nothing is lost."""
        try:
            self.known.keep(path, first, head)
        except StoreError as error:
            _LOG.error("%s", error)

    def lack(self, connection: Connection, bench: str, path: Path) -> Lack | None:
        """Return what the journal lacks of what this computer signed."""
        held = self.known.of(path, first_hash(connection, bench))
        return lack_in(connection, bench, self.known, held)

    def require_begun(self, path: Path) -> None:
        """Raise :class:`BehindError` when there is no file where a journal was signed."""
        known = self.known.of(path, "")
        if known is not None:
            when = f"{utc_from(known.head.utc).astimezone():%Y-%m-%d %H:%M}"
            raise BehindError(
                f"the records are gone: this bench signed {known.head.size} entries ({when}), "
                "and there is no file.",
                where=str(path),
                advice="Nothing was made in its place. Put the newest copy there with "
                "'benchstation restore DIR', or what the shop holds with 'benchstation restore "
                "--shop'.",
            )


def trust_at(home: Path, copies: Sequence[Path] = ()) -> Trust:
    """Return what is kept in the folder of the settings; the key is made at the first time.

    ``copies``: folders whose newest copies are held against the records as well.
    """
    return Trust(bench_key(home), KnownHeads(home, copies), home)


def first_hash(connection: Connection, bench: str) -> str:
    """Return the hash of the first entry, by which a journal is known; empty: there is none."""
    query = journal.selection().where(journal_table.c.seq == 1)
    row = connection.execute(query, {"own": bench}).first()
    return str(row.hash) if row is not None else ""


def key_facts(connection: Connection, bench: str) -> list[str]:
    """Return the public keys on record, in their order."""
    found = journal.read(connection, bench, kind=BenchKeyMade.kind)
    return [entry.event.public_key for entry in found if isinstance(entry.event, BenchKeyMade)]


def key_fact(
    on_record: list[str], key: BenchKey, path: Path, accepted: Acceptance | None
) -> list[Event]:
    """Return the fact of a first or another key; nothing where this key is the one on record.

    Raises :class:`BehindError` where another key signed last and nobody accepted this one.
    """
    if not on_record:
        return [BenchKeyMade(key.public)]
    if on_record[-1] == key.public:
        return []
    if accepted is not None and accepted.what is Accepted.KEY:
        return [BenchKeyMade(key.public, on_record[-1], accepted.reason)]
    raise BehindError(
        "another key signed these records: this computer's key is not the one on record.",
        where=str(path),
        advice=f"Nothing was changed. Put the bench's {KEY_FILE} back beside the settings; where "
        "it is lost or the computer is another, run 'benchstation new-key': a lead signs for it.",
        detail=f"on record {on_record[-1]}, here {key.public}",
    )


def sign_now(connection: Connection, trust: Trust, bench: str, utc: datetime) -> SignedHead | None:
    """Sign the journal as it stands and keep the head in it; ``None`` when nothing is new."""
    size, _ = journal.head(connection, bench)
    last = signed_heads.newest(connection, bench)
    if size == 0 or (last is not None and last.size == size):
        return last
    head = trust.sign(bench, tree_rows.frontier(connection, bench, size), utc)
    signed_heads.keep(connection, head)
    return head
