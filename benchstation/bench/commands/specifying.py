"""Drafting and approving specifications at the desk."""

from collections.abc import Mapping

from benchstation.bench.session import BenchSession
from benchstation.domain import approval
from benchstation.domain.events import SpecificationDrafted
from benchstation.domain.specification import specification_from
from benchstation.domain.unit_commands import NotAllowedError


def draft(session: BenchSession, fields: Mapping[str, str]) -> str:
    """Keep a draft of a revision."""
    assert session.person is not None
    event = approval.draft(fields.get("source", ""), session.person, session.shop.specifications)
    session.journal([event])
    return f"Draft of {event.specification_id}, revision {event.revision}, is kept."


def approve(session: BenchSession, fields: Mapping[str, str]) -> str:
    """Put a draft into force, by a second person."""
    assert session.person is not None
    name, _, number = fields.get("key", "").removeprefix("draft:").partition("/")
    entry = session.store.drafts().get((name, int(number) if number.isdigit() else 0))
    if entry is None or (name, int(number)) in session.shop.specifications:
        raise NotAllowedError("there is no open draft of it.", where=name or "Specifications")
    assert isinstance(entry.event, SpecificationDrafted)
    event = approval.approve(entry.event, entry.person, session.person)
    session.journal([event])
    specification = specification_from(event.content)
    session.shop.specifications[event.specification_id, event.revision] = specification
    return f"{event.specification_id}, revision {event.revision}, is in force."
