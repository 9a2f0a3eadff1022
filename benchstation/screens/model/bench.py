"""What a screen shows, as plain frozen values: text ready to draw, numbers in display units.

The station builds these; the window draws them and holds no judgement of its own. Every text is
plain text: it may come from a device or a person and is never rich text.
"""

from collections.abc import Callable, Mapping, Sequence
from concurrent.futures import Future
from dataclasses import dataclass, field, replace
from enum import StrEnum
from pathlib import Path
from typing import Any, Protocol

import numpy as np
from numpy.typing import NDArray

from benchstation.domain.people import DisplayPreferences
from benchstation.quantities.units import UnitSystem
from benchstation.screens.model.materials import MaterialsService
from benchstation.screens.model.people import PeopleService
from benchstation.screens.model.queue import QueueService
from benchstation.screens.model.records import RecordsService

FloatArray = NDArray[np.float64]


class Tone(StrEnum):
    """Meaning of a text or mark, after IEC 60073; a shape and a word always go with it."""

    QUIET = "quiet"
    PLAIN = "plain"
    GOOD = "good"
    CAUTION = "caution"
    DANGER = "danger"
    MANDATORY = "mandatory"


class StepState(StrEnum):
    """Where a step of the route stands."""

    DONE = "done"
    NOW = "now"
    WAITING = "waiting"
    REDO = "redo"


@dataclass(frozen=True, slots=True)
class StepView:
    """One line of the route."""

    id: str
    title: str
    state: StepState
    evidence: str
    hold_point: bool


AT = "of step"
"""Under this name a form says of which step it is."""
TEXTS = "the text's"
"""With a badge: it was scanned into a text field, and may be text."""


class FieldKind(StrEnum):
    """How a field is filled in."""

    TEXT = "text"
    QUANTITY = "quantity"
    CHOICE = "choice"
    CHECK = "check"
    PIN = "pin"
    LINES = "lines"
    STACK = "stack"
    PHOTO = "photo"


@dataclass(frozen=True, slots=True)
class DiscView:
    """Equal discs on each other, m; ``mark`` is ``same``, ``added`` or ``changed``."""

    outer: float
    thickness: float
    count: int
    mark: str = "same"


@dataclass(frozen=True, slots=True)
class StackView:
    """A disc stack as its field's text says, from the piston, and what is to be said of it."""

    discs: tuple[DiscView, ...]
    widest: float
    """What the width of the drawing stands for, m."""
    hub: float
    lines: tuple[tuple[str, Tone], ...]


@dataclass(frozen=True, slots=True)
class PhotoView:
    """A photograph on record: its file's bytes, and a line about it."""

    sha256: str
    words: str
    data: bytes = field(default=b"", compare=False, repr=False)


@dataclass(frozen=True, slots=True)
class Narrowed:
    """What a choice offers while another field has the value ``by``."""

    by: str
    choices: tuple[tuple[str, str], ...]
    hint: str = ""


@dataclass(frozen=True, slots=True)
class FieldView:
    """One field of a step's form. Its text goes back by ``id``; a check gives ``yes`` or empty.

    The text of a ``STACK`` is JSON: rows of diameter, thickness and count as typed, mm; its
    ``choices`` are such texts to start from. The text of a ``PHOTO`` is the path of a chosen file.
    """

    id: str
    label: str
    kind: FieldKind
    value: str = ""
    hint: str = ""
    choices: tuple[tuple[str, str], ...] = ()
    """Pairs of (value, text shown)."""
    stack: StackView | None = None
    photos: tuple[PhotoView, ...] = ()
    looks_up: str = ""
    """An action that is done when Enter ends this field; it may fill the others."""
    narrowed_by: str = ""
    """The field whose value says what this choice offers; ``choices`` and ``hint`` are for none."""
    narrowed: tuple[Narrowed, ...] = ()


@dataclass(frozen=True, slots=True)
class ActionView:
    """One action on a key. A disabled one says why in words."""

    id: str
    label: str
    key: str
    enabled: bool = True
    why_not: str = ""
    primary: bool = False
    needs_reason: bool = False
    """The window asks for a reason in words and sends it as the field ``reason``."""
    does: str = ""
    """What the desk calls it, where the window's page made it or gives it another name."""
    asks: str = ""
    """What is asked for where the words wanted are no reason."""


def permitted(
    actions: tuple[ActionView, ...], barred: Mapping[str, str], *, of_desk: bool = False
) -> tuple[ActionView, ...]:
    """Take from actions what the person may not do, with the words why.

    ``barred`` has those words by the desk's names; ``of_desk``: an action's id is such a name.
    """

    def one(action: ActionView) -> ActionView:
        why = barred.get(action.does or (action.id if of_desk else ""), "")
        return replace(action, enabled=False, why_not=why) if why else action

    return tuple(map(one, actions))


@dataclass(frozen=True, slots=True)
class TermView:
    """One term of the computation: what, how much, and where it comes from."""

    label: str
    value: str
    source: str = ""
    strong: bool = False


