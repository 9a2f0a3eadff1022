"""What a journal says of the key that signs it, of entries that were lost, and of its clock."""

from dataclasses import dataclass
from typing import ClassVar

from benchstation.domain.events.base import Event


@dataclass(frozen=True, slots=True)
class BenchKeyMade(Event):
    """The public key (Ed25519, hexadecimal) that signs this journal's heads from here on.

    ``replaces`` is the key before it, and ``reason`` why it is another; empty for the first.
    """

    kind: ClassVar[str] = "bench.key"
    public_key: str
    replaces: str = ""
    reason: str = ""


@dataclass(frozen=True, slots=True)
class LossAccepted(Event):
    """A person goes on with records that lack entries which a signed head proves there were.

    ``kept`` and ``known`` count the entries that are here and that were signed; ``root`` and
    ``signed_utc`` are of that head.
    """

    kind: ClassVar[str] = "bench.loss_accepted"
    kept: int
    known: int
    root: str
    signed_utc: str
    reason: str


@dataclass(frozen=True, slots=True)
class BenchMoved(Event):
    """The bench goes to another computer, as a lead says; nothing is written on this one after."""

    kind: ClassVar[str] = "bench.moved"
    reason: str


@dataclass(frozen=True, slots=True)
class ClockRanBack(Event):
    """The computer's clock was set back: it stands before an entry, or before where it stood."""

    kind: ClassVar[str] = "bench.clock_ran_back"
    last_utc: str
    now_utc: str
