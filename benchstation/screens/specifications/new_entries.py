"""What a new step, input, part or disc says until its author writes on: enough to be in order."""

from collections.abc import Mapping
from typing import Any

from benchstation.domain.route_step import StepKind
from benchstation.screens.model.specifications import SheetEntry

Named = tuple[str, SheetEntry]

DISC: Named = ("Add a disc", {"outer": "30 mm", "thickness": "0.2 mm", "count": 1})
PART: Named = ("Add a part", {"number": "number", "name": "name", "count": 1})
OPTION: Named = ("Add an answer", {"id": "answer", "text": "answer"})
NOTE: Named = ("Add a line", {"id": "line", "label": "Line"})
_CHOICE: dict[str, object] = {
    "label": "What is chosen",
    "options": [{"id": "good", "text": "in order"}, {"id": "other", "text": "other", "hold": "qa"}],
}
_TORQUE: dict[str, object] = {"label": "Torque", "nominal": "8 N m", "tolerance": "0.5 N m"}


def _step(kind: StepKind, title: str, instruction: str, **more: object) -> SheetEntry:
    return {
        "id": title.casefold().replace(" ", "_"),
        "kind": kind.value,
        "title": title,
        "instruction": instruction,
        **more,
    }


_STEPS: dict[StepKind, tuple[str, SheetEntry]] = {
    StepKind.CONFIRM: ("Statements", _step(
        StepKind.CONFIRM, "Check", "Look and confirm.", confirmations=["It is so"])),
    StepKind.MEASURE: ("Measured value", _step(
        StepKind.MEASURE, "Measure", "Measure and enter it.", measure={"label": "Value"})),
    StepKind.TORQUE: ("Torque", _step(
        StepKind.TORQUE, "Torque", "Tighten with the torque wrench.", torque=_TORQUE)),
    StepKind.CHOOSE: ("Choice", _step(
        StepKind.CHOOSE, "Choose", "Look and choose.", choose=_CHOICE)),
    StepKind.PARTS: ("Parts", _step(
        StepKind.PARTS, "Parts", "Scan each bag.", parts=[PART[1]])),
    StepKind.STACK: ("Disc stacks", _step(
        StepKind.STACK, "Disc stacks", "Measure the discs in their order.", stack=["as built"])),
    StepKind.PHOTO: ("Photographs", _step(
        StepKind.PHOTO, "Photographs", "Take a picture.", photos={"label": "Picture"})),
    StepKind.NOTE: ("Text", _step(
        StepKind.NOTE, "Remarks", "Write down what the next one should know.",
        text={"label": "Remarks"})),
    StepKind.INPUTS: ("Several inputs", _step(
        StepKind.INPUTS, "Inputs", "Fill in.", inputs=[{"type": "line", "label": "Line"}])),
    StepKind.RELEASE: ("Gas release", _step(
        StepKind.RELEASE, "Release the gas", "Open the gas screw slowly, then push the rod in.",
        confirmations=["Rod, pushed fully in, stays in"], hold_point=True)),
    StepKind.WEIGH: ("Oil weigh-in", _step(
        StepKind.WEIGH, "Oil weigh-in", "Body on the scale: tare, pour, capture when steady.",
        hold_point=True)),
    StepKind.BLEED: ("Bleed", _step(
        StepKind.BLEED, "Close and bleed", "Fit the rod guide and bleed to the mark.",
        hold_point=True)),
    StepKind.CHARGE: ("Gas charge", _step(
        StepKind.CHARGE, "Gas charge", "Rod fully out. Open the bottle valve slowly.",
        hold_point=True)),
    StepKind.SECOND: ("Second reading", _step(
        StepKind.SECOND, "Second reading", "Weigh it after a day.",
        second={"by": ["mass"], "after": "24 h"})),
    StepKind.FILE: ("File", _step(
        StepKind.FILE, "File", "Check the evidence and file the unit.", hold_point=True)),
}  # fmt: skip
_ONCE = (
    StepKind.RELEASE,
    StepKind.WEIGH,
    StepKind.BLEED,
    StepKind.CHARGE,
    StepKind.SECOND,
    StepKind.FILE,
)


def step_entries(steps: list[Any]) -> tuple[Named, ...]:
    """Return the steps that can be added: those that a route has once only while it has none."""
    there = {str(step.get("kind")) for step in steps if isinstance(step, Mapping)}
    ids = {str(step.get("id")) for step in steps if isinstance(step, Mapping)}
    return tuple(
        (name, _with_own_id(entry, ids))
        for kind, (name, entry) in _STEPS.items()
        if kind not in _ONCE or kind.value not in there
    )


def _with_own_id(entry: SheetEntry, ids: set[str]) -> SheetEntry:
    assert isinstance(entry, dict)
    name = str(entry["id"])
    free = next(
        one for n in range(1, len(ids) + 2) if (one := f"{name}_{n}" if n > 1 else name) not in ids
    )
    return {**entry, "id": free}


def input_entries() -> tuple[Named, ...]:
    """Return the inputs that can be added to a step."""
    return (
        ("Statement to confirm", {"type": "confirm", "label": "It is so"}),
        ("Line of text", {"type": "line", "label": "Line"}),
        ("Text", {"type": "text", "label": "Text"}),
        ("Measured value", {"type": "quantity", "label": "Value"}),
        ("Torque", {"type": "torque", **_TORQUE}),
        ("Choice", {"type": "choice", **_CHOICE}),
        ("Part", {"type": "part", "number": "number", "name": "name"}),
        ("Kit or material", {"type": "material", "label": "Kit", "sort": "kit"}),
        ("Photographs", {"type": "photos", "label": "Picture"}),
    )