@dataclass(frozen=True, slots=True)
class TermGroup:
    """Terms that belong together."""

    title: str
    terms: tuple[TermView, ...]


@dataclass(frozen=True, slots=True)
class ReadingView:
    """One instrument in the guard strip."""

    role: str
    title: str
    number: str
    unit: str
    health: str
    """One of NAMUR NE 107's categories, or ``good``."""
    tone: Tone
    words: tuple[str, ...]
    age: str
    stale: bool


@dataclass(frozen=True, slots=True)
class AlarmBannerView:
    """One alarm that wants attention. ``hold_label`` empty: nothing to acknowledge now."""

    id: str
    tone: Tone
    headline: str
    instruction: str
    peak: str
    since: str
    hold_label: str
    needs_reason: bool


@dataclass(frozen=True, slots=True)
class BigNumber:
    """The one number that matters now."""

    caption: str
    number: str
    unit: str
    tone: Tone
    stale: bool = False


@dataclass(frozen=True, slots=True)
class LaneView:
    """A bar with an accept window, in display units. ``landing``: where it will end."""

    title: str
    unit: str
    low: float
    high: float
    value: float | None
    accept_low: float | None
    accept_high: float | None
    landing: float | None = None
    marks: tuple[tuple[str, float, Tone], ...] = ()


@dataclass(frozen=True, slots=True)
class TraceView:
    """A live trace in display units against seconds before now (negative to 0)."""

    title: str
    unit: str
    seconds: FloatArray
    values: FloatArray
    span_s: float
    marks: tuple[tuple[str, float, Tone], ...] = ()


@dataclass(frozen=True, slots=True)
class TaskView:
    """The middle of the page: what to do now."""

    step_id: str
    title: str
    instruction: str
    cautions: tuple[str, ...] = ()
    big: BigNumber | None = None
    lines: tuple[tuple[str, Tone], ...] = ()
    """Words beside the number, most important first ("slow down")."""
    lanes: tuple[LaneView, ...] = ()
    trace: TraceView | None = None
    fields: tuple[FieldView, ...] = ()
    actions: tuple[ActionView, ...] = ()
    urge: float = 0.0
    """How close the pour is to its target, 0..1, for the tone that quickens."""


@dataclass(frozen=True, slots=True)
class BenchView:
    """All of one moment."""

    shop: str
    bench: str
    person: str
    clock: str
    surroundings: str
    """Air temperature and barometer, as text."""
    unit_title: str
    unit_subtitle: str
    steps: tuple[StepView, ...]
    task: TaskView
    why: tuple[TermGroup, ...]
    strip: tuple[ReadingView, ...]
    alarms: tuple[AlarmBannerView, ...]
    side_actions: tuple[ActionView, ...] = ()
    """Quieter actions that are there at every step: go back, abandon, units, sign out."""
    notes: tuple[str, ...] = ()
    """Standing words, such as that the station only warns."""
    mute: ActionView | None = None
    """Mutes the alarm's sound for a time; there only while one is to be heard."""
    muted: bool = False
    said: str = ""
    """The last sentence of the desk: what was done, or what happened by itself."""
    said_tone: Tone = Tone.QUIET
    serial: str = ""
    """Of the unit on the bench, or of the one that was looked up."""
    who: str = ""
    """The id of who is signed in; empty for nobody."""
    preferences: DisplayPreferences | None = None
    """How who is signed in likes the window."""
    switch: TaskView | None = None
    """A form to sign in with beside the running step, while someone is to take over."""
    leaving: str = ""
    """Words that the person is signed out soon; empty otherwise."""
    barred: Mapping[str, str] = field(default_factory=dict)
    """What who is signed in may not do, by the desk's name of it, and why in words."""

    @property
    def rings(self) -> bool:
        """Whether an alarm is to be heard now: one is unacknowledged and none is muted."""
        return not self.muted and any(alarm.hold_label for alarm in self.alarms)


@dataclass(frozen=True, slots=True)
class RecordRow:
    """One found unit."""

    unit_id: str
    serial: str
    family: str
    title: str
    filed: str
    technician: str
    decision: str
    state: str
    tone: Tone
    page_key: str = ""
    """Hand this back as ``before`` to get the rows after this one."""


@dataclass(frozen=True, slots=True)
class RecordDetail:
    """One record, open: groups of terms, both traces, and its anchor in the journal."""

    row: RecordRow
    groups: tuple[TermGroup, ...]
    traces: tuple[TraceView, ...]
    anchor: str
    actions: tuple[ActionView, ...] = ()
    """QA's word on it; the id is the word. Done by ``act("dispose", ...)`` with unit and reason."""
    photos: tuple[PhotoView, ...] = ()
    no_record: str = ""
    """Why there is none, where the unit was not filed; all else but the row is empty then."""


@dataclass(frozen=True, slots=True)
class SpecificationRow:
    """One revision of a specification, or a draft of one. ``key`` opens it."""

    key: str
    family: str
    title: str
    revision: int
    state: str
    tone: Tone
    by: str
    author: str = ""
    """Of a draft: the id of who wrote it."""


