"""What the technician of the demonstration types, chooses, scans and photographs at a step."""

import random
import tempfile
from collections.abc import Mapping
from pathlib import Path

from benchstation.bench.commands.evidence import expected_force
from benchstation.bench.session import BenchSession
from benchstation.demo.picture import demo_png
from benchstation.domain.disc_stack import SIDES, as_text, field_id, specified
from benchstation.domain.measuring import Limits, limits_of
from benchstation.domain.parts import lot_field
from benchstation.domain.rebuild import Rebuild
from benchstation.domain.specification import Step, StepKind
from benchstation.domain.unit_commands import YES

WRENCH = "TW-07"
SPREAD = 0.3
"""Share of the tolerance that the technician's hand stays within."""


def typed_at(
    session: BenchSession,
    rebuild: Rebuild,
    step: Step,
    notes: Mapping[str, str],
    chance: random.Random,
) -> dict[str, str]:
    """Return what stands in the form of a step of one of the recorded kinds."""
    match step.kind:
        case StepKind.MEASURE | StepKind.TORQUE:
            limits = limits_of(step, expected_force(session, rebuild, step))
            return {"value": _value(limits, chance), "tool": WRENCH} if limits else {}
        case StepKind.CHOOSE:
            assert step.choose is not None
            return {"choice": notes.get(step.id, step.choose.options[0].id)}
        case StepKind.NOTE:
            return {"text": notes.get(step.id, "")}
        case StepKind.PARTS:
            kit = notes.get("kit", "K-1")
            return {
                lot_field(n): f"{kit}-{part.number}" if part.lot else YES
                for n, part in enumerate(step.parts, 1)
            }
        case StepKind.STACK:
            return {
                field_id(record, side): as_text(specified(rebuild.specification, side))
                for record in step.stack
                for side in SIDES
            }
        case _:
            return {}


def _value(limits: Limits, chance: random.Random) -> str:
    value = limits.nominal + SPREAD * limits.tolerance * chance.uniform(-1, 1)
    factor, unit, decimals = {
        "length": (1e3, "mm", 2),
        "force": (1.0, "N", 0),
        "torque": (1.0, "N m", 2),
        "mass": (1e3, "g", 1),
        "pressure": (1e-5, "bar", 2),
        "temperature": (1.0, "K", 1),
    }[limits.dimension.value]
    return f"{value * factor:.{decimals}f} {unit}"


def photograph(session: BenchSession, seed: int) -> None:
    """Drop a picture where a camera would, and add it to the step."""
    with tempfile.TemporaryDirectory() as folder:
        path = Path(folder) / "piston.png"
        path.write_bytes(demo_png(seed))
        session.act("add_photo", {"photo": str(path), "caption": "piston with both stacks"})
