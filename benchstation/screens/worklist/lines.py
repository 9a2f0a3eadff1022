"""One line of the worklist, and what makes the lines of a kind."""

from collections.abc import Callable, Sequence
from dataclasses import dataclass, field
from datetime import date

from benchstation.bench.shop import Shop
from benchstation.screens.model.elements import TermGroup, Tone
from benchstation.store.chain_store import ChainStore

MOST = 30
"""So many lines of a kind are listed; one more leads to the rest in Records."""


@dataclass(frozen=True, slots=True)
class Desk:
    """What the lines are made from: records, what holds in the shop, the day, people's names."""

    store: ChainStore
    shop: Shop
    today: date
    names: dict[str, str]
    kept: dict[str, tuple[object, Sequence["WorkLine"]]] = field(default_factory=dict)
    """Lines of costly kinds, and what was filed and checked last as they were found."""


@dataclass(frozen=True, slots=True)
class WorkLine:
    """What waits: its subject, why, and the page and place where the act on it is done."""

    subject: str
    title: str
    why: str
    tone: Tone
    page: str
    place: str
    act: str
    """What the button says that leads there."""
    beside: str = ""
    groups: tuple[TermGroup, ...] = ()


@dataclass(frozen=True, slots=True)
class WorkKind:
    """A kind of lines: how it is called at each of them, and what finds them."""

    id: str
    title: str
    find: Callable[[Desk], Sequence[WorkLine]]
    costly: bool = False
    """Found anew only after something was filed or checked, or on another day."""
