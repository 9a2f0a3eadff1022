"""Receiving oil lots by each way their density is known, and closing them."""

from collections.abc import Iterable
from dataclasses import dataclass, field

from benchstation.bench.commands.parsing import named, quantity
from benchstation.bench.judging import tried
from benchstation.bench.messages import Message, attention_if
from benchstation.bench.session import LEADS, BenchSession, Command, SignedCommand
from benchstation.domain.events import OilLotClosed, OilLotReceived
from benchstation.domain.materials import USED_UP, WITHDRAWN
from benchstation.domain.receiving import (
    AT_HAND,
    LONGEST_LOT,
    last_day,
    printed,
    refused,
    require_unexpired,
)
from benchstation.driver_api.errors import StationError
from benchstation.physics.errors import RangeError
from benchstation.physics.oil import GENERAL_EXPANSION_U_REL
from benchstation.physics.oil_lot import (
    OilLot,
    certificate_lot,
    hydrometer_lot,
    own_expansion_lot,
    two_density_lot,
)
from benchstation.quantities.units import Dimension
from benchstation.store.queries import units_with_lot

_FIELD_OF = {
    ("kg/m3", False): "density",
    ("kg/m3", True): "u",
    ("K", False): "at",
    ("K", True): "u_at",
    ("1/K", False): "expansion",
    ("1/K", True): "expansion",
}
"""The field of a quantity that a formula refuses, by its unit and whether it is a spread."""


@dataclass(frozen=True, slots=True)
class _Receive(Command):
    """Take a lot of oil by what is known of its density."""

    roles = LEADS
    lot: str
    oil: str
    source: str
    supplier: str = field(kw_only=True)
    until: str = field(default="", kw_only=True)
    density_kg_m3: float = quantity("density", Dimension.DENSITY)
    u_kg_m3: float = quantity("u", Dimension.DENSITY)

    def known(self) -> OilLot:
        """Return the oil as it follows from what is stated."""
        raise NotImplementedError

    def __call__(self, session: BenchSession) -> Message:
        name, oil = self._name(session), printed(self.oil, "oil", "oil")
        known = self._known()
        source, supplier = self._source(), self._supplier()
        received = OilLotReceived(
            name,
            oil,
            known.oil.rho15_kg_m3,
            known.oil.u_rel,
            known.oil.alpha_per_k,
            source,
            known.oil.u_alpha15_per_k,
            known.oil.covariance_per_k,
            supplier,
            self._until(session),
        )
        session.journal([received])
        return Message(f"Lot {name} is received: {known.route.value}.")

    def wrong(self, session: BenchSession) -> Iterable[StationError]:
        return tried(
            lambda: self._name(session),
            lambda: printed(self.oil, "oil", "oil"),
            self._known,
            self._source,
            self._supplier,
            lambda: self._until(session),
        )

    def _name(self, session: BenchSession) -> str:
        name = printed(self.lot, "lot's name", "lot", LONGEST_LOT)
        if name in session.shop.lots:
            raise refused(
                f"lot {name} is on record.",
                "A lot is never changed: give the new one its own name.",
                "lot",
            )
        return name

    def _known(self) -> OilLot:
        if not self.u_kg_m3 > 0:
            raise refused(
                "the uncertainty of the density is missing.", "Give it, such as 0.3.", "u"
            )
        try:
            return self.known()
        except RangeError as error:
            spread = error.quantity.startswith("uncertainty")
            error.field = _FIELD_OF.get((error.unit, spread), "density")
            raise

    def _source(self) -> str:
        return printed(self.source, "source of the density", "source")

    def _supplier(self) -> str:
        return printed(self.supplier, "supplier", "supplier")

    def _until(self, session: BenchSession) -> str:
        until = last_day(self.until, needed=False)
        require_unexpired(until, session.today)
        return until


@dataclass(frozen=True, slots=True)
class ReceiveByCertificate(_Receive):
    """Take a lot by its certificate at 15 degC, with its own expansion where that is stated."""

    expansion_per_k: float | None = quantity("expansion", Dimension.EXPANSION, default=None)

    def known(self) -> OilLot:
        """Return the oil at 15 degC as certified."""
        if self.expansion_per_k is None:
            return certificate_lot(self.density_kg_m3, self.u_kg_m3)
        # A certificate states none for it: it is taken to be as sure as the general one.
        u_alpha = GENERAL_EXPANSION_U_REL * self.expansion_per_k
        return own_expansion_lot(self.density_kg_m3, self.u_kg_m3, self.expansion_per_k, u_alpha)


@dataclass(frozen=True, slots=True)
class ReceiveByHydrometer(_Receive):
    """Take a lot by one hydrometer reading at a stated temperature."""

    at_k: float = quantity("at", Dimension.TEMPERATURE)
    u_at_k: float = quantity("u_at", Dimension.TEMPERATURE_DIFFERENCE)

    def known(self) -> OilLot:
        """Return the oil at 15 degC, turned from the temperature of the reading."""
        return hydrometer_lot(self.density_kg_m3, self.at_k, self.u_kg_m3, self.u_at_k)


@dataclass(frozen=True, slots=True)
class ReceiveByTwoDensities(ReceiveByHydrometer):
    """Take a lot by two densities at temperatures apart, which give its own expansion."""

    density2_kg_m3: float = quantity("density2", Dimension.DENSITY)
    at2_k: float = quantity("at2", Dimension.TEMPERATURE)

    def known(self) -> OilLot:
        """Return the oil at 15 degC with the expansion that the two densities give."""
        return two_density_lot(
            self.density_kg_m3,
            self.at_k,
            self.density2_kg_m3,
            self.at2_k,
            u_density_kg_m3=self.u_kg_m3,
            u_temperature_k=self.u_at_k,
        )


@dataclass(frozen=True, slots=True)
class UseUpLot(Command):
    """Offer a lot no longer for new units: it is used up."""

    roles = LEADS
    lot: str = named("lot_open")

    def __call__(self, session: BenchSession) -> Message:
        return _close(session, self.lot, USED_UP, "")


@dataclass(frozen=True, slots=True)
class WithdrawLot(SignedCommand):
    """Offer a lot no longer for new units, for a reason."""

    roles = LEADS
    reason: str
    lot: str = named("lot_open")

    def __call__(self, session: BenchSession) -> Message:
        return _close(session, self.lot, WITHDRAWN, self.reason)


def _close(session: BenchSession, lot: str, why: str, reason: str) -> Message:
    if lot not in session.shop.lots:
        raise refused("no lot is chosen.", "Choose one in the list.")
    if lot in session.shop.closed_lots:
        raise refused(
            f"lot {lot} is {session.shop.closed_lots[lot].why} already.", "Nothing to do."
        )
    if why == WITHDRAWN and not reason:
        raise refused("withdrawing a lot needs a reason.", "Say why in a few words.")
    session.journal([OilLotClosed(lot, why, reason)])
    at_hand = [u for u in units_with_lot(session.store, lot) if u.state in AT_HAND]
    warned = "".join(f" {u.serial} {AT_HAND[u.state]} has it." for u in at_hand)
    said = f"Lot {lot} is {why}: no new unit is offered it.{warned}"
    return Message(said, attention_if(at_hand and why == WITHDRAWN))
