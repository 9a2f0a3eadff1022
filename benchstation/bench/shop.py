"""The shop's master data as the bench works with it, and the guard limits that follow from it."""

from collections.abc import Collection, Iterable, Mapping
from dataclasses import dataclass, field
from datetime import date

from benchstation.bench import staff
from benchstation.domain.events import (
    BadgeSaltMade,
    Event,
    MaterialClosed,
    MaterialReceived,
    OilLotClosed,
    OilLotReceived,
    PersonPrefers,
    SpecificationApproved,
)
from benchstation.domain.guard_limits import USUALLY, GuardLimits, HeardAgain, lowest_rating
from benchstation.domain.materials import WITHDRAWN, Stock, key_of
from benchstation.domain.people import Person
from benchstation.domain.rebuild import Rebuild
from benchstation.domain.shop_chain import Subject
from benchstation.domain.specification import Specification, StepKind, specification_from
from benchstation.store.chain_store import ChainStore

HYSTERESIS = 0.03
WARNING_WITHOUT_UNIT = 0.8
CONNECTING_PA_S = 1e8
"""A gauge that is put on a charged unit jumps to its pressure within one reading."""
CHARGING_PA_S = 1e7
"""Through a fill tool that is connected already, no charge rises as fast as this."""


SORTS = (Subject.PERSON, Subject.SALT, Subject.LOT, Subject.MATERIAL, Subject.SPECIFICATION)
"""What the bench works with of what is the whole shop's; orders are asked for where needed."""


