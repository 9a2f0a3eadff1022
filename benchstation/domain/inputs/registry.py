"""Every kind of input, by its type: what an author may write, what a step asks, what is signed."""

from collections.abc import Iterable
from dataclasses import dataclass
from typing import Annotated

from pydantic import Discriminator, Field

from benchstation.domain.inputs.charge import ChargeInput, ChargeSigned
from benchstation.domain.inputs.choice import Choice, Chosen
from benchstation.domain.inputs.confirmation import Confirmation, Confirmed
from benchstation.domain.inputs.line import Noted, TextLine
from benchstation.domain.inputs.material import MaterialInput, MaterialTaken
from benchstation.domain.inputs.oil import OilInput, OilSigned
from benchstation.domain.inputs.part import PartFitted, PartLine
from benchstation.domain.inputs.photos import Photographed, Photos
from benchstation.domain.inputs.quantity import Measure, Measured
from benchstation.domain.inputs.said import Said
from benchstation.domain.inputs.second_reading import SecondReading, SecondSigned
from benchstation.domain.inputs.stack import StackInput, StackRecorded
from benchstation.domain.inputs.text import FreeText, Written
from benchstation.domain.inputs.torque import Tightened, TorqueOf
from benchstation.domain.inputs.zero import ZeroRead, ZeroReading

FormInput = (
    Confirmation
    | TextLine
    | FreeText
    | Measure
    | TorqueOf
    | Choice
    | PartLine
    | MaterialInput
    | StackInput
    | Photos
    | ZeroReading
)
"""What a form asks for; each has a ``check`` of what was given."""
WrittenInput = Annotated[FormInput, Field(discriminator="type")]
"""An entry of ``inputs`` as an author writes it, with its ``type``."""
Input = FormInput | OilInput | ChargeInput | SecondReading

Result = (
    Confirmed
    | Noted
    | Written
    | Measured
    | Tightened
    | Chosen
    | PartFitted
    | MaterialTaken
    | StackRecorded
    | Photographed
    | ZeroRead
    | OilSigned
    | ChargeSigned
    | SecondSigned
    | Said
)
SignedResult = Annotated[Result, Discriminator("type")]
"""A result as it stands in a signature's evidence."""
Evidence = tuple[SignedResult, ...]


@dataclass(frozen=True, slots=True)
class Asked:
    """An input of a step under a name of ours: its noun and its number among those of the step.

    The name is the id of its field in the form, and its result carries it; a label never does.
    """

    name: str
    input: Input


def named(inputs: Iterable[Input]) -> tuple[Asked, ...]:
    """Return inputs with their names, numbered by noun: confirm1, confirm2, value1."""
    counts: dict[str, int] = {}
    found = []
    for one in inputs:
        counts[one.noun] = counts.get(one.noun, 0) + 1
        found.append(Asked(f"{one.noun}{counts[one.noun]}", one))
    return tuple(found)
