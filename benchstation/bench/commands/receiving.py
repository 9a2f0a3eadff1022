"""Receiving kits, parts, wrenches and check weights, in Materials or at the step, and closing."""

from collections.abc import Iterable, Mapping
from dataclasses import dataclass

from benchstation.bench.commands.parsing import named, quantity
from benchstation.bench.judging import tried
from benchstation.bench.messages import Message, attention_if
from benchstation.bench.session import LEADS, WORKERS, BenchSession, Command, SignedCommand
from benchstation.domain.events import MaterialClosed, MaterialReceived
from benchstation.domain.materials import USED_UP, WITHDRAWN, Material, Sort, key_of
from benchstation.domain.receiving import (
    AT_HAND,
    MATERIALS,
    Described,
    material_of,
    refused,
    require_unexpired,
)
from benchstation.domain.unit_commands import NotAllowedError, require_step
from benchstation.domain.wanted_materials import Wanted, wanted_by
from benchstation.driver_api.errors import StationError
from benchstation.quantities.units import Dimension
from benchstation.store.queries import units_with_material

RECEIVE, SCANNED = "receive", "scanned"
"""The form at a step that takes in what is not on record."""


@dataclass(frozen=True, slots=True)
class ReceiveMaterial(Command):
    """Take a kit, a lot of a part, a torque wrench or a check weight into the shop."""

    roles = LEADS
    sort: str
    number: str
    lot: str
    name: str
    supplier: str
    until: str = ""
    certificate: str = ""
    nominal_kg: float | None = quantity("nominal", Dimension.MASS, default=None)
    weight_class: str = ""

    def __call__(self, session: BenchSession) -> Message:
        received = self._received(session)
        session.journal([received])
        material = received.material
        return Message(f"{material.sort.capitalize()} {material.lot} is received.")

    def wrong(self, session: BenchSession) -> Iterable[StationError]:
        return tried(lambda: self._received(session))

    def _received(self, session: BenchSession) -> MaterialReceived:
        if self.sort not in list(Sort):
            raise refused(
                "it is not said what it is.", "Choose kit, part, wrench or weight.", "sort"
            )
        return _received(
            Described(
                Sort(self.sort),
                self.number,
                self.lot,
                self.name,
                self.supplier,
                self.until,
                self.certificate,
                self.nominal_kg,
                self.weight_class,
            ),
            session,
        )


def _received(given: Described, session: BenchSession, at_unit: str = "") -> MaterialReceived:
    """Return the fact that a material is received now; raise for one that may not be."""
    material = material_of(given, session.today)
    require_unexpired(material.until, session.today, calibrated=material.sort.calibrated)
    _require_new(session, material)
    return MaterialReceived(material, at_unit)


def _require_new(session: BenchSession, material: Material) -> None:
    known = session.shop.stock.received.get(material.key)
    if known is not None and not material.sort.calibrated:
        raise refused(
            f"lot {material.lot} of {material.number} is on record.",
            "A lot is never changed: give the new one its own name.",
            "lot",
        )


@dataclass(frozen=True, slots=True)
class UseUpMaterial(Command):
    """Offer a material no longer: it is used up."""

    roles = LEADS
    sort: str = named("material_sort")
    number: str = named("material_number")
    lot: str = named("material_lot")

    def __call__(self, session: BenchSession) -> Message:
        return _close(session, (self.sort, self.number, self.lot), USED_UP, "")


@dataclass(frozen=True, slots=True)
class WithdrawMaterial(SignedCommand):
    """Refuse a material from now on, for a reason, and name the units that have it."""

    roles = LEADS
    reason: str
    sort: str = named("material_sort")
    number: str = named("material_number")
    lot: str = named("material_lot")

    def __call__(self, session: BenchSession) -> Message:
        return _close(session, (self.sort, self.number, self.lot), WITHDRAWN, self.reason)


def _close(session: BenchSession, named_by: tuple[str, str, str], why: str, reason: str) -> Message:
    stock, key = session.shop.stock, key_of(*named_by)
    material = stock.received.get(key)
    if material is None:
        raise refused("nothing is chosen.", "Choose one in the list.")
    if key in stock.closed:
        raise refused(f"{material.lot} is {stock.closed[key].why} already.", "Nothing to do.")
    if why == WITHDRAWN and not reason.strip():
        raise refused("withdrawing needs a reason.", "Say why in a few words.")
    closed = MaterialClosed(material.sort, material.number, material.lot, why, reason.strip())
    session.journal([closed])
    units = units_with_material(session.store, material.sort, material.number, material.lot)
    at_hand = [u for u in units if u.state in AT_HAND]
    warned = "".join(f" {u.serial} {AT_HAND[u.state]} has it." for u in at_hand)
    filed = sum(u.state == "filed" for u in units)
    recalled = f" {filed} filed have it: Records of its units." if filed else ""
    said = f"{material.sort.capitalize()} {material.lot} is {why}.{warned}"
    if why == WITHDRAWN:
        said += recalled
    return Message(said, attention_if(why == WITHDRAWN and bool(units)))


@dataclass(frozen=True, slots=True)
class AskReceive(Command):
    """Ask for the particulars of what was scanned, or is at hand, and is not on record."""

    roles = WORKERS
    form: Mapping[str, str]
    scanned: str = named(SCANNED, default="")

    def __call__(self, session: BenchSession) -> Message:
        require_wanted(session)
        form = {name: text for name, text in self.form.items() if name != SCANNED}
        session.work.keep_typed({**session.work.typed, **form})
        session.work.show_form(RECEIVE)
        session.work.scan_to_receive(self.scanned)
        return Message("Say where it comes from; then it can be chosen.")


@dataclass(frozen=True, slots=True)
class ReceiveHere(Command):
    """Take in at the step what is not on record, with its source, and choose it there."""

    roles = WORKERS
    wanted: str
    """The field of the step that it is for."""
    lot: str
    supplier: str
    until: str = ""
    certificate: str = ""

    def __call__(self, session: BenchSession) -> Message:
        wanted = self._wanted(session)
        received = self._received(session)
        session.journal([received])
        material = received.material
        session.work.close_form()
        session.work.keep_typed({**session.work.typed, wanted.field: material.lot})
        return Message(f"{material.sort.capitalize()} {material.lot} is received and chosen.")

    def wrong(self, session: BenchSession) -> Iterable[StationError]:
        return tried(lambda: self._received(session))

    def _wanted(self, session: BenchSession) -> Wanted:
        choices = {w.field: w for w in require_wanted(session)}
        wanted = choices.get(self.wanted) or (
            next(iter(choices.values())) if len(choices) == 1 else None
        )
        if wanted is None:
            raise refused("what it is for, is not chosen.", "Choose it.", "wanted")
        return wanted

    def _received(self, session: BenchSession) -> MaterialReceived:
        wanted = self._wanted(session)
        number = wanted.number or wanted.label
        filled = Described(
            wanted.sort, number, self.lot, wanted.label, self.supplier, self.until, self.certificate
        )
        return _received(filled, session, session.unit().unit_id)


def require_wanted(session: BenchSession) -> list[Wanted]:
    """Return the materials that the step at hand asks for; raise when it asks for none."""
    found = list(wanted_by(require_step(session.unit())))
    if not found:
        raise NotAllowedError("this step asks for no material.", where=MATERIALS)
    return found
