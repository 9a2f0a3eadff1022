"""Calibrations of a bench that does not exist, as views; names as long as some are."""

from collections.abc import Mapping

import numpy as np

from benchstation.screens.model.elements import (
    ActionView,
    CurveView,
    FieldKind,
    FieldView,
    TaskView,
    TermGroup,
    TermView,
    Tone,
)
from benchstation.screens.model.instruments import BEGIN_STUDY, CALIBRATE, EDIT, END_STUDY, WORK_OUT
from benchstation.screens.model.lists import ListDetail, ListRow
from benchstation.screens.model.records import UNITS_OF

ROWS = (
    ListRow("scale-1", "Bench scale", ("scale, scale-1", "C-26"), "to 2027-02-20", Tone.GOOD),
    ListRow(
        "gauge-1",
        "Stickstoffbefüllungsdruckaufnehmer",
        ("gauge, gauge-1", "no certificate"),
        "no calibration",
        Tone.DANGER,
    ),
)
LEAVE = ActionView("leave", "Cancel", "Esc")
SIGN = TaskView(
    "sign",
    "Sign certificate C-27",
    "It is in force from the next reading on.",
    fields=(
        FieldView("reason", "Why it is put on record", FieldKind.TEXT),
        FieldView("signature", "Your PIN", FieldKind.PIN),
    ),
    actions=(ActionView(CALIBRATE, "Sign and use it", "Return", primary=True), LEAVE),
)


def form(typed: Mapping[str, str]) -> TaskView:
    """Return the form of a certificate."""
    fields = (
        FieldView(
            "certificate", "Certificate number", FieldKind.TEXT, typed.get("certificate", "")
        ),
        FieldView("points", "Points as left", FieldKind.LINES, typed.get("points", "")),
        FieldView("until", "In force until", FieldKind.TEXT, typed.get("until", "")),
    )
    actions = (ActionView(WORK_OUT, "Calculate", "Return", primary=True), LEAVE)
    title, words = "New calibration", "From its certificate."
    return TaskView("certificate", title, words, fields=fields, actions=actions)


def opened(key: str) -> ListDetail:
    """Return an instrument; the scale has a history."""
    row = next(row for row in ROWS if row.key == key)
    group = TermGroup("Calibration in force", (TermView("Certificate", "C-26", strong=True),))
    x = np.array([0.0, 180.0, 365.0])
    curve = CurveView("Drift at 2000 g, g", "days since 2025-02-20", x, (("moved", Tone.PLAIN, x),))
    actions = (
        ActionView(CALIBRATE, "New calibration", "Ctrl+N", primary=True),
        ActionView(BEGIN_STUDY, "Repeatability run", "Ctrl+T"),
        ActionView(UNITS_OF, "Records of its units", "Ctrl+R"),
    )
    return ListDetail(
        row,
        (group,),
        actions,
        {CALIBRATE: form({})},
        {"instrument": key},
        curves=(curve,) if key == "scale-1" else (),
    )


def worked_out(fields: Mapping[str, str]) -> ListDetail:
    """Return a certificate that is over, with a unit whose verdict would be worse."""
    worse = TermView("MR-1042", "charge pass → undecided", "+0.10 bar off target", strong=True)
    return ListDetail(
        ROWS[0],
        (TermGroup("What the error as found did to units", (worse,)),),
        (
            ActionView(CALIBRATE, "Sign it", "Ctrl+S", primary=True),
            ActionView(EDIT, "Change what is typed", "Ctrl+E"),
            LEAVE,
        ),
        {CALIBRATE: SIGN, EDIT: form(fields)},
        dict(fields),
        (("This certificate expired on 2026-03-01.", Tone.DANGER),),
    )


def running() -> ListDetail:
    """Return a repeatability run that waits for the weight."""
    return ListDetail(
        ROWS[0],
        (),
        (ActionView(END_STUDY, "End it, keep nothing", "Ctrl+T"),),
        {},
        {"instrument": "scale-1"},
        (("Put the weight on; hands off. 2 of 10 are kept.", Tone.MANDATORY),),
    )
