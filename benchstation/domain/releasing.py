"""QA's word on a filed unit: who may say it, and whether it is the first of two. Pure."""

from collections.abc import Collection

from benchstation.domain.disposition import FIRST, RELEASED, Standing
from benchstation.domain.events import UnitDisposed
from benchstation.domain.people import Person, Role
from benchstation.domain.refusals import NotAllowedError

WHERE = "Records"
DISPOSITIONS = ("released", "held", "rejected")
TOGETHER = frozenset((Standing.NOT_RELEASED, Standing.AWAITS_SECOND))
"""Only a unit that stands so is released with others: what is held wants a look of its own."""


def dispose(
    unit_id: str, disposition: str, reason: str, person: Person, batch: str = ""
) -> UnitDisposed:
    """Return QA's word on a filed unit. The store refuses it for a unit that is not filed."""
    if not person.has(Role.QA):
        raise NotAllowedError(
            "a unit is released, held or rejected by QA.",
            where=WHERE,
            advice="Have QA sign in here.",
        )
    if disposition not in DISPOSITIONS:
        raise NotAllowedError(f"there is no such word as '{disposition}'.", where=WHERE)
    if not reason.strip():
        raise NotAllowedError(
            "QA's word needs a reason.", where=WHERE, advice="Say why in a few words."
        )
    return UnitDisposed(unit_id, disposition, reason.strip(), batch)


def signature_of_two(person_id: str, first: str, workers: Collection[str]) -> str:
    """Return the word that a release is where two sign it: the first of them, or the release.

    ``first`` is who signed first and waits for the second, empty where nobody did; ``workers`` are
    those who worked on the unit.
    """
    if person_id in workers:
        raise NotAllowedError(
            "whoever worked on a unit is neither of the two who release it.",
            where=WHERE,
            advice="Have two others of QA sign it. A hold is always possible.",
        )
    if first == person_id:
        raise NotAllowedError(
            "you signed this release already: it awaits the signature of another person.",
            where=WHERE,
            advice="Have another person of QA sign in.",
        )
    return RELEASED if first else FIRST


def why_not_together(standing: Standing, *, seen: bool) -> str:
    """Return in words why a unit is not released with others; empty: nothing against it."""
    if standing not in TOGETHER:
        return f"it is {standing}"
    return "" if seen else "you have not opened its record as it stands"
