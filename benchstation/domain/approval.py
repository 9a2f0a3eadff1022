"""How a specification comes into force: drafted by a lead, approved by a second person."""

from collections.abc import Iterable, Mapping
from typing import Any

from benchstation.domain.events import SpecificationApproved, SpecificationDrafted
from benchstation.domain.example_marks import why_still_example
from benchstation.domain.gas_mass import why_never_proven
from benchstation.domain.people import Person, Role
from benchstation.domain.specification import Specification, specification_from_toml
from benchstation.domain.specification_problems import Problem
from benchstation.domain.specification_text import content_of
from benchstation.domain.unit_commands import NotAllowedError

Scales = Iterable[tuple[float, float]]
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
    for problem in not_the_next(specification, in_force):
        raise NotAllowedError(
            f"{problem.words[:1].lower()}{problem.words[1:]}",
            where="Specifications",
            advice=problem.advice,
            field=problem.field,
        )
    return SpecificationDrafted(
        specification.id, specification.revision, source, specification.sha256()
    )


PROVE_THE_GAS = (
    "After the charge add a confirm step at which the line is vented, then a quantity step with "
    'reference = "push force"; or have the unit weighed on a finer scale.'
)
CONFIRM_EACH = "Write your unit's own figures, or confirm each that is right as it stands."
MAKE_IT_YOURS = "Write your unit's own id, family and figures in their place."


def not_the_next(s: Specification, in_force: Iterable[tuple[str, int]]) -> tuple[Problem, ...]:
    """Return why a text is no draft here: an example's name, or another revision than the next."""
    newest = max((n for key, n in in_force if key == s.id), default=0)
    found = []
    if not newest:
        found += [
            Problem(field, f"The {field} is still the example's: {name}.", MAKE_IT_YOURS)
            for field, name in (("id", s.id), ("family", s.family))
            if name.casefold().startswith(EXAMPLE)
        ]
    if s.revision != newest + 1:
        found.append(
            Problem(
                "revision",
                f"Revision {s.revision} is not the next one of {s.id}.",
                f"Write revision = {newest + 1}; a revision on record is never edited.",
            )
        )
    return tuple(found)


def why_not_yet(content: Mapping[str, Any], s: Specification, scales: Scales = ()) -> str:
    """Return why a draft is not approved as it stands; empty: it could be.

    Figures are still the example's, or its route could prove no unit's gas; ``scales`` as in
    ``why_never_proven``.
    """
    return why_still_example(content) or why_never_proven(s, scales)


def how_then(content: Mapping[str, Any]) -> str:
    """Return what to do about :func:`why_not_yet`."""
    return CONFIRM_EACH if why_still_example(content) else PROVE_THE_GAS


def why_not_own(author_id: str, person_id: str) -> str:
    """Return why a draft's own author does not approve it; empty: ``person_id`` is another."""
    return "whoever wrote a draft does not approve it" if author_id == person_id else ""


def approve(
    drafted: SpecificationDrafted,
    author_id: str,
    person: Person,
    scales: Scales = (),
) -> SpecificationApproved:
    """Bring a draft into force. The author cannot: it takes a second pair of eyes.

    What :func:`why_not_yet` says refuses it.
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
    content = content_of(drafted.source)
    why = why_not_yet(content, s, scales)
    if why:
        raise NotAllowedError(f"{why}.", where=s.id, advice=how_then(content))
    return SpecificationApproved(
        s.id, s.revision, s.family, s.title, s.content(), s.sha256(), drafted.source
    )
