"""What the technician of the demonstration types, chooses, scans and photographs at a step."""

import random
import tempfile
from collections.abc import Mapping
from pathlib import Path

from benchstation.bench.commands.evidence import expected_force
from benchstation.bench.session import BenchSession
from benchstation.demo.materials import KIT, WRENCH, part_lot
from benchstation.demo.picture import demo_png
from benchstation.domain.disc_stack import SIDES, as_text, specified
from benchstation.domain.inputs.choice import Choice
from benchstation.domain.inputs.confirmation import Confirmation
from benchstation.domain.inputs.given import YES
from benchstation.domain.inputs.limits import Limits
from benchstation.domain.inputs.line import TextLine
from benchstation.domain.inputs.material import MaterialInput
from benchstation.domain.inputs.part import PartLine
from benchstation.domain.inputs.quantity import Measure, Source
from benchstation.domain.inputs.stack import StackInput, field_id
from benchstation.domain.inputs.text import FreeText
from benchstation.domain.inputs.torque import TorqueOf, tool_field
from benchstation.domain.rebuild import Rebuild
from benchstation.domain.specification import Step

SPREAD = 0.3
"""Share of the tolerance that the technician's hand stays within."""


def typed_at(
    session: BenchSession,
    rebuild: Rebuild,
    step: Step,
    notes: Mapping[str, str],
    chance: random.Random,
) -> dict[str, str]:
    """Return what stands in the form of a step: every statement ticked, every field filled in.

    What a step's own text or choice says is noted under the step's id, a line under its author's.
    """
    typed: dict[str, str] = {}
    lines = iter(step.notes)
    for name, asked in ((a.name, a.input) for a in step.asked):
        match asked:
            case Confirmation():
                typed[name] = YES
            case TextLine():
                line = next(lines, None)
                typed[name] = notes.get(line.id if line else step.id, "")
            case FreeText():
                typed[name] = notes.get(step.id, "")
            case Measure() if asked.source is Source.TYPED:
                limits = asked.limits(expected_force(session, rebuild, step))
                typed[name] = _value(limits, chance) if limits else ""
            case TorqueOf():
                typed |= {name: _value(asked.limits(), chance), tool_field(name): WRENCH}
            case Choice():
                typed[name] = notes.get(step.id, asked.options[0].id)
            case PartLine():
                kit = notes.get("kit", KIT)
                typed[name] = part_lot(kit, asked.number) if asked.lot else YES
            case MaterialInput():
                typed[name] = notes.get("kit", KIT)
            case StackInput():
                stacks = rebuild.specification.stacks
                typed |= {
                    field_id(asked.record, side): as_text(specified(stacks, side)) for side in SIDES
                }
            case _:
                pass
    return typed


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
