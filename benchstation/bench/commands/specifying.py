"""Drafting and approving specifications at the bench."""

from dataclasses import dataclass

from benchstation.bench.commands.parsing import document
from benchstation.bench.gas_weighing import scales_here
from benchstation.bench.messages import Message
from benchstation.bench.session import LEADS, LEADS_AND_QA, BenchSession, Command, SignedCommand
from benchstation.bench.signed_twice import sign_twice
from benchstation.domain import approval
from benchstation.domain.duties import APPROVERS, others
from benchstation.domain.events import SpecificationDrafted
from benchstation.domain.unit_commands import NotAllowedError


@dataclass(frozen=True, slots=True)
class KeepDraft(Command):
    """Keep a draft of a revision."""

    roles = LEADS
    source: str = document()

    def __call__(self, session: BenchSession) -> Message:
        assert session.person is not None
        event = approval.draft(self.source, session.person, session.shop.specifications)
        session.journal([event])
        return Message(f"Draft of {event.specification_id}, revision {event.revision}, is kept.")


@dataclass(frozen=True, slots=True)
class Approve(SignedCommand):
    """Put a draft into force, by a second person."""

    roles = LEADS_AND_QA
    key: str

    def __call__(self, session: BenchSession) -> Message:
        assert session.person is not None
        name, _, number = self.key.removeprefix("draft:").partition("/")
        entry = session.store.drafts().get((name, int(number) if number.isdigit() else 0))
        if entry is None or (name, int(number)) in session.shop.specifications:
            raise NotAllowedError("there is no open draft of it.", where=name or "Specifications")
        assert isinstance(entry.event, SpecificationDrafted)
        scales = scales_here(session)
        author, able = entry.person, others(session.shop.people, APPROVERS, {entry.person})
        if author == session.person.person_id and not able:
            subject = f"{name}/{number}:{entry.event.content_sha256}"
            waits = sign_twice(session, "approve", subject)
            if waits:
                return Message(waits)
            author = ""
        event = approval.approve(entry.event, author, session.person, scales)
        session.journal([event])
        return Message(f"{event.specification_id}, revision {event.revision}, is in force.")
