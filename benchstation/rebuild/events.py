"""Every fact of a rebuild as one typed event. The journal stores them; state is their fold.

An event is a frozen dataclass of text, numbers, booleans, ``None`` and tuples or mappings of
these, so that its body is plain JSON. ``kind`` is stored beside the body and is never reused with
another meaning. Values are SI; pressures are absolute unless the name says gauge.
"""

from dataclasses import asdict, dataclass, field
from typing import Any, ClassVar

from pydantic import TypeAdapter, ValidationError

from benchstation.driver_api.errors import StationError


class EventError(StationError):
    """A stored event cannot be understood by this version."""


@dataclass(frozen=True, slots=True)
class Event:
    """Base of all events; ``unit_id`` is there on those that belong to one unit's rebuild."""

    kind: ClassVar[str] = ""

    def body(self) -> dict[str, Any]:
        """Give the event as a JSON-ready mapping, without its kind."""
        return asdict(self)


# --- the shop: people, oils, specifications, instruments ---------------------------------------


@dataclass(frozen=True, slots=True)
class PersonEnrolled(Event):
    """Someone may sign here. ``pin_hash`` is a salted scrypt hash; empty: no PIN set yet."""

    kind: ClassVar[str] = "person.enrolled"
    person_id: str
    name: str
    roles: tuple[str, ...]
    pin_hash: str = ""


@dataclass(frozen=True, slots=True)
class PersonLeft(Event):
    """Someone may no longer sign here. What the person signed stays on record."""

    kind: ClassVar[str] = "person.left"
    person_id: str
    reason: str


@dataclass(frozen=True, slots=True)
class BadgeSaltMade(Event):
    """The shop's salt, under which badges are marked from now on."""

    kind: ClassVar[str] = "badge.salt"
    salt: str


@dataclass(frozen=True, slots=True)
class BadgeRegistered(Event):
    """A badge is someone's: a few bits to find it by and a salted scrypt hash; empty: none."""

    kind: ClassVar[str] = "person.badge"
    person_id: str
    mark: str
    badge_hash: str


@dataclass(frozen=True, slots=True)
class PersonPrefers(Event):
    """How someone likes to see and hear the bench. Empty, 0 or ``None``: as the bench has it."""

    kind: ClassVar[str] = "person.prefers"
    person_id: str
    units: str = ""
    lights: str = ""
    text_scale: int = 0
    pour_tone: bool | None = None


@dataclass(frozen=True, slots=True)
class OilLotReceived(Event):
    """An oil lot with its density at 15 degC from certificate or hydrometer."""

    kind: ClassVar[str] = "oil.received"
    lot: str
    oil: str
    rho15_kg_m3: float
    u_rho_rel: float
    alpha_per_k: float | None = None
    source: str = ""


@dataclass(frozen=True, slots=True)
class OilLotClosed(Event):
    """A lot is no longer offered for new units. ``why``: used up or withdrawn."""

    kind: ClassVar[str] = "oil.closed"
    lot: str
    why: str
    reason: str = ""


@dataclass(frozen=True, slots=True)
class SpecificationDrafted(Event):
    """A proposed revision as its author wrote it, TOML. A later draft of it takes its place."""

    kind: ClassVar[str] = "specification.drafted"
    specification_id: str
    revision: int
    source: str
    content_sha256: str


@dataclass(frozen=True, slots=True)
class SpecificationApproved(Event):
    """One revision of a build specification, whole, as JSON in SI. Never edited.

    ``source`` is the TOML it was written as, with its comments; empty where there was none.
    """

    kind: ClassVar[str] = "specification.approved"
    specification_id: str
    revision: int
    family: str
    title: str
    content: dict[str, Any]
    content_sha256: str
    source: str = ""


@dataclass(frozen=True, slots=True)
class InstrumentRegistered(Event):
    """An instrument with the calibration in force from now on."""

    kind: ClassVar[str] = "instrument.registered"
    instrument_id: str
    role: str
    title: str
    profile_id: str
    serial_number: str
    gain: float
    offset: float
    u_calibration: float
    calibrated_on: str
    calibrated_until: str
    certificate: str


@dataclass(frozen=True, slots=True)
class InstrumentChecked(Event):
    """Today's check: a check weight on the scale, or the zero of the open gauge line."""

    kind: ClassVar[str] = "instrument.checked"
    instrument_id: str
    check: str
    nominal: float
    observed: float
    tolerance: float
    passed: bool


# --- one unit -----------------------------------------------------------------------------------


@dataclass(frozen=True, slots=True)
class UnitEvent(Event):
    """Base of the events of one unit's rebuild."""

    unit_id: str


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


@dataclass(frozen=True, slots=True)
class StepSigned(UnitEvent):
    """A person signs a step; ``evidence`` is what it rests on, ``summary`` says it in words."""

    kind: ClassVar[str] = "step.signed"
    step_id: str
    summary: str
    evidence: dict[str, Any] = field(default_factory=dict)


@dataclass(frozen=True, slots=True)
class StepReopened(UnitEvent):
    """A signed step and all after it must be done again; earlier facts stay on record."""

    kind: ClassVar[str] = "step.reopened"
    step_id: str
    reason: str


@dataclass(frozen=True, slots=True)
class TareProven(UnitEvent):
    """The tared scale stood steady near zero before a pour. ``epoch`` numbers the proofs."""

    kind: ClassVar[str] = "weigh.tared"
    step_id: str
    instrument_id: str
    mean_kg: float
    std_kg: float
    count: int
    raw: str


