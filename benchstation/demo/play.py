"""A fault while it is played: what a script may touch and note, and what a fault demands."""

from collections.abc import Callable, Iterator, Mapping, Sequence
from dataclasses import dataclass, field
from datetime import datetime
from typing import Any, cast

from benchstation.bench.session import BenchSession
from benchstation.demo.fault_sizes import AS_LISTED, FaultSizes
from benchstation.demo.stage import Stage
from benchstation.demo.technician import PASS, Technician
from benchstation.demo.truth import Truth
from benchstation.demo.world import World
from benchstation.domain.events import Event, OilJudged
from benchstation.domain.guard import AlarmKind
from benchstation.domain.rebuild import Rebuild
from benchstation.domain.refusals import NotAllowedError
from benchstation.domain.specification import Step, StepKind
from benchstation.store.engine import Store
from benchstation.store.errors import StoreFullError
from benchstation.store.journal import Entry
from benchstation.store.traces import Trace
from sample_devices.bench_model import BenchModel

FRESH_S = 5.0
"""A page that was not built for so long, in bench time, shows the past."""


class FillableDisk:
    """The records on a disk that can be full: then nothing is appended, all else is as before."""

    def __init__(self, store: Store) -> None:
        self._store = store
        self.full = False

    def append(
        self,
        events: Sequence[Event],
        *,
        person: str,
        utc: datetime,
        traces: Sequence[Trace] = (),
        photos: Mapping[str, bytes] | None = None,
    ) -> list[Entry]:
        """Append, or raise as the store does when the disk is full."""
        if self.full:
            raise StoreFullError("the disk is full.", where="records", advice="Free some space.")
        return self._store.append(events, person=person, utc=utc, traces=traces, photos=photos)

    def __getattr__(self, name: str) -> Any:
        return getattr(self._store, name)

    def as_store(self) -> Store:
        """Return this where a store is wanted."""
        return cast(Store, self)


@dataclass(slots=True)
class Play:
    """One run of a fault. Scripts are generators that yield whenever time may pass."""

    stage: Stage
    technician: Technician
    disk: FillableDisk
    skip: Callable[[float], None]
    """Lets bench time pass at once, while the station is closed."""
    sizes: FaultSizes = AS_LISTED
    seen: dict[str, bool] = field(default_factory=dict)
    """What a script noted, by the name that the fault's demand asks for."""
    watching: bool = False
    """Whether the bench page is built after each tick, and its alarms are noted."""
    shown: set[str] = field(default_factory=set)
    """Episodes of the alarms on the bench page as last built while watched."""
    shown_at: float = float("-inf")
    peak_gauge_pa: float = 0.0
    """The highest pressure that really was in the fill line at a tick."""

    @property
    def session(self) -> BenchSession:
        """Return the running session; another one after a restart."""
        return self.stage.live.session

    @property
    def world(self) -> World:
        """Return the virtual bench."""
        return self.stage.served.world

    @property
    def model(self) -> BenchModel:
        """Return the virtual bench's state."""
        return self.world.model

    @property
    def rebuild(self) -> Rebuild:
        """Return the unit on the bench."""
        return self.session.unit()

    @property
    def step(self) -> Step:
        """Return the step at hand."""
        step = self.rebuild.current
        assert step is not None
        return step

    @property
    def title(self) -> str:
        """Return the title of the step at hand, or what is said after the last."""
        rebuild = self.session.rebuild
        step = rebuild.current if rebuild is not None else None
        return step.title if step is not None else "done"

    def usual(self) -> Iterator[str]:
        """Do at the step at hand what a careful technician does."""
        yield from self.technician.usual(self.rebuild, self.step)

    def pause(self, seconds: float) -> Iterator[str]:
        """Let time pass."""
        yield from self.technician.pause(seconds, self.title)

    def until(self, condition: Callable[[], bool], seconds: float = 120.0) -> Iterator[str]:
        """Wait for a condition."""
        yield from self.technician.until(condition, self.title, seconds)

    def tick_statements(self, mark: str) -> None:
        """Tick every statement of the step at hand with ``yes``, or take the ticks back with ""."""
        statements = enumerate(self.step.statements, 1)
        self.session.act("typed", {f"confirm{n}": mark for n, _ in statements})

    def tried(self, name: str, action: Callable[[], object]) -> bool:
        """Try something; note under ``name`` whether it was refused, and say whether it was not."""
        try:
            action()
        except NotAllowedError:
            self.seen[name] = True
            return False
        self.seen[name] = False
        return True

    def shows(self, kind: AlarmKind) -> bool:
        """Return True when the bench page, as of now, shows an open alarm of this kind."""
        open_now = [a.episode for a in self.session.watch.snapshot().alarms if a.kind is kind]
        fresh = self.technician.now() - self.shown_at < FRESH_S
        return bool(open_now) and self.shown.issuperset(open_now) and fresh

    def restart(self, after_s: float = 0.0) -> None:
        """Start the station anew, so much later; the technician signs in again."""
        self.stage.restart(lambda: self.skip(after_s))
        self.technician.session = self.session
        self.technician.sign_in(self.technician.plan.technician)


