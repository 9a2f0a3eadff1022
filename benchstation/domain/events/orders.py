"""Customers' orders and their units."""

from dataclasses import dataclass
from typing import ClassVar

from benchstation.domain.content import Recorded
from benchstation.domain.events.base import Event


@dataclass(frozen=True, slots=True)
class OrderedUnit(Recorded):
    """One unit of an order: ``line`` is its id, ``serial`` is empty until it is scanned."""

    line: str
    serial: str = ""
    specification_id: str = ""
    position: str = ""


@dataclass(frozen=True, slots=True)
class OrderPlaced(Event):
    """An order of units. ``due``: ISO date or empty; ``matched``: its units are a set."""

    kind: ClassVar[str] = "order.placed"
    order: str
    due: str
    note: str
    matched: bool
    lines: tuple[OrderedUnit, ...]


@dataclass(frozen=True, slots=True)
class OrderChanged(Event):
    """An order as it is from now on; ``lines`` are units that came to it."""

    kind: ClassVar[str] = "order.changed"
    order: str
    due: str
    note: str
    matched: bool
    reason: str
    lines: tuple[OrderedUnit, ...] = ()


@dataclass(frozen=True, slots=True)
class OrderUnitWithdrawn(Event):
    """A unit of an order that will not be worked."""

    kind: ClassVar[str] = "order.withdrawn"
    order: str
    line: str
    reason: str
