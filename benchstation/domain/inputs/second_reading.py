"""The second reading of a sealed unit, hours or days after the first: the proof that it is tight.

What it loses in so long a time is told from what a scale or a gauge cannot show in a minute.
"""

from dataclasses import dataclass
from typing import Annotated, ClassVar, Literal

from pydantic import Field

from benchstation.domain.content import Part, Positive, Recorded, Seconds

Way = Literal["mass", "pressure"]
MASS: Way = "mass"
PRESSURE: Way = "pressure"


@dataclass(frozen=True, slots=True)
class SecondSigned(Recorded):
    """The leak by both readings with its decision; U with k = 2."""

    input: str
    rate_pa_m3_s: float
    expanded_pa_m3_s: float
    decision: str
    by: tuple[Way, ...]
    label: str = ""
    type: Literal["second"] = "second"


class SecondReading(Part):
    """How a unit is read again, and after how long at least."""

    _LATER: ClassVar[frozenset[str]] = frozenset({"type"})
    noun: ClassVar[str] = "second"
    accepted_whole: ClassVar[bool] = False

    by: Annotated[tuple[Way, ...], Field(min_length=1, max_length=2)]
    after: Annotated[Seconds, Positive] = 86_400.0
    type: Literal["second"] = "second"
