"""A fastener tightened to its torque, and the wrench that gave it."""

from dataclasses import dataclass
from typing import Annotated, ClassVar, Literal

from benchstation.domain.content import Part, Positive, Recorded, Torque, Words
from benchstation.domain.inputs.given import Given
from benchstation.domain.inputs.limits import Limits, require_possible
from benchstation.domain.inputs.quantity import require_within
from benchstation.domain.inputs.supplied import supplied
from benchstation.domain.materials import Sort, Supplied
from benchstation.domain.refusals import NotAllowedError
from benchstation.quantities.units import Dimension, display_unit, parse

LONGEST_TOOL = 64


def tool_field(name: str) -> str:
    """Return the id of the field of the wrench that belongs to a torque."""
    return f"{name}_tool"


@dataclass(frozen=True, slots=True)
class Tightened(Recorded):
    """The torque, its limits and the wrench; ``tool`` is empty where it was not asked for."""

    input: str
    label: str
    torque_n_m: float
    nominal: float
    tolerance: float
    tool: str = ""
    supplied: Supplied | None = None
    """What was on record of the wrench; ``None``: it was not asked for, or nobody looked then."""
    type: Literal["torque"] = "torque"

    @property
    def limits(self) -> Limits:
        """Return the limits."""
        return Limits(self.nominal, self.tolerance, Dimension.TORQUE)


class TorqueOf(Part):
    """A fastener to be tightened to its torque, N m."""

    _LATER: ClassVar[frozenset[str]] = frozenset({"type"})
    noun: ClassVar[str] = "torque"
    accepted_whole: ClassVar[bool] = True

    label: Words
    nominal: Annotated[Torque, Positive]
    tolerance: Annotated[Torque, Positive]
    tool: bool = True
    """Whether the wrench's id or serial is asked for."""
    type: Literal["torque"] = "torque"

    def limits(self) -> Limits:
        """Return the limits."""
        return Limits(self.nominal, self.tolerance, Dimension.TORQUE)

    def check(self, name: str, given: Given) -> Tightened:
        """Return the torque with its wrench; outside its limits it must have been accepted."""
        unit = display_unit(Dimension.TORQUE, given.units)
        value = parse(given.fields.get(name, ""), Dimension.TORQUE, default_unit=unit)
        require_possible(value, Dimension.TORQUE, given.units)
        require_within(self.limits(), value, self.label, given)
        tool = " ".join(given.fields.get(tool_field(name), "").split()) if self.tool else ""
        if self.tool and (not tool or len(tool) > LONGEST_TOOL or not tool.isprintable()):
            raise NotAllowedError(
                "the wrench's number is missing or cannot be printed.",
                where=given.title,
                advice="Choose or scan the wrench that you use.",
                field=tool_field(name),
            )
        found = supplied(given, tool_field(name), Sort.WRENCH, "", tool) if tool else None
        return Tightened(name, self.label, value, self.nominal, self.tolerance, tool, found)
