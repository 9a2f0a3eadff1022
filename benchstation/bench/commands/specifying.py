"""Drafting and approving specifications at the desk."""

from collections.abc import Mapping

from benchstation.domain import approval
from benchstation.domain.unit_commands import NotAllowedError
from benchstation.domain.events import SpecificationDrafted
from benchstation.domain.specification import specification_from
from benchstation.bench.session import Desk
from benchstation.screens.specifications.page import drafts


def draft(desk: Desk, fields: Mapping[str, str]) -> str:
    """Keep a draft of a revision."""
    assert desk.person is not None
    event = approval.draft(fields.get("source", ""), desk.person, desk.shop.specifications)
    desk.journal([event])
    return f"Draft of {event.specification_id}, revision {event.revision}, is kept."


def approve(desk: Desk, fields: Mapping[str, str]) -> str:
    """Put a draft into force, by a second person."""
    assert desk.person is not None
    name, _, number = fields.get("key", "").removeprefix("draft:").partition("/")
    entry = drafts(desk.store).get((name, int(number) if number.isdigit() else 0))
    if entry is None or (name, int(number)) in desk.shop.specifications:
        raise NotAllowedError("there is no open draft of it.", where=name or "Specifications")
    assert isinstance(entry.event, SpecificationDrafted)
    event = approval.approve(entry.event, entry.person, desk.person)
    desk.journal([event])
    specification = specification_from(event.content)
    desk.shop.specifications[event.specification_id, event.revision] = specification
    return f"{event.specification_id}, revision {event.revision}, is in force."
