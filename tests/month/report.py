"""The report of the month, as JSON and as PDF."""

import json
from pathlib import Path
from typing import Any

from reportlab.lib.pagesizes import A4
from reportlab.lib.units import mm
from reportlab.platypus import Flowable, SimpleDocTemplate, Spacer

from benchstation.reports.fonts import register_fonts
from benchstation.reports.paper import (
    BOLD,
    HEAD,
    SMALL,
    TITLE,
    facts_table,
    paragraph,
)
from tests.month.audit import Audit

MARGIN = 18 * mm
LONGEST = 600


def write_report(audit: Audit, folder: Path, seconds: float) -> tuple[Path, Path]:
    """Write both files; return where they are."""
    as_json, as_pdf = folder / "month.json", folder / "month.pdf"
    data = {**audit.as_data(), "seconds": round(seconds, 1)}
    as_json.write_text(json.dumps(data, indent=1, default=str), "utf-8")
    register_fonts()
    story: list[Flowable] = [
        paragraph("A month in the shop", TITLE),
        paragraph("Invented; worked by the program's own commands on virtual devices.", SMALL),
        Spacer(1, 4 * mm),
        paragraph("What was asked at the end", HEAD),
    ]
    for answer in audit.answers:
        word = "agrees" if answer.agrees else "DOES NOT AGREE"
        story.append(paragraph(f"{answer.question}: {word}", BOLD))
        story.append(paragraph(f"the workbench says: {_short(answer.said)}", SMALL))
        if not answer.agrees:
            story.append(paragraph(f"it is so: {_short(answer.so)}", SMALL))
    story += [Spacer(1, 4 * mm), paragraph("Figures", HEAD)]
    facts = [(name, _short(value)) for name, value in audit.figures.items()]
    story.append(facts_table([*facts, ("seconds", f"{seconds:.0f}")], A4[0] - 2 * MARGIN))
    SimpleDocTemplate(str(as_pdf), pagesize=A4, leftMargin=MARGIN, rightMargin=MARGIN).build(story)
    return as_json, as_pdf


def _short(value: Any) -> str:
    if isinstance(value, list) and len(value) > 12:
        return f"{len(value)}: {', '.join(map(_short, value[:6]))} … {_short(value[-1])}"
    if isinstance(value, dict):
        value = [f"{name}: {_short(one)}" for name, one in value.items()]
    between = " " if isinstance(value, tuple) else ", "
    text = between.join(map(_short, value)) if isinstance(value, list | tuple) else str(value)
    return text[:LONGEST] or "none"
