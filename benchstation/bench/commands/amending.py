"""Amending a filed record: one person says what is wrong, another looks at it and signs too."""

from dataclasses import dataclass

from benchstation.bench.commands.parsing import named, secret
from benchstation.bench.commands.signing_in import confirmed_by
from benchstation.bench.messages import Message, attention_if
from benchstation.bench.session import LEADS_AND_QA, BenchSession, SignedCommand
from benchstation.bench.signed_twice import sign_twice
from benchstation.domain.amending import AMENDERS, WHERE, Field, Value, amend, fields_of, value_in
from benchstation.domain.disposition import AT_CUSTOMER, course_of, standing_in
from benchstation.domain.duties import names_of, others
from benchstation.domain.materials import Standing
from benchstation.domain.people import Person
from benchstation.domain.unit_commands import NotAllowedError
from benchstation.domain.unit_record import record_in
from benchstation.quantities.units import UnitSystem
from benchstation.store.words_on_units import facts_on, filed_in


@dataclass(frozen=True, slots=True)
class Amend(SignedCommand):
    """Put an amendment of a filed record on record, approved by a second person."""

    roles = LEADS_AND_QA
    field: str
    new: str
    reason: str
    units: UnitSystem
    unit_id: str = named("unit")
    approver: str = ""
    pin: str = secret(default="")

    def __call__(self, session: BenchSession) -> Message:
        assert session.person is not None
        filed = filed_in(session.store, self.unit_id)
        before = [fact.event for fact in facts_on(session.store, self.unit_id)]
        field = fields_of(record_in(filed.record), before).get(self.field)
        if field is None:
            raise NotAllowedError(
                "this field cannot be amended.",
                where=filed.serial,
                advice="What was measured is no typing error: hold or reject the unit.",
                field="field",
            )
        new = value_in(field, self.new, self.units)
        approver = self._approver(session)
        said = amend(
            self.unit_id,
            field,
            new,
            self.reason,
            session.person,
            approver,
            lot_in_order=_in_order(session, field, new),
        )
        if approver == session.person:
            waits = sign_twice(session, "amend", f"{self.unit_id}:{self.field}:{new}")
            if waits:
                return Message(waits)
        session.journal([said])
        course = course_of([*before, said])
        standing = standing_in(course, qa_hold=filed.qa_hold)
        told = [f"Amended: {field.title}. This unit is {standing}."]
        if standing in AT_CUSTOMER:
            told.append("Its customer has it, and is to be told.")
        return Message(" ".join(told), attention_if(bool(said.decision) or len(told) > 1))

    def _approver(self, session: BenchSession) -> Person:
        """Return who approves it; where nobody else is here the one does, and it says so."""
        assert session.person is not None
        own = session.person
        able = others(session.shop.people, AMENDERS, {own.person_id})
        if not able:
            return own
        if not self.approver:
            raise NotAllowedError(
                "an amendment is approved by a second person.",
                where=WHERE,
                advice=f"Have {names_of(able)} look at it and type the PIN in this form.",
                field="approver",
            )
        return confirmed_by(session, self.approver, self.pin)


def _in_order(session: BenchSession, field: Field, new: Value) -> bool:
    """Return True when a new lot or wrench is on record here and could be used."""
    if field.sort is None:
        return True
    found = session.shop.stock.find(field.sort, field.number, str(new))
    return session.shop.stock.standing(found, session.today) is Standing.OPEN
