"""Words that the program put on record at a signature when it did not keep results by type yet."""

from dataclasses import dataclass
from typing import Literal

from benchstation.domain.content import Recorded


@dataclass(frozen=True, slots=True)
class Said(Recorded):
    """The sentence of then; it is shown as it stands, in the units that it was made in."""

    text: str
    input: str = ""
    label: str = ""
    type: Literal["said"] = "said"
