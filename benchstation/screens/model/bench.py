"""All that the bench page shows at one moment, as plain frozen values."""

from collections.abc import Mapping
from dataclasses import dataclass, field

from benchstation.domain.people import DisplayPreferences as DisplayPreferences
from benchstation.screens.model.damper import LiveDamperView
from benchstation.screens.model.elements import (
    ActionView,
    StepView,
    TaskView,
    TermGroup,
    Tone,
)
from benchstation.screens.model.proof import MomentView, ProofView


@dataclass(frozen=True, slots=True)
class ReadingView:
    """One instrument in the guard strip."""

    id: str
    title: str
    number: str
    unit: str
    health: str
    """One of NAMUR NE 107's categories, or ``good``."""
    tone: Tone
    words: tuple[str, ...]
    age: str
    stale: bool
    beside: bool = False
    """True for an instrument that the step at hand does not rest on; it is shown small."""


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
    active: bool = True
    """Drawn filled; one that has gone back is drawn outlined."""


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
    """The last sentence of the bench: what was done, or what happened by itself."""
    said_tone: Tone = Tone.QUIET
    no_route: str = ""
    """Words in place of a route, where no unit ever stands."""
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
    day_open: int = 0
    """So many lines of the start of the day are open, where they are asked for."""
    watched: str = ""
    """Why the window is not closed without asking: an alarm is open, or there is pressure."""
    unfinished: str = ""
    """What is measured and not captured yet, and what becomes of it when the window closes."""
    damper: LiveDamperView | None = None
    """The unit on the bench, drawn to scale as it is now."""
    moments: tuple[MomentView, ...] = ()
    """Every result that the unit has; one that is new holds for a moment."""
    filed: ProofView | None = None
    """The proof of the unit on the bench, once it is filed."""
    written: int = 0
    """Grows with what is put on record: what another page shows is older then."""
    guide: tuple[str, ...] = ()
    """At most three sentences that accompany a first unit."""
    barred: Mapping[str, str] = field(default_factory=dict)
    """What who is signed in may not do, by the bench's name of it, and why in words."""

    @property
    def rings(self) -> bool:
        """Return True when an alarm is to be heard now: one is unacknowledged and none is muted."""
        return not self.muted and any(alarm.hold_label for alarm in self.alarms)
