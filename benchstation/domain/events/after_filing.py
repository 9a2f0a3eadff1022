"""What becomes of a filed unit: looked at, amended, shipped, back from its customer."""

from dataclasses import dataclass
from typing import ClassVar

from benchstation.domain.events.base import Event, UnitEvent


@dataclass(frozen=True, slots=True)
class RecordShown(UnitEvent):
    """A person of QA had the whole record of a filed unit before them.

    ``facts`` is how many facts stood on record about it after its filing: what came later was not
    seen.
    """

    kind: ClassVar[str] = "unit.record_shown"
    facts: int


@dataclass(frozen=True, slots=True)
class UnitAmended(UnitEvent):
    """A typed field of a filed record was wrong. The record stays as it was filed.

    ``field`` is the amended field (see ``domain/amending.py``), ``old`` what stood there, text or
    SI. ``decision`` says how a judged figure is judged with the new value, empty where it is none:
    then the unit is on hold until QA says another word. ``approved_by`` is another person, or the
    same with " alone" behind the id where nobody else could.
    """

    kind: ClassVar[str] = "unit.amended"
    field: str
    old: str | float
    new: str | float
    reason: str
    approved_by: str
    decision: str = ""


@dataclass(frozen=True, slots=True)
class UnitShipped(UnitEvent):
    """A released unit left the shop, as an article under pressure.

    ``clause`` is the rule that the shipper goes by (see ``physics/shipping.py``), ``un`` the entry
    where none is claimed; ``declared`` that its conditions which no figure shows were said to be
    met, on the shipper's word. The figures are those of the record at that moment, pressures gauge.
    """

    kind: ClassVar[str] = "unit.shipped"
    customer: str
    address: str
    order: str
    package: str
    clause: str
    un: str
    declared: bool
    charge_20c_gauge_pa: float
    charge_70f_gauge_pa: float
    gas_volume_m3: float
    amount_kg: float
    unit_kg: float | None
    test_gauge_pa: float | None
    burst_gauge_pa: float | None


@dataclass(frozen=True, slots=True)
class UnitReturned(UnitEvent):
    """A unit came back from its customer. ``found`` is empty until it was looked at."""

    kind: ClassVar[str] = "unit.returned"
    complaint: str
    found: str = ""


@dataclass(frozen=True, slots=True)
class ReturnExamined(UnitEvent):
    """What was found in a unit that came back."""

    kind: ClassVar[str] = "unit.return_examined"
    found: str


@dataclass(frozen=True, slots=True)
class CustomerTold(UnitEvent):
    """The customer of a shipped unit was told what became of its record since; ``how`` in words."""

    kind: ClassVar[str] = "unit.customer_told"
    how: str


@dataclass(frozen=True, slots=True)
class ReleaseRuleSet(Event):
    """How many people of QA release a unit in this shop: one or two."""

    kind: ClassVar[str] = "release.rule"
    signatures: int
    reason: str
