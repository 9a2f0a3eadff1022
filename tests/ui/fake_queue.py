"""A queue as plain values: a pair that is worked, a set of four, units that lie aside."""

from benchstation.screens.model.elements import FieldKind, FieldView, Tone
from benchstation.screens.model.queue import (
    QueueOrder,
    QueueRow,
    QueueView,
    SetCell,
    SetRow,
    SetView,
)

FRONT, REAR = "Rescue vehicle front, 46 mm", "Rescue vehicle rear, 46 mm"


def row(key: str, order: str, serial: str, position: str, state: str, tone: Tone, **more):
    given = {"due": "2026-11-27", "late": False, "matched": "", "reason": "", "unit_id": f"u{key}"}
    given |= more
    family = REAR if "rear" in position else FRONT
    fields = {"key": key, "order": order, "serial": serial, "position": position}
    return QueueRow(**fields, family=family, state=state, tone=tone, **given)


def cells(*texts: str, marked: bool = False) -> tuple[SetCell, ...]:
    return tuple(SetCell(text, marked and text != "–") for text in texts)


PAIR = SetView(
    f"A-1204, {FRONT}",
    ("front left", "front right"),
    ("MR-3101", "MR-3102"),
    ("filed", "this unit"),
    (
        SetRow(
            "net oil, at reference",
            cells("262.1 mL", "260.4 mL", marked=True),
            "1.7 mL ± 0.3 mL of 1.5 mL",
            "undecided",
            Tone.CAUTION,
        ),
        SetRow(
            "charge, at reference",
            cells("15.05 bar", "14.71 bar", marked=True),
            "0.34 bar ± 0.04 bar of 0.25 bar",
            "does not match",
            Tone.DANGER,
        ),
        SetRow(
            "push force, at reference",
            cells("231.7 N", "226.5 N"),
            "5.2 N ± 0.6 N of 6.0 N",
            "matches",
            Tone.GOOD,
        ),
        SetRow("hold leak", cells("2e-6 Pa m³/s", "4e-6 Pa m³/s"), "", "", Tone.QUIET),
        SetRow(
            "stack, Kompressionsventilscheibenpaket",
            cells("3 x 34/0.2 mm, 1 x 28/0.15 mm", "3 x 34/0.2 mm, 1 x 28/0.15 mm"),
            "",
            "same",
            Tone.GOOD,
        ),
    ),
    "± is U (k = 2) of the difference. In both, so it cancels: gauge calibration.",
)
FOUR = SetView(
    f"A-1205, {FRONT}",
    ("front left", "front right", "rear left", "rear right"),
    ("MR-3201", "MR-3202", "not scanned yet", "not scanned yet"),
    ("waiting",) * 4,
    (SetRow("net oil, at reference", cells("–", "–", "–", "–"), "", "", Tone.QUIET),),
)


def form(count: int) -> tuple[FieldView, ...]:
    fields = [
        FieldView("order", "Order", FieldKind.TEXT, hint="its name, such as A-1204"),
        FieldView("due", "Due", FieldKind.TEXT, hint="2026-03-31, or empty"),
        FieldView("family", "Family", FieldKind.CHOICE, choices=(("f", FRONT), ("r", REAR))),
        FieldView("note", "Note", FieldKind.TEXT),
    ]
    for n in range(1, count + 1):
        fields.append(FieldView(f"position{n}", f"Position {n}", FieldKind.TEXT, f"place {n}"))
        fields.append(FieldView(f"serial{n}", f"Serial {n}", FieldKind.TEXT, hint="empty: later"))
    if count > 1:
        fields.append(FieldView("matched", "Its units are a set", FieldKind.CHECK, "yes"))
    return tuple(fields)


def change() -> tuple[FieldView, ...]:
    return (
        FieldView("due", "Due", FieldKind.TEXT, "2026-11-27"),
        FieldView("note", "Note", FieldKind.TEXT, "the vehicle waits outside"),
        FieldView("matched", "Its units are a set", FieldKind.CHECK, "yes"),
        FieldView("reason", "Why it changes", FieldKind.TEXT),
    )


PLACES = ("front left", "front right", "rear left", "rear right")
QUEUE = QueueView(
    (
        row("", "", "CR-0388", "", "set aside", Tone.CAUTION, due="",
            reason="waits for a rod guide; gas proven out at the release"),
        row("l1", "A-1204", "MR-3101", "front left", "filed", Tone.GOOD, matched="set of 2"),
        row("l2", "A-1204", "MR-3102", "front right", "started", Tone.MANDATORY,
            matched="set of 2"),
        *(
            row(f"m{n}", "A-1205", f"MR-320{n}" if n < 3 else "", where, "waiting", Tone.QUIET,
                matched="set of 4", unit_id="")
            for n, where in enumerate(PLACES, 1)
        ),
        row("n1", "A-1188", "MR-2990", "rear", "on QA hold", Tone.CAUTION, due="2026-11-20",
            late=True, reason="deviation: file"),
    ),
    {
        "A-1204": QueueOrder(
            "A-1204", "Order A-1204, due 2026-11-27", "the vehicle waits outside", (PAIR,), change()
        ),
        "A-1205": QueueOrder("A-1205", "Order A-1205, due 2026-11-27", "", (FOUR,), change()),
        "A-1188": QueueOrder("A-1188", "Order A-1188, due 2026-11-20", "", (), change()),
    },
    {count: form(count) for count in (1, 2, 4)},
    "4 waiting, 1 started, 1 set aside, 1 filed, 1 on QA hold, 1 overdue",
)  # fmt: skip
