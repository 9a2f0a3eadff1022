"""The record of a filed unit as frozen values: from the fold to paper, screen and JSON.

The names of its fields are the keys of the exported JSON. Values are SI, times ISO 8601 in UTC, and
people are named as they were called at filing. What a later version added has a default, so that
older records read on; what is not known is refused.
"""

from collections.abc import Mapping
from dataclasses import dataclass
from typing import Any

from pydantic import TypeAdapter, ValidationError

from benchstation.domain.content import Recorded
from benchstation.domain.events import EventError
from benchstation.domain.inputs.registry import Evidence
from benchstation.domain.oil_target import OilTarget
from benchstation.domain.recorded_parts import (
    BudgetPart,
    Condition,
    HoldDrift,
    LossRead,
    ReadByHand,
)
from benchstation.domain.statements import Gas, Statement, Undone
from benchstation.physics.gas_spring import ChargeTarget

FORMAT = "benchstation-record/2"


@dataclass(frozen=True, slots=True)
class RecordedSpecification(Recorded):
    """The revision that the unit was built by, and who wrote and approved it, by name.

    Empty in records of before; ``drafted_by`` is empty where it was founded with the bench.
    """

    id: str
    revision: int
    sha256: str
    drafted_by: str = ""
    approved_by: str = ""

    @property
    def independent(self) -> bool:
        """Return False where whoever wrote it approved it too."""
        return not self.drafted_by or self.drafted_by != self.approved_by


@dataclass(frozen=True, slots=True)
class RecordedPerson(Recorded):
    """Somebody with the name of then."""

    id: str
    name: str


@dataclass(frozen=True, slots=True)
class RecordedCapture(Recorded):
    """A captured mass; ``counts`` is false for one that was weighed again since.

    ``instrument_id`` is empty for one read by hand and ``None`` in records that do not say it;
    ``method`` is empty in those of before there was a choice.
    """

    purpose: str
    shown_kg: float = 0.0
    trace_sha256: str = ""
    utc: str = ""
    instrument_id: str | None = None
    method: str = ""
    lot: str = ""
    portion: int = 0
    counts: bool = True
    before_kg: float | None = None
    by_hand: ReadByHand | None = None
    raw_slice: tuple[str, ...] = ()
    calibration: str = ""
    u_calibration_kg: float | None = None
    zero_kg: float | None = None
    u_repeated_kg: float | None = None
    dof_repeated: float | None = None
    alive: str = ""


@dataclass(frozen=True, slots=True)
class RecordedLot(Recorded):
    """What was added from one lot: mass as shown, and volume by the lot's own density."""

    lot: str
    name: str
    density_source: str
    rho15_kg_m3: float
    added_shown_kg: float
    added_volume_ref_m3: float


@dataclass(frozen=True, slots=True)
class RecordedEmptied(Recorded):
    """Who confirmed before a tare that oil which no mass held was undone."""

    step: str
    statements: tuple[Undone, ...]
    reasons: tuple[Statement, ...]
    confirmed_by: str
    utc: str


@dataclass(frozen=True, slots=True)
class RecordedScale(Recorded):
    """The scale chosen last at a step, where the bench had several.

    ``why`` and ``against``, by the id of each scale that would not do, are codes.
    """

    step_id: str
    scale_id: str
    why: str
    load_kg: float
    against: Mapping[str, str]


@dataclass(frozen=True, slots=True)
class RecordedOil(Recorded):
    """The oil in the unit, judged against its target."""

    lot: str
    name: str
    grade: str
    density_source: str
    target_shown_kg: float
    net_shown_kg: float
    deviation_kg: float
    tolerance_kg: float
    u_kg: float
    expanded_kg: float
    coverage_factor: float
    decision: str
    probability: float
    net_volume_ref_m3: float
    terms: OilTarget
    budget: tuple[BudgetPart, ...]
    captures: tuple[RecordedCapture, ...]
    emptied: tuple[RecordedEmptied, ...] = ()
    lots: tuple[RecordedLot, ...] = ()
    scales: tuple[RecordedScale, ...] = ()


