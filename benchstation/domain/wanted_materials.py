"""Which received materials a step asks for, each with the field that it is chosen in."""

from collections.abc import Iterator
from dataclasses import dataclass

from benchstation.domain.inputs.material import MaterialInput
from benchstation.domain.inputs.part import PartLine
from benchstation.domain.inputs.torque import TorqueOf, tool_field
from benchstation.domain.materials import Sort
from benchstation.domain.specification import Step

WRENCH = "Torque wrench"


@dataclass(frozen=True, slots=True)
class Wanted:
    """A material that a step asks for; an empty number: any of its sort."""

    field: str
    sort: Sort
    number: str
    label: str


def wanted_by(step: Step) -> Iterator[Wanted]:
    """Return what a step asks for, in the order of its form."""
    for name, asked in ((a.name, a.input) for a in step.asked):
        match asked:
            case PartLine() if asked.lot:
                yield Wanted(name, Sort.PART, asked.number, asked.name)
            case TorqueOf() if asked.tool:
                yield Wanted(tool_field(name), Sort.WRENCH, "", WRENCH)
            case MaterialInput():
                yield Wanted(name, asked.sort, asked.number, asked.label)
            case _:
                pass
