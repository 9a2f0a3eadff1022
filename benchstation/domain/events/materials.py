"""Kits, parts, torque wrenches and check weights: received in the shop, and closed."""

from dataclasses import dataclass
from typing import ClassVar

from benchstation.domain.events.base import Event
from benchstation.domain.materials import Material


@dataclass(frozen=True, slots=True)
class MaterialReceived(Event):
    """A material is in the shop from now on; a wrench or weight received again is calibrated anew.

    ``at_unit``: the id of the unit at which it was received on the spot; empty: in Materials.
    """

    kind: ClassVar[str] = "material.received"
    material: Material
    at_unit: str = ""


@dataclass(frozen=True, slots=True)
class MaterialClosed(Event):
    """It is no longer offered. ``why``: used up or withdrawn."""

    kind: ClassVar[str] = "material.closed"
    sort: str
    number: str
    lot: str
    why: str
    reason: str = ""