@dataclass(frozen=True, slots=True)
class RecordedCharge(Recorded):
    """The settled charge, judged against its target."""

    instrument_id: str
    gauge_pa: float
    settled_gauge_pa: float
    target_gauge_pa: float
    tolerance_pa: float
    u_pa: float
    expanded_pa: float
    coverage_factor: float
    decision: str
    probability: float
    bench_k: float
    ambient_pa: float
    gas_volume_m3: float
    amount_kg: float
    trace_sha256: str
    raw: str
    terms: ChargeTarget
    budget: tuple[BudgetPart, ...]
    by_hand: ReadByHand | None = None
    raw_slice: tuple[str, ...] = ()
    calibration: str = ""
    conditions: tuple[Condition, ...] = ()


@dataclass(frozen=True, slots=True)
class RecordedHold(Recorded):
    """The hold test, judged against the allowed leak; see :class:`HoldTested`."""

    start_gauge_pa: float
    end_gauge_pa: float
    duration_s: float
    leak_pa_m3_s: float
    u_leak_pa_m3_s: float
    allowed_pa_m3_s: float
    decision: str
    trace_sha256: str
    stood_still_s: float = 0.0
    gauge_stuck: bool = False
    record_s: float | None = None
    u_scatter_pa_m3_s: float | None = None
    slow_pa_m3_s: float = 0.0
    doubt: str = ""
    wait_s: float = 0.0
    drift: HoldDrift | None = None


@dataclass(frozen=True, slots=True)
class RecordedStep(Recorded):
    """A signed step with what each of its inputs gave."""

    id: str
    title: str
    person: str
    name: str
    utc: str
    evidence: Evidence


@dataclass(frozen=True, slots=True)
class RecordedCheck(Recorded):
    """The newest check of an instrument that counted at filing; SI, ``utc`` when it was made."""

    check: str
    nominal: float
    observed: float
    tolerance: float
    passed: bool
    utc: str
    zero: float | None = None
    weight: str = ""
    """The id of the registered check weight; empty: no scale, or typed, before there were any."""


@dataclass(frozen=True, slots=True)
class RecordedInstrument(Recorded):
    """An instrument that the evidence rests on, as it was registered then.

    ``check`` is ``None`` for one that was never checked, and in older records; ``laboratory`` is
    empty where the certificate's is not written.
    """

    id: str
    role: str
    title: str
    serial_number: str
    calibrated_on: str
    calibrated_until: str
    certificate: str
    check: RecordedCheck | None = None
    laboratory: str = ""
    virtual: str = ""
    """What spoke in its place while the unit was worked on; empty: nothing says it was none."""


@dataclass(frozen=True, slots=True)
class RecordedAlarm(Recorded):
    """A closed alarm episode; ``gauge_id`` is empty where it is not said which gauge it was of."""

    alarm: str
    started_utc: str
    ended_utc: str
    peak_gauge_pa: float | None
    acknowledged_by: str
    reason: str
    gauge_id: str = ""


@dataclass(frozen=True, slots=True)
class RecordedDeviation(Recorded):
    """What was accepted outside its limits, why and by whom."""

    step: str
    subject: Statement
    reason: str
    person: str
    utc: str


@dataclass(frozen=True, slots=True)
class RecordedRework(Recorded):
    """A step gone back to."""

    step: str
    reason: str
    person: str
    utc: str


@dataclass(frozen=True, slots=True)
class RecordedAttempt(Recorded):
    """A judged result, whether it stood or not; ``what`` is oil, charge or hold, ``value`` SI."""

    step: str
    what: str
    value: float
    decision: str
    utc: str


@dataclass(frozen=True, slots=True)
class RecordedGuard(Recorded):
    """The limits that were in force."""

    warning_gauge_pa: float
    limit_gauge_pa: float
    limit_source: str


@dataclass(frozen=True, slots=True)
class RecordedShift(Recorded):
    """Who had the unit from when until when."""

    name: str
    since: str
    until: str


@dataclass(frozen=True, slots=True)
class RecordedHandOver(Recorded):
    """A hand-over with its note; ``read_by`` is empty where nobody read it."""

    step: str
    note: str
    person: str
    utc: str
    read_by: str
    read_utc: str


@dataclass(frozen=True, slots=True)
class RecordedAside(Recorded):
    """A time that the unit lay aside."""

    step: str
    reason: str
    gas: Gas
    person: str
    utc: str
    fetched_by: str
    fetched_utc: str
    until: str = ""
    """From when on its second reading was due, for one that waited for it."""


@dataclass(frozen=True, slots=True)
class RecordedRestart(Recorded):
    """The program was started again while the unit stood at this step; nobody watched before."""

    step: str
    utc: str


