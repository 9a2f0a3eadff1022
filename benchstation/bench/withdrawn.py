"""Lots that are in a unit and were withdrawn since: whoever works on it is told, and files it not.

A deviation that named the lot accepts it.
"""

from dataclasses import dataclass

from benchstation.bench.shop import Shop
from benchstation.domain.filing import missing_at_filing
from benchstation.domain.materials import WITHDRAWN, Standing
from benchstation.domain.rebuild import Rebuild
from benchstation.domain.statement_words import withdrawn
from benchstation.domain.used_materials import used_in

JOINED = " and "


@dataclass(frozen=True, slots=True)
class WithdrawnLot:
    """A lot in the unit, and why it was withdrawn."""

    lot: str
    reason: str

    @property
    def words(self) -> str:
        """Return both as a sentence without its end."""
        return withdrawn(self.lot, self.reason)


def withdrawn_from(shop: Shop, rebuild: Rebuild) -> tuple[WithdrawnLot, ...]:
    """Return the withdrawn lots of oil, kits, parts and wrenches in a unit that nobody accepted."""
    named = (str(d.subject.values.get("lot", "")) for d in rebuild.deviations)
    accepted = {lot for text in named for lot in (text, *text.split(JOINED))}
    oil = [rebuild.oil_lot, *(m.oil_lot or rebuild.opened.oil_lot for m in rebuild.counting)]
    found = [(lot, shop.withdrawn(lot)) for lot in oil if lot]
    lots = [WithdrawnLot(lot, closed.reason) for lot, closed in found if closed is not None]
    for signature in rebuild.signatures.values():
        for used in used_in(signature.evidence):
            material = shop.stock.find(used.sort, used.number, used.lot)
            closed = shop.stock.closed.get(material.key) if material is not None else None
            knew = used.supplied is not None and used.supplied.standing is Standing.WITHDRAWN
            if closed is not None and closed.why == WITHDRAWN and not knew:
                lots.append(WithdrawnLot(used.lot, closed.reason))
    return tuple(dict.fromkeys(lot for lot in lots if lot.lot not in accepted))


def values_of(lots: tuple[WithdrawnLot, ...]) -> dict[str, str]:
    """Return withdrawn lots as values of a statement."""
    if not lots:
        return {}
    return {
        "lot": JOINED.join(lot.lot for lot in lots),
        "lot_reason": "; ".join(dict.fromkeys(lot.reason for lot in lots)),
    }


def lacking_at_filing(shop: Shop, rebuild: Rebuild) -> str:
    """Return what a unit lacks at filing, or which lot in it was withdrawn; empty: nothing."""
    lots = withdrawn_from(shop, rebuild)
    return missing_at_filing(rebuild) or "; ".join(lot.words for lot in lots)