@dataclass(frozen=True, slots=True)
class TareLost(UnitEvent):
    """The tare no longer holds (plug pulled, unit key, restart): it must be proven again."""

    kind: ClassVar[str] = "weigh.tare_lost"
    step_id: str
    reason: str


@dataclass(frozen=True, slots=True)
class MassCaptured(UnitEvent):
    """A steady net mass as shown, not true mass. ``purpose``: pour, bleed, spill or topup."""

    kind: ClassVar[str] = "weigh.captured"
    step_id: str
    purpose: str
    instrument_id: str
    shown_kg: float
    std_kg: float
    count: int
    resolution_kg: float
    trace_sha256: str
    raw: str


@dataclass(frozen=True, slots=True)
class OilJudged(UnitEvent):
    """Net oil against its target, with the terms of the target and the uncertainty budget."""

    kind: ClassVar[str] = "oil.judged"
    step_id: str
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
    terms: dict[str, Any]
    budget: tuple[dict[str, Any], ...]


@dataclass(frozen=True, slots=True)
class ChargeCaptured(UnitEvent):
    """A settled charge and its judgement against the target of this temperature and fill."""

    kind: ClassVar[str] = "charge.captured"
    step_id: str
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
    terms: dict[str, Any]
    budget: tuple[dict[str, Any], ...]


@dataclass(frozen=True, slots=True)
class HoldTested(UnitEvent):
    """A hold test by pressure change: leak rate with its uncertainty against the allowed one."""

    kind: ClassVar[str] = "charge.hold_tested"
    step_id: str
    start_gauge_pa: float
    end_gauge_pa: float
    duration_s: float
    leak_pa_m3_s: float
    u_leak_pa_m3_s: float
    allowed_pa_m3_s: float
    decision: str
    trace_sha256: str


@dataclass(frozen=True, slots=True)
class DeviationSigned(UnitEvent):
    """Something outside its limits is accepted for a reason; the unit goes on QA hold."""

    kind: ClassVar[str] = "unit.deviation"
    step_id: str
    subject: str
    reason: str


@dataclass(frozen=True, slots=True)
class RebuildAbandoned(UnitEvent):
    """The rebuild ends without a finished unit."""

    kind: ClassVar[str] = "unit.abandoned"
    reason: str


@dataclass(frozen=True, slots=True)
class UnitFiled(UnitEvent):
    """The finished unit's record, whole and final. ``record`` is what reports print."""

    kind: ClassVar[str] = "unit.filed"
    serial: str
    decision: str
    qa_hold: bool
    record: dict[str, Any]


@dataclass(frozen=True, slots=True)
class UnitDisposed(UnitEvent):
    """QA's word on a filed unit: released, held or rejected."""

    kind: ClassVar[str] = "unit.disposed"
    disposition: str
    reason: str


# --- the guard ----------------------------------------------------------------------------------


@dataclass(frozen=True, slots=True)
class AlarmChanged(Event):
    """One change of state of one alarm episode; ``unit_id`` is the unit on the bench, or empty."""

    kind: ClassVar[str] = "alarm.changed"
    unit_id: str
    episode: str
    alarm: str
    state: str
    gauge_pa: float | None
    peak_gauge_pa: float | None
    threshold_gauge_pa: float | None
    source: str
    reason: str = ""


@dataclass(frozen=True, slots=True)
class AlarmEpisodeRecorded(Event):
    """A closed episode: start, peak, end, acknowledgement, and its trace."""

    kind: ClassVar[str] = "alarm.recorded"
    unit_id: str
    episode: str
    alarm: str
    started_utc: str
    ended_utc: str
    peak_gauge_pa: float | None
    acknowledged_by: str
    reason: str
    trace_sha256: str


@dataclass(frozen=True, slots=True)
class AlarmMuted(Event):
    """Somebody muted the sound of these episodes for a time; a new alarm is heard all the same."""

    kind: ClassVar[str] = "alarm.muted"
    unit_id: str
    episodes: tuple[str, ...]
    seconds: float


def _leaves(root: type[Event]) -> list[type[Event]]:
    found = []
    for child in root.__subclasses__():
        found += [child] if child.kind else _leaves(child)
    return found


EVENT_TYPES: dict[str, type[Event]] = {cls.kind: cls for cls in _leaves(Event)}
"""Every event class by its kind."""

_ADAPTERS: dict[str, TypeAdapter[Any]] = {}


def event_from(kind: str, body: dict[str, Any]) -> Event:
    """Make the event of ``kind`` from its stored body.

    Raises :class:`EventError` for a kind or a body this version does not know: a journal written
    by a newer version is refused in words, never half understood.
    """
    cls = EVENT_TYPES.get(kind)
    if cls is None:
        raise EventError(
            f"the journal holds an event '{kind}' that this version does not know.",
            where="journal",
            advice="Open it with the version that wrote it, or a newer one.",
        )
    # Made once: an adapter takes longer to make than an event to read.
    adapter = _ADAPTERS.get(kind) or _ADAPTERS.setdefault(kind, TypeAdapter(cls))
    try:
        event = adapter.validate_python(body)
    except ValidationError as error:
        raise EventError(
            f"an event '{kind}' in the journal does not have the form it should.",
            where="journal",
            advice="Verify the journal; nothing was changed.",
            detail=str(error),
        ) from error
    assert isinstance(event, Event)
    return event
