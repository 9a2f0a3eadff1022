"""How a specification comes into force: drafted by a lead, approved by a second person."""

from collections.abc import Iterable, Mapping

from benchstation.domain.events import SpecificationApproved, SpecificationDrafted
from benchstation.domain.gas_mass import why_never_proven
from benchstation.domain.people import Person, Role
from benchstation.domain.specification import Specification, specification_from_toml
from benchstation.domain.unit_commands import NotAllowedError

LONGEST_SOURCE = 200_000
EXAMPLE = "example"
"""What id and family of the shipped example begin with, so that it is no unit's by mistake."""


def draft(
    source: str, author: Person, in_force: Mapping[tuple[str, int], object]
) -> SpecificationDrafted:
    """Propose a revision. Raises ``SpecificationError`` when the text is not one.

    ``in_force`` has a key (id, revision) for each approved revision; the draft must be the next.
    """
    if not author.has(Role.LEAD):
        raise NotAllowedError(
            "a specification is drafted by a bench lead.",
            where="Specifications",
            advice="Have one sign in here.",
        )
    if len(source) > LONGEST_SOURCE:
        raise NotAllowedError("the text is too long for a specification.", where="Specifications")
    specification = specification_from_toml(source, where="draft")
    newest = max((n for key, n in in_force if key == specification.id), default=0)
    example = "" if newest else still_the_example(specification)
    if example:
        raise NotAllowedError(f"{example}.", where="Specifications", advice=MAKE_IT_YOURS)
    if specification.revision != newest + 1:
        raise NotAllowedError(
            f"revision {specification.revision} is not the next one of {specification.id}.",
            where="Specifications",
            advice=f"Write revision = {newest + 1}; a revision on record is never edited.",
        )
    return SpecificationDrafted(
        specification.id, specification.revision, source, specification.sha256()
    )


PROVE_THE_GAS = (
    "After the charge add a confirm step at which the line is vented, then a quantity step with "
    'reference = "push force"; or have the unit weighed on a finer scale.'
)
MAKE_IT_YOURS = "Write your unit's own id, family and figures in their place."


def still_the_example(specification: Specification) -> str:
    """Return what of the text is still the shipped example's name; empty: nothing."""
    for what, name in (("id", specification.id), ("family", specification.family)):
        if name.casefold().startswith(EXAMPLE):
            return f"the {what} is still the example's: {name}"
    return ""


def why_not_own(author_id: str, person_id: str) -> str:
    """Return why a draft's own author does not approve it; empty: ``person_id`` is another."""
    return "whoever wrote a draft does not approve it" if author_id == person_id else ""


def approve(
    drafted: SpecificationDrafted,
    author_id: str,
    person: Person,
    scales: Iterable[tuple[float, float]] = (),
) -> SpecificationApproved:
    """Bring a draft into force. The author cannot: it takes a second pair of eyes.

    A route that could prove no unit's gas is refused; ``scales`` as in ``why_never_proven``.
    """
    if not person.has(Role.LEAD, Role.QA):
        raise NotAllowedError(
            "a specification is approved by a bench lead or QA.",
            where=drafted.specification_id,
            advice="Have one sign in here.",
        )
    own = why_not_own(author_id, person.person_id)
    if own:
        raise NotAllowedError(
            f"{own}.",
            where=drafted.specification_id,
            advice="Have a second lead or QA sign in and look at it.",
        )
    s = specification_from_toml(drafted.source, where="draft")
    unproven = why_never_proven(s, scales)
    if unproven:
        raise NotAllowedError(f"{unproven}.", where=s.id, advice=PROVE_THE_GAS)
    return SpecificationApproved(
        s.id, s.revision, s.family, s.title, s.content(), s.sha256(), drafted.source
    )
