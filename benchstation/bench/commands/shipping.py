"""Shipping a released unit, taking it back, and telling its customer what became of its record."""

from dataclasses import dataclass

from benchstation.bench.commands.parsing import named, quantity
from benchstation.bench.messages import Message
from benchstation.bench.session import ANYBODY, LEADS_AND_QA, BenchSession, Command, SignedCommand
from benchstation.domain import shipping
from benchstation.domain.shipping import Consignment, figures_of
from benchstation.domain.specification import Specification, specification_from
from benchstation.domain.unit_commands import NotAllowedError
from benchstation.domain.unit_record import UnitRecord, record_in
from benchstation.quantities.units import Dimension
from benchstation.store.chain_store import ChainStore
from benchstation.store.words_on_units import filed_in


def specification_of(store: ChainStore, record: UnitRecord) -> Specification:
    """Return the revision that a filed unit was built by."""
    named = record.specification
    approved = store.specifications().get((named.id, named.revision))
    if approved is None or approved.content_sha256 != named.sha256:
        raise NotAllowedError(
            f"revision {named.revision} of {named.id} is not on record here as the unit was "
            "built by it.",
            where=record.serial,
            advice="Ship it from the bench that built it.",
        )
    return specification_from(approved.content)


@dataclass(frozen=True, slots=True)
class Ship(SignedCommand):
    """Put on record that a released unit leaves the shop."""

    roles = ANYBODY
    customer: str
    address: str
    order: str
    package: str
    clause: str
    declared: bool = False
    test_gauge_pa: float | None = quantity("test_pressure", Dimension.PRESSURE, default=None)
    burst_gauge_pa: float | None = quantity("burst_pressure", Dimension.PRESSURE, default=None)
    unit_id: str = named("unit", default="")

    def __call__(self, session: BenchSession) -> Message:
        record = record_in(filed_in(session.store, self.unit_id).record)
        specification = specification_of(session.store, record)
        figures = figures_of(record, specification, self.test_gauge_pa, self.burst_gauge_pa)
        to = Consignment(
            self.customer,
            self.address,
            self.order,
            self.package,
            self.clause,
            self.declared,
            self.test_gauge_pa,
            self.burst_gauge_pa,
        )
        session.journal([shipping.ship(self.unit_id, record, figures, to)])
        return Message(f"{record.serial} is shipped to {self.customer}.")


@dataclass(frozen=True, slots=True)
class TakeReturned(SignedCommand):
    """Put on record that a unit came back from its customer."""

    roles = ANYBODY
    complaint: str
    found: str = ""
    unit_id: str = named("unit", default="")

    def __call__(self, session: BenchSession) -> Message:
        filed = filed_in(session.store, self.unit_id)
        session.journal([shipping.take_back(self.unit_id, self.complaint, self.found)])
        return Message(
            f"{filed.serial} is back. It leaves again after another release, or as a new rebuild."
        )


@dataclass(frozen=True, slots=True)
class Examine(Command):
    """Put on record what was found in a unit that came back."""

    found: str
    unit_id: str = named("unit")

    def __call__(self, session: BenchSession) -> Message:
        session.journal([shipping.examine(self.unit_id, self.found)])
        return Message("What was found is on record.")


@dataclass(frozen=True, slots=True)
class TellCustomer(SignedCommand):
    """Put on record that the customer was told what became of a unit's record."""

    roles = LEADS_AND_QA
    how: str
    unit_id: str = named("unit")

    def __call__(self, session: BenchSession) -> Message:
        session.journal([shipping.tell(self.unit_id, self.how)])
        return Message("Noted that the customer was told.")
