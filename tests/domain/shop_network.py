"""Two benches and the shop as lists of entries: each bench takes and sends when it can."""

from dataclasses import dataclass, field
from datetime import UTC, datetime, timedelta

from benchstation.domain.events import Event, RebuildOpened, ShopTaken
from benchstation.domain.orders import fold_orders
from benchstation.domain.shop_chain import SHOP, adopt, fold, kept_of, settle, subject_of

T0 = datetime(2026, 3, 2, 8, tzinfo=UTC)


@dataclass(frozen=True, slots=True)
class Written:
    """An entry of a chain; the hash is not what is tested here."""

    bench: str
    seq: int
    event: Event
    person: str
    utc: datetime

    @property
    def hash(self) -> str:
        return f"{self.seq:064x}"


@dataclass
class Chain:
    """A chain that grows; a bench also knows what it has taken of the shop's."""

    bench: str
    entries: list[Written] = field(default_factory=list)
    sent: int = 0

    def add(self, event, person="ana"):
        seq = len(self.entries) + 1
        self.entries.append(Written(self.bench, seq, event, person, T0 + timedelta(minutes=seq)))
        return self.entries[-1]


class Network:
    """Two benches and the shop: each bench takes and sends when it can, in any order."""

    def __init__(self):
        self.shop = Chain(SHOP)
        self.benches = {name: Chain(name) for name in ("A", "B")}
        self.lines = {}

    def desk(self, event):
        self.shop.add(event, "desk")

    def bench(self, name, event):
        if isinstance(event, RebuildOpened):
            self.lines[event.unit_id] = event.line
        return self.benches[name].add(event)

    def settle(self, conflict, decision, other="", order=None):
        for event in settle(conflict, decision, "seen both", other, order):
            self.desk(event)

    def order(self):
        return fold_orders(fold(self.shop.entries).in_force()).get("O-1")

    def take(self, name):
        if self.shop.entries:
            last = self.shop.entries[-1]
            self.bench(name, ShopTaken(last.seq, last.hash))

    def send(self, name, most=1000):
        """Send what the shop lacks, in order, as a forwarder does."""
        chain = self.benches[name]
        for entry in chain.entries[chain.sent : chain.sent + most]:
            kept = kept_of(entry.event, self.lines.get(getattr(entry.event, "unit_id", ""), ""))
            if kept is not None:
                taken = self.taken(name, entry.seq)
                self.shop.add(adopt(entry, kept, taken, self.shop.entries[taken:]))
            chain.sent = entry.seq

    def taken(self, name, before=10**9):
        known = [
            e.event.seq
            for e in self.benches[name].entries
            if isinstance(e.event, ShopTaken) and e.seq < before
        ]
        return known[-1] if known else 0

    def works_with(self, name):
        """Return what a bench works with: the shop's chain as it took it, and its own."""
        known = fold(self.shop.entries[: self.taken(name)])
        own = [e for e in self.benches[name].entries if subject_of(e.event) is not None]
        return known.in_force(own)

    def all_sent_and_taken(self):
        for name in self.benches:
            self.send(name)
        for name in self.benches:
            self.take(name)
