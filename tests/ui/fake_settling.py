"""Conflicts of a shop that does not exist, as the page To settle shows them at its desk."""

from collections.abc import Sequence
from dataclasses import dataclass, field
from datetime import UTC, datetime, timedelta

from benchstation.domain.events import (
    Event,
    OilLotReceived,
    OrderPlaced,
    PersonEnrolled,
    PersonLeft,
)
from benchstation.domain.people import Person, Role
from benchstation.domain.shop_chain import SHOP, ShopFold, adopt, fold, subject_of
from benchstation.quantities.formatter import METRIC
from benchstation.screens.model.lists import ListDetail, ListRow
from benchstation.screens.settling.page import Settling
from benchstation.store.journal import Entry

START = datetime(2026, 3, 2, 8, 1, tzinfo=UTC)
LEAD = Person("p2", "Maximiliane Oberwiesenfelderhuber", frozenset((Role.LEAD,)), "x")
OIL, CERTIFICATE = "ISO VG 15 damper oil", "supplier's certificate 2026-118"


@dataclass
class FakeShop:
    """The shop's chain, as a desk reads it."""

    bench: str = SHOP
    chain: list[Entry] = field(default_factory=list)

    def say(self, event: Event) -> None:
        seq = len(self.chain) + 1
        when = START + timedelta(minutes=7 * seq)
        self.chain.append(Entry(SHOP, seq, when, "p2", event.kind, event, "", ""))

    def hear(self, bench: str, event: Event) -> None:
        """Judge what a bench said that knew nothing of the shop's chain."""
        when = START + timedelta(minutes=5)
        entry = Entry(bench, 812, when, "p1", event.kind, event, "", "0" * 64)
        self.say(adopt(entry, event, 0, self.chain))

    @property
    def fold(self) -> ShopFold:
        return fold(self.chain)

    def conflicts(self) -> list:
        return list(self.fold.open.values())

    def shop_entry(self, seq: int) -> Entry:
        return self.chain[seq - 1]

    def facts_about(self, subject: str) -> list:
        return [f for f in self.fold.in_force() if subject_of(f.event) == subject]

    def people(self) -> dict[str, PersonEnrolled]:
        found = (fact.event for fact in self.fold.in_force())
        return {e.person_id: e for e in found if isinstance(e, PersonEnrolled)}


def fake_shop(bench: str = SHOP) -> FakeShop:
    shop = FakeShop(bench)
    for key, name in (("p1", "Alex Sample"), ("p2", LEAD.name), ("p3", "Robin Sample")):
        shop.say(PersonEnrolled(key, name, ("technician", "lead"), "x"))
    shop.say(OilLotReceived("L-0417", OIL, 851.3, 3e-4, source=CERTIFICATE, supplier="Oil works"))
    shop.say(PersonEnrolled("p3", "Robin Sample", ("qa",), "x"))
    shop.say(OrderPlaced("Werkstatt am See 118", "2026-04-01", "Front axle", False, ()))
    shop.hear("bench-3", OilLotReceived("L-0417", OIL, 866.1, 3e-4, source="hydrometer"))
    shop.hear("bench-3", PersonLeft("p3", "works in the other shop now"))
    shop.hear("bench-2", OrderPlaced("Werkstatt am See 118", "", "", True, ()))
    return shop


def settling(shop: FakeShop | None = None) -> Sequence[ListRow]:
    return Settling(shop or fake_shop()).rows()  # type: ignore[arg-type]


def open_settling(key: str, shop: FakeShop | None = None) -> ListDetail:
    return Settling(shop or fake_shop()).open(key, LEAD, METRIC)  # type: ignore[arg-type]
