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
        """Return the event as a JSON-ready mapping, without its kind."""
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


# --- orders -------------------------------------------------------------------------------------


@dataclass(frozen=True, slots=True)
class OrderPlaced(Event):
    """An order of units. ``due``: ISO date or empty; ``matched``: its units are a set.

    Each of ``lines`` is one unit: ``line`` (its id), ``serial`` (empty until scanned),
    ``specification_id`` and ``position``.
    """

    kind: ClassVar[str] = "order.placed"
    order: str
    due: str
    note: str
    matched: bool
    lines: tuple[dict[str, Any], ...]


@dataclass(frozen=True, slots=True)
class OrderChanged(Event):
    """An order as it is from now on; ``lines`` are units that came to it."""

    kind: ClassVar[str] = "order.changed"
    order: str
    due: str
    note: str
    matched: bool
    reason: str
    lines: tuple[dict[str, Any], ...] = ()


@dataclass(frozen=True, slots=True)
class OrderUnitWithdrawn(Event):
    """A unit of an order that will not be worked."""

    kind: ClassVar[str] = "order.withdrawn"
    order: str
    line: str
    reason: str


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
    line: str = ""
    """The unit of an order that this is; empty where there is none."""


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
    """The tared scale stood steady near zero; ``emptied`` is what a person confirmed before."""

    kind: ClassVar[str] = "weigh.tared"
    step_id: str
    instrument_id: str
    mean_kg: float
    std_kg: float
    count: int
    raw: str
    purpose: str = ""
    emptied: dict[str, Any] = field(default_factory=dict)


@dataclass(frozen=True, slots=True)
class TareLost(UnitEvent):
    """The tare no longer holds (plug pulled, unit key, restart): it must be proven again.

    ``uncaptured_kg`` was moved since the last capture and is in no record; 0: none, or not known.
    """

    kind: ClassVar[str] = "weigh.tare_lost"
    step_id: str
    reason: str
    uncaptured_kg: float = 0.0


@dataclass(frozen=True, slots=True)
class OilUnweighed(UnitEvent):
    """Oil may have been moved that no mass holds: no tare counts until somebody has undone it."""

    kind: ClassVar[str] = "weigh.unweighed"
    step_id: str
    purpose: str
    reason: str
    about_kg: float | None = None


@dataclass(frozen=True, slots=True)
class MassCaptured(UnitEvent):
    """A net mass as shown, not true mass: pour, topup, bleed or spill; or the unit ``before``.

    ``portion`` numbers what was weighed since one tare; its last capture counts, and portions add.
    ``again``: what was captured of this purpose and lot before counts no more. ``by_hand`` says who
    confirmed a mass that was typed, and what it was read on; empty: weighed on the bench's scale.
    ``raw_slice`` is what went over the line in the window that was steady: age in s, way, hex.
    ``calibration`` is that of the scale then, with its standard uncertainty; ``None``: not written.
    """

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
    method: str = "gain"
    oil_lot: str = ""
    portion: int = 0
    again: bool = False
    before_kg: float | None = None
    by_hand: dict[str, Any] = field(default_factory=dict)
    raw_slice: tuple[str, ...] = ()
    calibration: str = ""
    u_calibration_kg: float | None = None


@dataclass(frozen=True, slots=True)
class MethodChosen(UnitEvent):
    """From now on oil is weighed in at this step by another method than the specification's."""

    kind: ClassVar[str] = "weigh.method"
    step_id: str
    method: str


@dataclass(frozen=True, slots=True)
class LotChosen(UnitEvent):
    """From now on oil is poured from another lot."""

    kind: ClassVar[str] = "weigh.lot"
    step_id: str
    oil_lot: str


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
    by_hand: dict[str, Any] = field(default_factory=dict)
    raw_slice: tuple[str, ...] = ()
    calibration: str = ""


@dataclass(frozen=True, slots=True)
class HoldTested(UnitEvent):
    """A hold test by pressure change: leak rate with its uncertainty against the allowed one.

    ``stood_still_s``: for so long no digit changed, 0 when digits moved; ``gauge_stuck``: by the
    gauge's own noise before, they should have.
    """

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
    stood_still_s: float = 0.0
    gauge_stuck: bool = False


@dataclass(frozen=True, slots=True)
class DeviationSigned(UnitEvent):
    """Something outside its limits is accepted for a reason; the unit goes to QA hold."""

    kind: ClassVar[str] = "unit.deviation"
    step_id: str
    subject: str
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
    step_id: str
    reason: str
    gas: str


@dataclass(frozen=True, slots=True)
class UnitFetched(UnitEvent):
    """A unit that was set aside is on the bench again; what was proven before must be again."""

    kind: ClassVar[str] = "unit.fetched"
    step_id: str


@dataclass(frozen=True, slots=True)
class ZeroProven(UnitEvent):
    """The gas was proven out anew, as at the release, without going back to that step."""

    kind: ClassVar[str] = "unit.zero_proven"
    step_id: str
    gauge_pa: float
    band_pa: float
    instrument_id: str
    evidence: dict[str, Any] = field(default_factory=dict)


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
    children = root.__subclasses__()
    return [c for child in children for c in ([child] if child.kind else _leaves(child))]


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
