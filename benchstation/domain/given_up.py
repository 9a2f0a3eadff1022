"""Captured oil that is to count no more: its mass goes, the oil itself is still where it went.

Both going back and weighing again give a mass up. What it weighed is then in the unit, or missing
from it, and in no mass, until somebody has undone it.
"""

from collections.abc import Collection

from benchstation.domain.events import Event, OilUnweighed
from benchstation.domain.oil_balance import Purpose
from benchstation.domain.rebuild import Rebuild
from benchstation.domain.specification import Method, StepKind
from benchstation.domain.statements import Code, Statement

LEAST_KG = 1e-4
"""Less than this was not poured."""


def gone_back(rebuild: Rebuild, step_id: str, gone: Collection[str]) -> list[Event]:
    """Return the doubts where captured masses count no more: what they weighed is still moved.

    None after the way back to the release, since the unit is taken apart from there on, nor where
    the unit was weighed before the pour and is weighed once more.
    """
    specification = rebuild.specification
    release, weigh, bleed = (
        specification.step_of(kind).id
        for kind in (StepKind.RELEASE, StepKind.WEIGH, StepKind.BLEED)
    )
    compares = step_id == weigh and bleed not in rebuild.signatures
    if release in gone or (compares and rebuild.capture(Purpose.BEFORE) is not None):
        return []
    parts = [part for part in rebuild.counting if part.step_id in gone]
    into = sum(part.shown_kg for part in parts if Purpose(part.purpose).adds)
    out = sum(part.shown_kg for part in parts if not Purpose(part.purpose).adds)
    moved = {Purpose.TOPUP: into, Purpose.BLEED: out}
    if weigh in gone:
        moved = {Purpose.POUR: into - out}
    reason = Statement(Code.GONE_BACK)
    return [
        OilUnweighed(rebuild.unit_id, step_id, purpose.value, reason, about_kg)
        for purpose, about_kg in moved.items()
        if abs(about_kg) > LEAST_KG
    ]


def weighed_again(rebuild: Rebuild, step_id: str, purpose: Purpose, lot: str) -> list[Event]:
    """Return the doubt before a tare for weighing again, once; by difference the unit tells."""
    reason = Statement(Code.GIVEN_UP)
    told = [(d.step_id, d.purpose, d.reason) for d in rebuild.unweighed]
    if (step_id, purpose.value, reason) in told:
        return []
    if purpose.adds and rebuild.method is Method.DIFFERENCE:
        return []
    of = (step_id, purpose.value, lot)
    kg = sum(p.shown_kg for p in rebuild.counting if (p.step_id, p.purpose, p.oil_lot) == of)
    return [OilUnweighed(rebuild.unit_id, *of[:2], reason, kg)] if abs(kg) > LEAST_KG else []