@dataclass(slots=True)
class Shop:
    """The master data that the bench works with."""

    name: str
    bench: str
    people: dict[str, Person]
    lots: dict[str, OilLotReceived]
    specifications: dict[tuple[str, int], Specification]
    ratings: Mapping[str, float]
    """Rating of each part of the pressure path, gauge Pa, without the body's."""
    fill_tool_m3: float = 0.0
    """Dead volume of hose, gauge and valve body, which takes its share of a unit's gas."""
    again: HeardAgain = USUALLY
    """When a limit that somebody has acknowledged is heard again."""
    badge_salts: tuple[str, ...] = ()
    """What badges are marked under; empty until the first one is registered."""
    closed_lots: dict[str, OilLotClosed] = field(default_factory=dict)
    stock: Stock = field(default_factory=Stock)
    """Kits, parts, wrenches and check weights."""
    disputed: frozenset[str] = frozenset()
    """Lots whose number is another oil's in the shop, until a person settles which it is."""

    known_to: int = 0
    """The entry of the shop's chain up to which all this is known."""
    certificates_due: set[str] = field(default_factory=set)
    """Instruments here that a certificate from the shop may be for."""
    _in_force: dict[str, OilLotReceived | None] = field(default_factory=dict)
    """What is in force in the place of lots that are kept as the unit on the bench knew them."""

    def keep_lots(self, known: Mapping[str, OilLotReceived]) -> None:
        """Keep these lots as the unit on the bench knew them; let go of those kept before."""
        for lot, received in self._in_force.items():
            if received is None:
                del self.lots[lot]
            else:
                self.lots[lot] = received
        self._in_force = {}
        for lot, received in known.items():
            if self.lots.get(lot) != received:
                self._in_force[lot] = self.lots.get(lot)
                self.lots[lot] = received

    def renew(self, fresh: "Shop", kept: Collection[str]) -> None:
        """Take over what holds now; the lots named stay as they are until the unit is gone."""
        before = {lot: self.lots[lot] for lot in kept if lot in self.lots}
        self.people, self.lots = fresh.people, fresh.lots
        self.specifications, self.stock = fresh.specifications, fresh.stock
        self.badge_salts, self.closed_lots = fresh.badge_salts, fresh.closed_lots
        self.disputed, self.known_to = fresh.disputed, fresh.known_to
        self._in_force = {}
        self.keep_lots(before)

    def look_at_certificates(self, instruments: Iterable[str]) -> None:
        """Take note that a certificate came which may be for one of these."""
        self.certificates_due |= set(instruments)

    def looked_at_certificate(self, instrument: str) -> None:
        """Take note that the certificate in force is the one that this instrument goes by."""
        self.certificates_due.discard(instrument)

    def pass_over(self, seq: int) -> None:
        """Take note that the shop's entries up to here change nothing that is kept."""
        self.known_to = seq

    def take(self, event: Event) -> None:
        """Bring the master data up to date with one more fact on record."""
        match event:
            case BadgeSaltMade():
                # Benches that joined a shop had salts of their own: no badge of theirs is lost.
                self.badge_salts = tuple(dict.fromkeys((*self.badge_salts, event.salt)))
            case OilLotReceived():
                self.lots[event.lot] = event
            case OilLotClosed():
                self.closed_lots[event.lot] = event
            case MaterialReceived():
                self.stock.receive(event.material)
            case MaterialClosed():
                key = key_of(event.sort, event.number, event.lot)
                self.stock.close(key, event.why, event.reason)
            case SpecificationApproved():
                which = event.specification_id, event.revision
                self.specifications[which] = specification_from(event.content)
            case _:
                staff.take(self.people, event)

    def take_settings(self, name: str, ratings: Mapping[str, float], fill_tool_m3: float) -> None:
        """Bring what the bench's settings say of the shop and the pressure path up to date."""
        self.name, self.ratings, self.fill_tool_m3 = name or self.bench, ratings, fill_tool_m3

    def open_lots(self, today: date) -> list[OilLotReceived]:
        """Return the lots that a new unit may take: received, not closed, not expired."""
        return [lot for lot in list(self.lots.values()) if not self.why_closed(lot.lot, today)]

    def why_closed(self, lot: str, today: date) -> str:
        """Return why a lot on record is offered to no new unit; empty: it is."""
        closed, received = self.closed_lots.get(lot), self.lots.get(lot)
        if closed is not None:
            return closed.why
        if lot in self.disputed:
            return "one number for two oils: settle it first"
        until = received.until if received is not None else ""
        return f"expired since {until}" if until and date.fromisoformat(until) < today else ""

    def withdrawn(self, lot: str) -> OilLotClosed | None:
        """Return how a lot was withdrawn; ``None``: it was not. Used up is no fault of it."""
        closed = self.closed_lots.get(lot)
        return closed if closed is not None and closed.why == WITHDRAWN else None

    def lots_for(self, specification: Specification, today: date) -> list[OilLotReceived]:
        """Return the open lots of the oil that a specification takes."""
        grade = specification.oil.grade.casefold()
        return [lot for lot in self.open_lots(today) if lot.oil.casefold() == grade]

    def lot_wanted(self, specification: Specification, today: date) -> str:
        """Return which oil is needed and where it comes in; empty: an open lot of it is there."""
        if self.lots_for(specification, today):
            return ""
        grade = specification.oil.grade
        return f"no open lot of {grade} is here: a lead receives one on Materials (F11)"

    def current_specifications(self) -> list[Specification]:
        """Return the newest revision of each."""
        newest: dict[str, Specification] = {}
        for key in sorted(self.specifications):
            newest[key[0]] = self.specifications[key]
        return list(newest.values())

    def guard_limits(
        self,
        specification: Specification | None,
        stale_after_s: float,
        max_rate_pa_s: float,
    ) -> GuardLimits:
        """Return the guard's limits: the lowest rating in the path, the unit's body included."""
        ratings = dict(self.ratings)
        warning = None
        if specification is not None:
            ratings["body"] = specification.gas.body_rating
            warning = specification.gas.high_warning
        source, limit = lowest_rating(ratings)
        if warning is None or warning >= limit:
            warning = WARNING_WITHOUT_UNIT * limit
        return GuardLimits(
            warning,
            limit,
            source,
            hysteresis_pa=HYSTERESIS * limit,
            stale_after_s=stale_after_s,
            max_rate_pa_s=max_rate_pa_s,
            again=self.again,
        )

    def limits_at(self, rebuild: Rebuild | None, stale_after_s: float) -> GuardLimits:
        """Return the guard's limits for a unit at its step; ``None``: there is no unit."""
        step = rebuild.current if rebuild else None
        charging = step is not None and step.kind is StepKind.CHARGE
        return self.guard_limits(
            rebuild.specification if rebuild and step else None,
            stale_after_s,
            CHARGING_PA_S if charging else CONNECTING_PA_S,
        )


def shop_from(
    store: ChainStore,
    name: str,
    bench: str,
    ratings: Mapping[str, float],
    fill_tool_m3: float = 0.0,
    again: HeardAgain = USUALLY,
) -> Shop:
    """Read what holds here of the shop's things: the shop's own, and what is this bench's."""
    shop = Shop(
        name,
        bench,
        {},
        {},
        {},
        ratings,
        fill_tool_m3,
        again,
        disputed=disputed_lots(store),
        known_to=store.shop_seq,
    )
    for fact in store.facts(*SORTS):
        shop.take(fact.event)
    for entry in store.entries(kind=PersonPrefers.kind):
        shop.take(entry.event)
    return shop


def disputed_lots(store: ChainStore) -> frozenset[str]:
    """Return the lots that this bench received as another than the shop has under the number."""
    found = (c.fact for c in store.conflicts() if c.fact.bench == store.bench)
    events = (fact.event for fact in found)
    return frozenset(event.lot for event in events if isinstance(event, OilLotReceived))
