"""A QA role, and the new PIN of somebody who has one, are confirmed by QA."""

from dataclasses import dataclass
from typing import Protocol

from benchstation.bench.commands.signing_in import confirmed_by
from benchstation.bench.session import BenchSession
from benchstation.bench.signed_twice import sign_twice
from benchstation.domain.duties import JUDGES, names_of, others
from benchstation.domain.events import Event, PersonEnrolled, QaConfirmed
from benchstation.domain.people import Person, Role
from benchstation.domain.refusals import NotAllowedError


class Asked(Protocol):
    """What a form about people says of it."""

    @property
    def confirmed_by(self) -> str:
        """Return the id of the QA who confirms."""

    @property
    def confirm_pin(self) -> str:
        """Return that QA's PIN."""


@dataclass(frozen=True, slots=True)
class Confirmation:
    """The facts that go on record beside it; ``waits`` says in words what is missing."""

    facts: tuple[Event, ...] = ()
    waits: str = ""


def qa_confirms(session: BenchSession, asked: Asked, person_id: str, *, qa: bool) -> Confirmation:
    """Return QA's confirmation; nothing where ``qa`` is not touched. Raise where QA is missing.

    The first QA of a shop is confirmed by nobody, and so is one where no other QA is left: that
    takes two signatures of the lead. Both are on record as such.
    """
    if not qa:
        return Confirmation()
    able = others(session.shop.people, JUDGES, {person_id})
    by = session.person
    if by is not None and by.person_id in {one.person_id for one in able}:
        return Confirmation((QaConfirmed(person_id, by.person_id),))
    if able:
        if not asked.confirmed_by:
            raise NotAllowedError(
                "a QA role and the PIN of QA are confirmed by QA.",
                where="People",
                advice=f"Have {names_of(able)} type the PIN in this form.",
                field="confirmed_by",
            )
        person = confirmed_by(session, asked.confirmed_by, asked.confirm_pin)
        if person not in able:
            raise NotAllowedError(
                f"{person.name} does not confirm this.",
                where="People",
                advice=f"Have {names_of(able)} confirm it.",
                field="confirmed_by",
            )
        return Confirmation((QaConfirmed(person_id, person.person_id),))
    if not _ever_qa(session):
        return Confirmation((QaConfirmed(person_id, "", first=True),))
    waits = sign_twice(session, "qa", person_id)
    return Confirmation((QaConfirmed(person_id, ""),), waits)


def gains_qa(known: Person | None, roles: frozenset[Role]) -> bool:
    """Return True when somebody would be QA who is not now."""
    return Role.QA in roles and (known is None or known.left or not known.has(Role.QA))


def _ever_qa(session: BenchSession) -> bool:
    """Return True when anybody was QA before: then the next one is not the first."""
    return any(
        isinstance(entry.event, PersonEnrolled) and Role.QA.value in entry.event.roles
        for entry in session.store.entries(kind=PersonEnrolled.kind)
    )
