"""Specifications as plain values: four rows, and figures that follow simply from the text."""

import re
from dataclasses import replace

import numpy as np

from benchstation.screens.model.elements import CurveView, TermGroup, TermView, Tone
from benchstation.screens.model.specifications import (
    DrawingView,
    SpecificationDetail,
    SpecificationRow,
)

SLEDGE, TRAIL = "Rescue sledge, 46 mm", "Trail carrier, 40 mm"
TITLE = "Front damper, one floating piston, 46 mm bore"
IN_FORCE = SpecificationRow(
    "k2", SLEDGE, TITLE, 2, "in force", Tone.NORMAL, "Robin Sample, 2026-10-02"
)
DRAFT = replace(IN_FORCE, key="k3", revision=3, state="draft", tone=Tone.CAUTION)
OLDER = replace(IN_FORCE, key="k1", revision=1, state="older", tone=Tone.QUIET)
OTHER = SpecificationRow(
    "k9", TRAIL, "Rear damper", 1, "in force", Tone.NORMAL, "Alex Sample, 2026-09-14"
)
ROWS = (DRAFT, IN_FORCE, OLDER, OTHER)
STROKE, LENGTH, BORE = 0.150, 0.265, 0.046
SOURCE = """# Why: the new seals hold a little more oil.
id = "sledge-46"
revision = {revision}
family = "Rescue sledge, 46 mm"
title = "Front damper, one floating piston, 46 mm bore"

[geometry]
bore = "46 mm"
stroke = "150 mm"

[oil]
volume = "{volume} mL"
tolerance = "2 mL"
"""
_NUMBER = re.compile(r'^(revision|volume) *= *"?([\d.]+)', re.MULTILINE)


def source(revision: int, volume: float = 262) -> str:
    return SOURCE.format(revision=revision, volume=f"{volume:g}")


def drawing(volume: float, travel: float, at: str) -> DrawingView:
    """Return a unit whose floating piston goes back by rod volume, heat and oil."""
    inward = travel * STROKE
    back = inward * (14 / 46) ** 2 + {"cold": -0.005, "hot": 0.012}.get(at, 0.0)
    room = 0.061 - back - (volume - 262) * 1e-6 / (np.pi / 4 * BORE**2)
    face = 0.233 - inward
    return DrawingView(
        f"{inward * 1000:.1f} mm of travel, {at}, {15 + 5 * travel:.2f} bar gauge",
        BORE,
        LENGTH,
        0.014,
        room,
        room + 0.018,
        face,
        face + 0.016,
        STROKE - inward,
    )


def curves(volume: float) -> tuple[CurveView, ...]:
    x = np.linspace(0.0, 150.0, 61)
    base = 15.0 * (volume / 262) ** 4
    lines = tuple(
        (words, tone, base * factor / (1 - x / 150 * steep))
        for words, tone, factor, steep in (
            ("-20 °C, slow", Tone.QUIET, 0.8, 0.2),
            ("20 °C, slow", Tone.PLAIN, 1.0, 0.24),
            ("120 °C, fast", Tone.CAUTION, 1.6, 0.42),
        )
    )
    force = tuple((words, tone, 15.4 * y) for words, tone, y in lines)
    return (
        CurveView(
            "Gas pressure, bar gauge",
            "rod travel, mm",
            x,
            lines,
            (("body rating 80", 80.0, Tone.DANGER),),
        ),
        CurveView("Gas force, N", "rod travel, mm", x, force),
    )


def groups(volume: float) -> tuple[TermGroup, ...]:
    return (
        TermGroup(
            "Fill window",
            (
                TermView("Least oil", "248.8 mL", "limited by: floating piston's clearance, cold"),
                TermView("Specified", f"{volume:.1f} mL ± 2.0 mL", "at 20.0 °C", True),
                TermView("Most oil", "290.5 mL", "limited by: gas pressure at full bump, hot"),
            ),
        ),
        TermGroup(
            "Limits and margins",
            (
                TermView("gas pressure at fast full bump, hot", f"{298 - volume:.2f} bar to spare"),
                TermView("floating piston's room to the gas end", "26.29 mm to spare"),
            ),
        ),
        TermGroup("What follows", (TermView("Gas volume, rod out", "101.5 mL", "20.0 °C"),)),
    )


def checked(
    text: str, travel: float, at: str, row: SpecificationRow | None = None
) -> SpecificationDetail:
    """Check a text: it needs a revision and a volume between 248.8 and 290.5 mL."""
    found = {name: float(number) for name, number in _NUMBER.findall(text)}
    unknown = row or SpecificationRow("", "", "", 0, "draft", Tone.CAUTION, "")
    if "revision" not in found or "volume" not in found:
        return SpecificationDetail(unknown, text, ("oil.volume: Field required.",))
    volume, revision = found["volume"], int(found["revision"])
    if not 248.8 <= volume <= 290.5:
        problem = f"{volume:g} mL is outside the physical fill window."
        return SpecificationDetail(unknown, text, (problem,))
    row = row or replace(DRAFT, key="", revision=revision, tone=Tone.QUIET, by="")
    changes = (
        ("oil.volume", "0.000262", f"{volume * 1e-6:g}"),
        ("revision", f"{revision - 1}", f"{revision}"),
    )[volume == 262 :]
    return SpecificationDetail(
        row,
        text,
        (),
        groups(volume),
        drawing(volume, travel, at),
        curves(volume),
        changes if revision > 1 else (),
    )


def opened(row: SpecificationRow, travel: float, at: str) -> SpecificationDetail:
    return checked(source(row.revision, 262 + row.revision // 3), travel, at, row)
