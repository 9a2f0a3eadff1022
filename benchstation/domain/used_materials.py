"""Which received materials a signature's evidence names."""

from collections.abc import Iterable, Iterator
from dataclasses import dataclass

from benchstation.domain.inputs.material import MaterialTaken
from benchstation.domain.inputs.part import PartFitted
from benchstation.domain.inputs.registry import Result
from benchstation.domain.inputs.torque import Tightened
from benchstation.domain.materials import Sort, Supplied


@dataclass(frozen=True, slots=True)
class Used:
    """A material by its lot or id; ``supplied`` is ``None`` where it was typed, before lists."""

    input: str
    sort: Sort
    number: str
    lot: str
    supplied: Supplied | None


def used_in(evidence: Iterable[Result]) -> Iterator[Used]:
    """Return the materials that are named, each under its input."""
    for result in evidence:
        match result:
            case PartFitted():
                yield Used(result.input, Sort.PART, result.number, result.lot, result.supplied)
            case Tightened() if result.tool:
                yield Used(result.input, Sort.WRENCH, "", result.tool, result.supplied)
            case MaterialTaken():
                yield Used(result.input, result.sort, result.number, result.lot, result.supplied)
            case _:
                pass