@dataclass(frozen=True, slots=True)
class RecordedRecalibration(Recorded):
    """An instrument that got another calibration while the unit was on the bench, each by name."""

    step: str
    instrument_id: str
    before: str
    after: str
    person: str
    utc: str


@dataclass(frozen=True, slots=True)
class RecordedMember(Recorded):
    """A unit of the set; ``figures`` by what is compared, empty where it was not finished."""

    serial: str
    position: str
    unit_id: str
    state: str
    figures: Mapping[str, float]
    leak_pa_m3_s: float | None
    stacks: Mapping[str, str]


@dataclass(frozen=True, slots=True)
class RecordedSpread(Recorded):
    """Largest less smallest of one figure of the set."""

    what: str
    spread: float
    u: float
    tolerance: float | None
    decision: str
    probability: float | None
    ends: tuple[str, ...]
    common: tuple[str, ...]


@dataclass(frozen=True, slots=True)
class RecordedSet(Recorded):
    """The set that the unit belongs to, as it stood at filing."""

    order: str
    members: tuple[RecordedMember, ...]
    spreads: tuple[RecordedSpread, ...]


@dataclass(frozen=True, slots=True)
class RecordedGasByMass(Recorded):
    """What the unit gained from before the charge to after the seal-off, kg, and against what."""

    instrument_id: str
    before_shown_kg: float
    after_shown_kg: float
    gain_kg: float
    expected_kg: float
    tolerance_kg: float
    expanded_kg: float
    decision: str


@dataclass(frozen=True, slots=True)
class RecordedSecond(Recorded):
    """The second reading of the sealed unit; see :class:`SecondReadingJudged`."""

    by_mass: LossRead | None
    by_pressure: LossRead | None
    believed: str
    disbelieved: str
    rate_pa_m3_s: float
    u_rate_pa_m3_s: float
    allowed_pa_m3_s: float
    decision: str
    doubt: str
    left_gauge_pa: float


@dataclass(frozen=True, slots=True)
class UnitRecord(Recorded):
    """Everything that a later reader needs of a finished unit."""

    format: str
    unit_id: str
    serial: str
    family: str
    title: str
    specification: RecordedSpecification
    order: str
    position: str
    shop: str
    bench: str
    program: str
    opened_utc: str
    filed_utc: str
    technician: RecordedPerson
    filed_by: RecordedPerson
    oil: RecordedOil
    charge: RecordedCharge
    hold: RecordedHold
    steps: tuple[RecordedStep, ...]
    instruments: tuple[RecordedInstrument, ...]
    alarms: tuple[RecordedAlarm, ...]
    deviations: tuple[RecordedDeviation, ...]
    rework: tuple[RecordedRework, ...]
    attempts: tuple[RecordedAttempt, ...]
    decision: str
    qa_hold: bool
    qa_hold_reasons: tuple[Statement, ...]
    guard: RecordedGuard
    decision_rule: Statement
    worked: tuple[RecordedShift, ...] = ()
    hand_overs: tuple[RecordedHandOver, ...] = ()
    asides: tuple[RecordedAside, ...] = ()
    recalibrated: tuple[RecordedRecalibration, ...] = ()
    set: RecordedSet | None = None
    gas_by_mass: RecordedGasByMass | None = None
    second_reading: RecordedSecond | None = None
    lots_scanned: tuple[str, ...] = ()
    """Lots that were read off the can."""
    restarts: tuple[RecordedRestart, ...] = ()

    def as_json(self) -> dict[str, Any]:
        """Return the record as JSON-ready data, as the journal keeps it and exports write it."""
        found: dict[str, Any] = _ADAPTER.dump_python(self, mode="json")
        return found


_ADAPTER: TypeAdapter[UnitRecord] = TypeAdapter(UnitRecord)


def record_schema() -> dict[str, Any]:
    """Return the JSON Schema of a record as it is written."""
    return _ADAPTER.json_schema(mode="serialization")


def record_in(stored: Mapping[str, Any]) -> UnitRecord:
    """Return the record that a filing event holds. Raises ``EventError`` for one that is none."""
    try:
        return _ADAPTER.validate_python(stored)
    except ValidationError as error:
        raise EventError(
            "the record of a filed unit does not have the form that this version knows.",
            where=str(stored.get("serial", "journal")),
            advice="Update this program, or verify the journal; the file is left as it is.",
            detail=str(error),
        ) from error
