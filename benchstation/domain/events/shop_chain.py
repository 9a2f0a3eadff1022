"""The shop's own chain: who joined it, what of the benches it took in, and what people settled.

The first six stand in the chain of the shop, the next three in that of a bench which joined it.
"""

from dataclasses import dataclass
from typing import Any, ClassVar

from benchstation.domain.events.base import Event
from benchstation.domain.statements import Statement


@dataclass(frozen=True, slots=True)
class ShopFounded(Event):
    """The first entry of the shop's chain."""

    kind: ClassVar[str] = "shop.founded"
    shop_id: str
    name: str


@dataclass(frozen=True, slots=True)
class BenchJoined(Event):
    """A bench belongs to the shop; ``seq`` and ``hash`` are the head of its chain then."""

    kind: ClassVar[str] = "shop.bench_joined"
    bench: str
    public_key: str
    seq: int
    hash: str


@dataclass(frozen=True, slots=True)
class DeskJoined(Event):
    """A desk may sign entries of the shop's chain with this key."""

    kind: ClassVar[str] = "shop.desk_joined"
    desk: str
    public_key: str


@dataclass(frozen=True, slots=True)
class Adopted(Event):
    """A bench's fact that holds in the whole shop from here on.

    ``bench``, ``seq`` and ``hash`` are its entry there, ``person`` and ``utc`` who wrote it when;
    ``what`` and ``content`` are kind and stored body of what the shop keeps of it.
    """

    kind: ClassVar[str] = "shop.adopted"
    bench: str
    seq: int
    hash: str
    person: str
    utc: str
    what: str
    content: dict[str, Any]


@dataclass(frozen=True, slots=True)
class Conflicted(Event):
    """A bench's fact that rests on what the shop had changed meanwhile; a person settles it.

    ``since`` is the entry of the shop's chain that the bench had taken last, and ``in_force`` the
    entry about the same ``subject`` that came between. The other fields are those of ``Adopted``.
    """

    kind: ClassVar[str] = "shop.conflict"
    bench: str
    seq: int
    hash: str
    person: str
    utc: str
    what: str
    content: dict[str, Any]
    subject: str
    since: int
    in_force: int


@dataclass(frozen=True, slots=True)
class Settled(Event):
    """A person who saw both versions of a conflict decided; ``conflict`` is its entry.

    ``decision`` is "shop", "bench" or "both"; ``other`` is the number or name under which the
    bench's version is kept beside the shop's.
    """

    kind: ClassVar[str] = "shop.settled"
    conflict: int
    subject: str
    decision: str
    reason: str
    other: str = ""


@dataclass(frozen=True, slots=True)
class ShopJoined(Event):
    """The bench belongs to a shop from here on."""

    kind: ClassVar[str] = "shop.joined"
    shop_id: str
    name: str


@dataclass(frozen=True, slots=True)
class ShopTaken(Event):
    """From here on this bench knew the shop's chain up to this entry."""

    kind: ClassVar[str] = "shop.taken"
    seq: int
    hash: str


@dataclass(frozen=True, slots=True)
class LearnedLate(Event):
    """What speaks against the work on a unit and was not known while it was done.

    Such as a decision of the shop, or an instrument that then failed its check. ``since_utc`` is
    when it was said or found.
    """

    kind: ClassVar[str] = "unit.learned_late"
    unit_id: str
    what: Statement
    since_utc: str


@dataclass(frozen=True, slots=True)
class LineMoved(Event):
    """Where the rebuild of a unit of an order stands; kept in the shop in place of the whole fact.

    ``state`` is the state of the line by it, ``reason`` why it lies aside or was given back.
    """

    kind: ClassVar[str] = "shop.line_moved"
    line: str
    unit_id: str
    state: str
    reason: str = ""
