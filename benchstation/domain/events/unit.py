"""One unit's way through its route: opened, steps, set aside, handed over, filed."""

from dataclasses import dataclass
from typing import Any, ClassVar

from benchstation.domain.events.base import UnitEvent
from benchstation.domain.inputs.registry import Evidence
from benchstation.domain.statements import Gas, Statement


@dataclass(frozen=True, slots=True)
class RebuildOpened(UnitEvent):
    """A unit is on the bench; its route is that of the specification's revision."""

    kind: ClassVar[str] = "unit.opened"
    serial: str
    family: str
    specification_id: str
    revision: int
    oil_lot: str
    order: str = ""
    position: str = ""
    line: str = ""
    """The unit of an order that this is; empty where there is none."""


@dataclass(frozen=True, slots=True)
class StepSigned(UnitEvent):
    """A person signs a step; ``evidence`` is what each of its inputs gave."""

    kind: ClassVar[str] = "step.signed"
    form: ClassVar[int] = 3
    step_id: str
    evidence: Evidence = ()


@dataclass(frozen=True, slots=True)
class StepReopened(UnitEvent):
    """A signed step and all after it must be done again; earlier facts stay on record."""

    kind: ClassVar[str] = "step.reopened"
    step_id: str
    reason: str


@dataclass(frozen=True, slots=True)
class DeviationSigned(UnitEvent):
    """Something outside its limits is accepted for a reason; the unit goes to QA hold."""

    kind: ClassVar[str] = "unit.deviation"
    form: ClassVar[int] = 2
    step_id: str
    subject: Statement
    reason: str


@dataclass(frozen=True, slots=True)
class PhotoTaken(UnitEvent):
    """A photograph of a step, kept as content under its SHA-256."""

    kind: ClassVar[str] = "photo.taken"
    step_id: str
    photo_sha256: str
    size_bytes: int
    media_type: str
    caption: str


@dataclass(frozen=True, slots=True)
class PhotoSetAside(UnitEvent):
    """A photograph that does not count for its step; its content stays on record."""

    kind: ClassVar[str] = "photo.set_aside"
    step_id: str
    photo_sha256: str


@dataclass(frozen=True, slots=True)
class UnitSetAside(UnitEvent):
    """The unit leaves the bench for a while. ``gas`` says what is known of the gas in it."""

    kind: ClassVar[str] = "unit.set_aside"
    form: ClassVar[int] = 2
    step_id: str
    reason: str
    gas: Gas


@dataclass(frozen=True, slots=True)
class UnitFetched(UnitEvent):
    """A unit that was set aside is on the bench again; what was proven before must be again."""

    kind: ClassVar[str] = "unit.fetched"
    step_id: str


@dataclass(frozen=True, slots=True)
class UnitResumed(UnitEvent):
    """The program was started again while the unit stood on the bench at this step."""

    kind: ClassVar[str] = "unit.resumed"
    step_id: str


@dataclass(frozen=True, slots=True)
class ZeroProven(UnitEvent):
    """The gas was proven out anew, as at the release, without going back to that step."""

    kind: ClassVar[str] = "unit.zero_proven"
    form: ClassVar[int] = 2
    step_id: str
    gauge_pa: float
    band_pa: float
    instrument_id: str
    evidence: Evidence = ()


@dataclass(frozen=True, slots=True)
class HandedOver(UnitEvent):
    """Who works on the unit leaves it to somebody else, with a note."""

    kind: ClassVar[str] = "unit.handed_over"
    step_id: str
    note: str


@dataclass(frozen=True, slots=True)
class HandOverRead(UnitEvent):
    """Somebody has read the note of a hand-over and goes on from there."""

    kind: ClassVar[str] = "unit.hand_over_read"
    step_id: str


@dataclass(frozen=True, slots=True)
class RebuildAbandoned(UnitEvent):
    """The rebuild ends without a finished unit."""

    kind: ClassVar[str] = "unit.abandoned"
    reason: str


@dataclass(frozen=True, slots=True)
class UnitFiled(UnitEvent):
    """The finished unit's record, whole and final. ``record`` is what reports print."""

    kind: ClassVar[str] = "unit.filed"
    form: ClassVar[int] = 4
    serial: str
    decision: str
    qa_hold: bool
    record: dict[str, Any]


@dataclass(frozen=True, slots=True)
class UnitDisposed(UnitEvent):
    """QA's word on a filed unit: released, held or rejected, or the first of two signatures.

    ``batch`` names what was signed in one act with other units; empty: this unit alone.
    """

    kind: ClassVar[str] = "unit.disposed"
    form: ClassVar[int] = 2
    disposition: str
    reason: str
    batch: str = ""