@dataclass(frozen=True, slots=True)
class Episode:
    """One alarm as the journal has it."""

    kind: str
    peak_gauge_pa: float | None
    acknowledged_by: str
    closed: bool


@dataclass(frozen=True, slots=True)
class Outcome:
    """What a fault left behind: the record, the journal, what was noted, and the truth."""

    rebuild: Rebuild
    filed: bool
    decision: str
    hold_reasons: tuple[str, ...]
    deviations: tuple[Mapping[str, Any], ...]
    alarms: tuple[Episode, ...]
    events: tuple[Event, ...]
    seen: Mapping[str, bool]
    truth: Truth
    gas_at_signing: Mapping[str, float]
    """The gauge pressure that was really in the unit when each step was signed, by its id."""
    peak_gauge_pa: float
    """The highest pressure that really was in the fill line at a tick."""
    limit_gauge_pa: float

    @property
    def passes(self) -> bool:
        """Return True when the record says pass, without hold and without deviation."""
        return self.filed and self.decision == PASS and not self.hold_reasons


@dataclass(frozen=True, slots=True)
class Demand:
    """What must have come of a fault, in words, and whether it did."""

    words: str
    met: Callable[[Outcome], bool]


def alarm(kind: AlarmKind) -> Demand:
    """Demand an alarm on record."""
    return Demand(
        f"alarm on record: {kind.value}", lambda o: kind.value in [a.kind for a in o.alarms]
    )


def acknowledged(kind: AlarmKind) -> Demand:
    """Demand an alarm that is closed on record, with who acknowledged it."""
    return Demand(
        f"alarm acknowledged and closed on record: {kind.value}",
        lambda o: any(a.kind == kind.value and a.closed and a.acknowledged_by for a in o.alarms),
    )


def not_passed() -> Demand:
    """Demand that the record does not say pass without hold and deviation."""
    return Demand("not filed as passed without hold or deviation", lambda o: not o.passes)


def gas_out_at(step_id: str) -> Demand:
    """Demand that the gas was really out when a step was signed."""
    return Demand(
        f"the gas was out when '{step_id}' was signed",
        lambda o: (
            o.gas_at_signing.get(step_id, 0.0) <= o.rebuild.specification.gas.release_zero_band
        ),
    )


def gas_in_or_not_passed() -> Demand:
    """Demand that a unit without gas is not filed as passed."""
    return Demand(
        "no unit without gas is filed as passed", lambda o: o.truth.gas_in or not o.passes
    )


def on_hold() -> Demand:
    """Demand that the unit is not filed without a hold."""
    return Demand("on QA hold, or not filed", lambda o: bool(o.hold_reasons) or not o.filed)


def deviation_at(step_id: str) -> Demand:
    """Demand a signed deviation at a step."""
    return Demand(
        f"deviation at '{step_id}'", lambda o: step_id in [str(d["step"]) for d in o.deviations]
    )


def judged_not_passed(kind: StepKind) -> Demand:
    """Demand that the oil at a step was judged, and not as passed."""

    def met(outcome: Outcome) -> bool:
        step_id = outcome.rebuild.specification.step_of(kind).id
        judged = [e for e in outcome.events if isinstance(e, OilJudged) and e.step_id == step_id]
        return bool(judged) and judged[-1].decision != PASS

    return Demand(f"oil at the {kind.value} step is not judged as passed", met)


def charge_holds_truth() -> Demand:
    """Demand that a charge that passed states within its U where the gas comes to rest."""

    def met(outcome: Outcome) -> bool:
        charge = outcome.rebuild.charge
        if charge is None or charge.decision != PASS:
            return True
        return abs(outcome.truth.gas_rest_gauge_pa - charge.settled_gauge_pa) <= charge.expanded_pa

    return Demand("a charge that passed holds the true pressure within its U", met)


def hold_not_passed() -> Demand:
    """Demand that the hold test did not pass."""
    return Demand(
        "the hold test is not passed",
        lambda o: o.rebuild.hold is not None and o.rebuild.hold.decision != PASS,
    )


def on_record(kind: type[Event], words: str) -> Demand:
    """Demand a fact of this kind on record."""
    return Demand(words, lambda o: any(isinstance(e, kind) for e in o.events))


def noted(name: str, words: str) -> Demand:
    """Demand that a script noted something as so."""
    return Demand(words, lambda o: o.seen.get(name, False))


def inside() -> Demand:
    """Demand that the unit was put right in the end: oil and gas as specified, and filed."""
    return Demand("filed with oil and gas as specified", lambda o: o.filed and o.truth.inside)
