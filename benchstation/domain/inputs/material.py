"""A kit or another received material that goes into the unit, by its lot."""

from dataclasses import dataclass
from typing import ClassVar, Literal

from benchstation.domain.content import Part, Recorded, Words
from benchstation.domain.inputs.given import Given, StillToDoError
from benchstation.domain.inputs.supplied import supplied
from benchstation.domain.materials import Sort, Supplied

CHOOSE = "Choose or scan it. Receive here first what is not on record."


@dataclass(frozen=True, slots=True)
class MaterialTaken(Recorded):
    """What was taken, by its lot or id, with what was on record of it."""

    input: str
    label: str
    sort: Sort
    number: str
    lot: str
    supplied: Supplied
    type: Literal["material"] = "material"


class MaterialInput(Part):
    """A received material to choose or scan."""

    noun: ClassVar[str] = "material"
    accepted_whole: ClassVar[bool] = True

    label: Words
    sort: Literal[Sort.KIT, Sort.PART, Sort.WRENCH] = Sort.KIT
    number: str = ""
    """Which kit or part; empty: any that is on record."""
    required: bool = True
    type: Literal["material"] = "material"

    def check(self, name: str, given: Given) -> MaterialTaken | None:
        """Return what was taken, ``None`` for nothing; raise where something must be."""
        lot = " ".join(given.fields.get(name, "").split())
        if not lot and self.required:
            raise StillToDoError(self.label, given, CHOOSE)
        if not lot:
            return None
        found = supplied(given, name, self.sort, self.number, lot)
        known = given.stock.find(self.sort, self.number, lot)
        number = known.number if known is not None else self.number
        return MaterialTaken(name, self.label, self.sort, number, lot, found)
