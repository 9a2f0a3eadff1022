"""The desk: one unit at a time, driven by actions and by time. One thread calls it.

Every action checks, journals and folds, in that order; what is on screen is what is in the journal.
"""

from collections.abc import Callable, Mapping, Sequence
from dataclasses import dataclass, field

from benchstation.clock import Clock
from benchstation.driver_api.errors import StationError
from benchstation.guard import GuardLimits
from benchstation.people import Lockout, Person, Role
from benchstation.physics.damper import ChargeTarget
from benchstation.physics.oil import Oil
from benchstation.rebuild.commands import NotAllowedError
from benchstation.rebuild.events import (
    Event,
    RebuildOpened,
    TareLost,
)
from benchstation.rebuild.gas_charge import target_for
from benchstation.rebuild.rebuild import Rebuild, apply, fold
from benchstation.rebuild.specification import StepKind
from benchstation.rebuild.weigh_in import OilTarget, Surroundings, oil_target
from benchstation.station.charging import Charging
from benchstation.station.feed import Feed
from benchstation.station.fitted import Fitted
from benchstation.station.idle import Idle
from benchstation.station.lamp import Lamp
from benchstation.station.mute import Mute
from benchstation.station.shop import CHARGING_PA_S, CONNECTING_PA_S, Shop
from benchstation.station.watch import GuardWatch
from benchstation.station.weighing import Weighing
from benchstation.store.engine import Store
from benchstation.store.traces import Trace

NOBODY = "station"
ANYBODY: frozenset[Role] = frozenset(Role)


@dataclass(frozen=True, slots=True)
class Action:
    """Something a person may do at the desk; ``do`` gives a sentence, or raises and did nothing."""

    do: Callable[["Desk", Mapping[str, str]], str]
    roles: frozenset[Role] = ANYBODY
    signed_in: bool = True
    """Whether somebody must be signed in for it."""