@dataclass(frozen=True, slots=True)
class CurveView:
    """Curves over one axis, in display units. ``marks`` are levels: text, value, tone."""

    title: str
    x_label: str
    x: FloatArray
    lines: tuple[tuple[str, Tone, FloatArray], ...]
    marks: tuple[tuple[str, float, Tone], ...] = ()


@dataclass(frozen=True, slots=True)
class DrawingView:
    """A unit to scale, lengths in m from the gas end; a section along the axis."""

    caption: str
    bore: float
    length: float
    rod: float
    floating_from: float
    floating_to: float
    piston_from: float
    piston_to: float
    rod_out: float
    """How far the rod's end stands out of the tube."""


@dataclass(frozen=True, slots=True)
class SpecificationDetail:
    """A revision or a draft, checked: its text, what is wrong, and what follows from it."""

    row: SpecificationRow
    source: str
    problems: tuple[str, ...]
    groups: tuple[TermGroup, ...] = ()
    drawing: DrawingView | None = None
    curves: tuple[CurveView, ...] = ()
    changes: tuple[tuple[str, str, str], ...] = ()
    """Against the revision in force: field, was, is."""


@dataclass(frozen=True, slots=True)
class InstrumentView:
    """One instrument on the Instruments page."""

    role: str
    title: str
    link: str
    """The link's state in words, with advice when it is not live."""
    tone: Tone
    reading: ReadingView
    groups: tuple[TermGroup, ...]
    raw_lines: tuple[str, ...]
    """The last frames as printable text, newest last; rejected ones are marked."""
    actions: tuple[ActionView, ...] = ()
    fields: tuple[FieldView, ...] = ()
    """What the actions take, such as the check weight's nominal."""
    id: str = ""
    """By this name the records know it; empty for what measures nothing."""
    recall: tuple[ActionView, ...] = ()
    """Actions that go to the records of its units."""


class StationService(QueueService, PeopleService, MaterialsService, RecordsService, Protocol):
    """What the window asks of the station. Every method returns at once."""

    display: UnitSystem

    def view(self) -> BenchView:
        """Build the present moment; cheap enough for 30 times a second."""

    def act(self, action: str, fields: Mapping[str, str]) -> Future[str]:
        """Do an action; the result is a sentence, a failure is a ``StationError``."""

    def acknowledge(self, alarm_id: str, reason: str) -> Future[str]:
        """Acknowledge an alarm after the button was held."""

    def listen(self, callback: Callable[[], None]) -> None:
        """Call ``callback`` (from any thread) whenever a state changes that cannot wait."""

    def find_records(self, text: str, before: str = "") -> Future[Sequence[RecordRow]]:
        """Find units, newest first, a page at a time."""

    def open_record(self, unit_id: str) -> Future[RecordDetail]:
        """Open one record with its traces."""

    def export_record(self, unit_id: str, folder: Path) -> Future[Sequence[Path]]:
        """Write the record as PDF and JSON; gives the paths."""

    def find_specifications(self) -> Future[Sequence[SpecificationRow]]:
        """Return all revisions and open drafts, by family, the newest first."""

    def open_specification(self, key: str, travel: float, at: str) -> Future[SpecificationDetail]:
        """Open one, drawn at a share of its travel (0..1) and ``cold``, ``reference``, ``hot``."""

    def check_specification(
        self, source: str, travel: float, at: str
    ) -> Future[SpecificationDetail]:
        """Check a text that is being written, in the same way. Problems are words, not errors."""

    def stir(self) -> None:
        """Say that a key, a click or a scan came; cheap enough for each."""

    def hold_text(self, held: bool) -> None:
        """Say whether the window holds a text that is not kept: nobody is signed out over it."""

    def instruments(self) -> tuple[InstrumentView, ...]:
        """Build the Instruments page."""

    def instrument_act(self, role: str, action: str, fields: Mapping[str, str]) -> Future[str]:
        """Do an action of the Instruments page, such as a check weight."""


class DemoHand(Protocol):
    """The virtual jug and bottle of the demonstration, for a panel of the window."""

    def set_pour(self, opening: float) -> None:
        """Tip the jug: 0 upright, 1 fully tipped."""

    def set_valve(self, opening: float) -> None:
        """Open the bottle valve, 0..1."""

    def set_vent(self, opening: float) -> None:
        """Open the vent, 0..1."""

    def set_regulator(self, gauge_pa: float) -> None:
        """Set the regulator."""

    def take_out(self) -> None:
        """Take a little oil out with the syringe."""

    def put_on_pan(self, what: str) -> None:
        """Put ``body``, ``jug``, ``unit``, a tray, ``check weight`` or ``nothing`` on the scale."""

    def bleed(self) -> None:
        """Let the surplus out into the tray."""

    def state(self) -> Mapping[str, Any]:
        """Return the knobs as they stand: pour, valve, vent, regulator_gauge_pa, on_pan."""
