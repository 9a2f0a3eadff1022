"""Signing the parts that went in, with their lots."""

from collections.abc import Mapping
from typing import Any

from benchstation.domain.events import Event, StepSigned
from benchstation.domain.rebuild import Rebuild
from benchstation.domain.specification import StepKind
from benchstation.domain.step_content import PartLine
from benchstation.domain.unit_commands import YES, NotAllowedError, form_evidence, require_step

PARTS = "parts"
"""Evidence under this name lists parts as mappings with number, name, count and lot."""
LONGEST_LOT = 64


def lot_field(place: int) -> str:
    """Return the id of the field of the part at a place, counted from 1."""
    return f"lot{place}"


def _tidy(part: PartLine, text: str, where: str) -> str:
    lot = " ".join(text.split())
    if len(lot) > LONGEST_LOT or not lot.isprintable():
        raise NotAllowedError(
            f"the lot of {part.name} is too long or cannot be printed.",
            where=where,
            advice=f"Scan or type it, up to {LONGEST_LOT} characters.",
        )
    return lot


def sign_parts(rebuild: Rebuild, fields: Mapping[str, str]) -> list[Event]:
    """Sign all parts of the step; one without its lot goes on only as a deviation."""
    step = require_step(rebuild, StepKind.PARTS)
    fitted: list[dict[str, Any]] = []
    missing: list[str] = []
    for place, part in enumerate(step.parts, 1):
        given = fields.get(lot_field(place), "")
        lot = _tidy(part, given, step.title) if part.lot else ""
        there = bool(lot) if part.lot else given == YES
        if not there:
            missing.append(f"lot of {part.name}" if part.lot else part.name)
        fitted.append(
            {"number": part.number, "name": part.name, "count": part.count, "lot": lot}
            | ({} if there else {"missing": True})
        )
    if missing and not rebuild.deviated(step.id):
        raise NotAllowedError(
            f"still to do: {'; '.join(missing)}.",
            where=step.title,
            advice="Give each lot, tick what is fitted. Without a lot it needs a deviation.",
        )
    lots = ", ".join(f"{p['name']} {p['lot']}" for p in fitted if p["lot"])
    said = lots or f"{len(fitted)} parts fitted"
    if missing:
        said += f"; accepted as a deviation without: {', '.join(missing)}"
    evidence: dict[str, Any] = {**form_evidence(step, fields), PARTS: fitted}
    return [StepSigned(rebuild.unit_id, step.id, said, evidence)]


def parts_in(evidence: Mapping[str, Any]) -> list[Mapping[str, Any]]:
    """Return the parts that a signature's evidence lists; none for any other evidence."""
    listed = evidence.get(PARTS)
    if not isinstance(listed, list | tuple):
        return []
    return [p for p in listed if isinstance(p, Mapping) and isinstance(p.get("number"), str)]