@dataclass(slots=True)
class Desk:
    """What stands on the bench now, and who stands before it."""

    shop: Shop
    store: Store
    clock: Clock
    scale: Fitted
    gauge: Fitted
    watch: GuardWatch
    air: Callable[[], Surroundings]
    actions: Mapping[str, "Action"]
    """What a person may do, by name; ``acts/table.py`` has it."""
    person: Person | None = None
    rebuild: Rebuild | None = None
    message: str = ""
    """The last sentence to whoever stands here."""
    concern: bool = False
    """Whether that sentence tells of something that did not go as wanted."""
    weighing: Weighing | None = None
    charging: Charging | None = None
    charge_target: ChargeTarget | None = None
    charge_wanted: bool = False
    """A charge is captured as soon as it has settled."""
    hold_wanted: bool = False
    lamp: Lamp | None = None
    """The stack light, for its health; the guard drives it, not the desk."""
    feed: Feed | None = None
    """The reading feed, for what is the matter with it."""
    mute: Mute = field(default_factory=Mute)
    _step: tuple[str, str] = ("", "")
    worry: bool = False
    """Whether what an action gives back tells of something that did not go as wanted."""
    tries: dict[str, Lockout] = field(default_factory=dict)
    """Wrong PINs so far, by person."""
    switching: bool = False
    """The sign-in form stands beside the running step."""
    idle: Idle = field(default_factory=Idle)

    # --- journal -------------------------------------------------------------------------------

    def journal(self, events: Sequence[Event], traces: Sequence[Trace] = ()) -> None:
        """Append durably, then fold: nothing is shown that is not on disk."""
        if not events:
            return
        person = self.person.person_id if self.person else NOBODY
        entries = self.store.append(events, person=person, utc=self.clock.utc(), traces=traces)
        for entry in entries:
            unit = getattr(entry.event, "unit_id", "")
            if self.rebuild is not None and unit == self.rebuild.unit_id:
                self.rebuild = apply(self.rebuild, entry)

    def recover(self) -> None:
        """Go on with the unit that was on the bench: read the journal, fold, same step.

        What was live is gone: a proven tare must be proven again.
        """
        unit_id = self.store.open_unit()
        if unit_id is None:
            return
        entries = self.store.entries(unit_id=unit_id)
        opened = entries[0].event
        if not isinstance(opened, RebuildOpened):
            raise StationError(
                "the open unit's journal does not begin with its opening.",
                where="journal",
                advice="Verify the journal; nothing was changed.",
            )
        specification = self.shop.specifications[opened.specification_id, opened.revision]
        self.rebuild = fold(entries, specification)
        if self.rebuild.tare is not None:
            lost = TareLost(unit_id, self.rebuild.tare.step_id, "the station was started anew")
            self.journal([lost])
        self.say(f"{opened.serial} goes on where it was.")
        self.enter_step()

    # --- actions -------------------------------------------------------------------------------

    def act(self, action: str, fields: Mapping[str, str]) -> str:
        """Do an action and give a sentence; raises ``StationError`` and then nothing was done."""
        known = self.actions.get(action)
        if self.person is None and (known is None or known.signed_in):
            raise NotAllowedError("nobody is signed in.", advice="Sign in first.")
        if known is None:
            raise NotAllowedError(f"there is no action '{action}' here.")
        if known.signed_in and self.person is not None and not self.person.has(*known.roles):
            lead = Role.TECHNICIAN not in known.roles
            raise NotAllowedError(
                f"{self.person.name} {'is no bench lead' if lead else 'does not work on units'}.",
                advice=f"Have a {'' if lead else 'technician or '}bench lead sign in.",
            )
        self.idle.stir(self.clock.seconds())
        self.worry = False
        said = known.do(self, fields)
        self.say(said, concern=self.worry)
        self.enter_step()
        return said

    def say(self, sentence: str, *, concern: bool = False) -> str:
        """Tell whoever stands here, and give the sentence back."""
        self.message, self.concern = sentence, concern
        return sentence

    def unit_id(self) -> str:
        """Give the unit on the bench that an alarm belongs to, or empty."""
        return self.rebuild.unit_id if self.rebuild and not self.rebuild.ended else ""

    def unit(self) -> Rebuild:
        """Give the unit that is worked on; raises when there is none."""
        if self.rebuild is None or self.rebuild.ended:
            raise NotAllowedError("no unit is on the bench.", advice="Open one first.")
        return self.rebuild

    def guard_limits(self) -> GuardLimits:
        """Give the guard's limits for the unit and the step at hand."""
        rebuild = self.rebuild
        step = rebuild.current if rebuild else None
        specification = rebuild.specification if rebuild and step else None
        charging = step is not None and step.kind is StepKind.CHARGE
        return self.shop.guard_limits(
            specification,
            self.gauge.instrument.silent_after_s,
            CHARGING_PA_S if charging else CONNECTING_PA_S,
        )

    def unsafe_pressure_pa(self) -> float | None:
        """Give the gauge pressure when there is some where the gas must be out, else ``None``.

        That is from the release to the charge. A gauge that is not connected proves nothing.
        """
        rebuild = self.rebuild
        step = rebuild.current if rebuild else None
        if rebuild is None or step is None:
            return None
        kinds = [s.kind for s in rebuild.specification.steps]
        place = [s.id for s in rebuild.specification.steps].index(step.id)
        if not kinds.index(StepKind.RELEASE) < place < kinds.index(StepKind.CHARGE):
            return None
        gauge_pa = self.gauge.good_value(self.clock.seconds())
        band = rebuild.specification.gas.release_zero_band
        return gauge_pa if gauge_pa is not None and gauge_pa > band else None

    def lose_tare(self, reason: str) -> None:
        """Take note that the tare no longer holds, if there was one."""
        rebuild = self.rebuild
        if self.weighing is None or rebuild is None or not self.weighing.lose_tare():
            return
        step = rebuild.current
        self.journal([TareLost(rebuild.unit_id, step.id if step else "", reason)])
        self.say(f"The tare is lost: {reason}. Tare again before you go on.", concern=True)

    def capture_locked(self) -> str:
        """Say why nothing may be captured at this step now; empty: nothing against it."""
        rebuild = self.rebuild
        step = rebuild.current if rebuild else None
        if rebuild is None or step is None:
            return ""
        gas = step.kind is StepKind.CHARGE
        if gas:
            snapshot = self.watch.snapshot()
            if snapshot.capture_locked:
                return snapshot.worst.kind.value if snapshot.worst else "no pressure reading"
        if self.unsafe_pressure_pa() is not None:
            return "there is pressure where the gas must be out"
        if rebuild.deviated(step.id):
            return ""
        fitted = self.gauge if gas else self.scale
        return fitted.unfit(self.clock.utc().date())

    def gas_in_unit(self) -> bool:
        """Say whether the unit must be taken to hold gas: charged, or not proven empty."""
        rebuild = self.rebuild
        if rebuild is None:
            return False
        if rebuild.charge is not None:
            return True
        gauge_pa = self.gauge.good_value(self.clock.seconds())
        band = rebuild.specification.gas.release_zero_band
        return self.charging is not None and (gauge_pa is None or gauge_pa > band)

    # --- targets -------------------------------------------------------------------------------

    def oil(self) -> Oil:
        """Give the oil of the open unit's lot."""
        lot = self.shop.lots[self.unit().opened.oil_lot]
        return Oil(lot.rho15_kg_m3, lot.alpha_per_k, lot.u_rho_rel)

    def oil_target(self) -> OilTarget:
        """Give the oil target of the open unit, here and now."""
        return oil_target(self.unit().specification, self.oil(), self.air())

    def enter_step(self) -> None:
        """Make the live parts of the step at hand; those of another step go."""
        rebuild = self.rebuild
        step = rebuild.current if rebuild else None
        key = (rebuild.unit_id, step.id) if rebuild and step else ("", "")
        if key == self._step:
            return
        self._step = key
        self.watch.set_limits(self.guard_limits())
        self.weighing = self.charging = self.charge_target = None
        self.charge_wanted = self.hold_wanted = False
        if rebuild is None or step is None:
            return
        if step.kind in (StepKind.WEIGH, StepKind.BLEED):
            steadiness = rebuild.specification.steadiness
            self.weighing = Weighing(steadiness, longest_gap_s=self.scale.instrument.stale_after_s)
        if step.kind is StepKind.CHARGE:
            judged = rebuild.oil_judged(StepKind.BLEED)
            assert judged is not None
            self.charge_target = target_for(
                rebuild.specification, self.oil(), judged.net_volume_ref_m3, self.air()
            )
            gas = rebuild.specification.gas
            self.charging = Charging(self.charge_target.target_gauge_pa, gas.settle_rate)
