"""Receiving oil lots by each way their density is known, and closing them."""

from collections.abc import Mapping

from benchstation.bench.messages import Message, attention_if
from benchstation.bench.session import BenchSession
from benchstation.bench.shop import USED_UP, WITHDRAWN
from benchstation.domain.events import OilLotClosed, OilLotReceived
from benchstation.domain.statement_words import withdrawn as withdrawn_words
from benchstation.domain.unit_commands import NotAllowedError
from benchstation.physics.oil_lot import (
    OilLot,
    certificate_lot,
    hydrometer_lot,
    own_expansion_lot,
    two_density_lot,
)
from benchstation.quantities.units import Dimension, UnitSystem, display_unit, parse
from benchstation.store.queries import lots_in, units_with_lot

MATERIALS = "Materials"
LONGEST_LOT, LONGEST_WORDS = 64, 200
AT_HAND = {"open": "on the bench", "aside": "set aside"}


def receive_certificate(session: BenchSession, fields: Mapping[str, str]) -> str:
    """Take a lot by its certificate at 15 degC, with its own expansion where that is stated."""
    read = _Reader(fields)
    rho, u = read("density", Dimension.DENSITY), read.uncertainty()
    if not fields.get("expansion", "").strip():
        return _receive(session, fields, certificate_lot(rho, u))
    alpha = read("expansion", Dimension.EXPANSION)
    return _receive(session, fields, own_expansion_lot(rho, u, alpha, 0.0))


def receive_hydrometer(session: BenchSession, fields: Mapping[str, str]) -> str:
    """Take a lot by one hydrometer reading at a stated temperature."""
    read = _Reader(fields)
    at_k = read("at", Dimension.TEMPERATURE)
    u_k = read("u_at", Dimension.TEMPERATURE_DIFFERENCE)
    rho = read("density", Dimension.DENSITY)
    return _receive(session, fields, hydrometer_lot(rho, at_k, read.uncertainty(), u_k))


def receive_two_densities(session: BenchSession, fields: Mapping[str, str]) -> str:
    """Take a lot by two densities at temperatures apart, which give its own expansion."""
    read = _Reader(fields)
    density, temperature = Dimension.DENSITY, Dimension.TEMPERATURE
    lot = two_density_lot(
        read("density", density),
        read("at", temperature),
        read("density2", density),
        read("at2", temperature),
        u_density_kg_m3=read.uncertainty(),
        u_temperature_k=read("u_at", Dimension.TEMPERATURE_DIFFERENCE),
    )
    return _receive(session, fields, lot)


def use_up(session: BenchSession, fields: Mapping[str, str]) -> Message:
    """Offer a lot no longer for new units: it is used up."""
    return _close(session, fields.get("lot_open", ""), USED_UP, "")


def withdraw(session: BenchSession, fields: Mapping[str, str]) -> Message:
    """Offer a lot no longer for new units, for a reason."""
    return _close(session, fields.get("lot_open", ""), WITHDRAWN, fields.get("reason", "").strip())


def _close(session: BenchSession, lot: str, why: str, reason: str) -> Message:
    if lot not in session.shop.lots:
        raise _refused("no lot is chosen.", "Choose one in the list.")
    if lot in session.shop.closed_lots:
        raise _refused(
            f"lot {lot} is {session.shop.closed_lots[lot].why} already.", "Nothing to do."
        )
    if why == WITHDRAWN and not reason:
        raise _refused("withdrawing a lot needs a reason.", "Say why in a few words.")
    closed = OilLotClosed(lot, why, reason)
    session.journal([closed])
    session.shop.closed_lots[lot] = closed
    at_hand = [u for u in units_with_lot(session.store, lot) if u.state in AT_HAND]
    warned = "".join(f" {u.serial} {AT_HAND[u.state]} has it." for u in at_hand)
    said = f"Lot {lot} is {why}: no new unit is offered it.{warned}"
    return Message(said, attention_if(at_hand and why == WITHDRAWN))


def withdrawn_in(session: BenchSession, unit_id: str) -> str:
    """Say which lots of a unit were withdrawn, and why; empty: none."""
    closed = [session.shop.withdrawn(lot) for lot in lots_in(session.store, unit_id)]
    said = [withdrawn_words(lot.lot, lot.reason) for lot in closed if lot]
    return "".join(f" L{words[1:]}." for words in said)


class _Reader:
    """Reads quantities; a number without a unit is in the unit that is shown."""

    def __init__(self, fields: Mapping[str, str]) -> None:
        self._fields = fields
        self._system = UnitSystem(fields.get("units", UnitSystem.METRIC))

    def __call__(self, name: str, dimension: Dimension) -> float:
        unit = display_unit(dimension, self._system)
        return parse(self._fields.get(name, ""), dimension, default_unit=unit)

    def uncertainty(self) -> float:
        """Return the standard uncertainty of the density, which is never nothing."""
        u = self("u", Dimension.DENSITY)
        if u <= 0:
            raise _refused("the uncertainty of the density is missing.", "Give it, such as 0.3.")
        return u


def _receive(session: BenchSession, fields: Mapping[str, str], known: OilLot) -> str:
    name, oil = _words(fields, "lot", LONGEST_LOT), _words(fields, "oil", LONGEST_WORDS)
    source = _words(fields, "source", LONGEST_WORDS)
    if name in session.shop.lots:
        raise _refused(
            f"lot {name} is on record.", "A lot is never changed: give the new one its own name."
        )
    own = known.oil.alpha_per_k
    received = OilLotReceived(name, oil, known.oil.rho15_kg_m3, known.oil.u_rel, own, source)
    session.journal([received])
    session.shop.lots[name] = received
    return f"Lot {name} is received: {known.route.value}."


def _words(fields: Mapping[str, str], name: str, longest: int) -> str:
    text = " ".join(fields.get(name, "").split())
    if not text or not text.isprintable() or len(text) > longest:
        called = {"lot": "lot's name", "oil": "oil", "source": "source of the density"}[name]
        raise _refused(
            f"the {called} is missing or cannot be printed.",
            f"Type it, up to {longest} characters.",
        )
    return text


def _refused(what: str, advice: str) -> NotAllowedError:
    return NotAllowedError(what, where=MATERIALS, advice=advice)
