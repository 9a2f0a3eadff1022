"""The desk: one unit at a time, driven by actions and by time. One thread calls it.

Every action checks, journals and folds, in that order; what is on screen is what is in the journal.
"""

import uuid
from collections.abc import Callable, Mapping, Sequence
from dataclasses import dataclass, field

from benchstation import __version__
from benchstation.clock import Clock
from benchstation.driver_api.errors import StationError
from benchstation.guard import GuardLimits
from benchstation.people import Lockout, Person, Role, check_pin
from benchstation.physics.damper import ChargeTarget
from benchstation.physics.oil import Oil
from benchstation.rebuild import approval, commands
from benchstation.rebuild.commands import NotAllowedError, require_step
from benchstation.rebuild.events import (
    Event,
    RebuildOpened,
    SpecificationDrafted,
    TareLost,
)
from benchstation.rebuild.gas_charge import target_for
from benchstation.rebuild.rebuild import Rebuild, apply, fold, opened_rebuild
from benchstation.rebuild.record import Surround, file_unit
from benchstation.rebuild.specification import StepKind, specification_from
from benchstation.rebuild.weigh_in import OilTarget, Surroundings, oil_target
from benchstation.station.charging import Charging
from benchstation.station.fitted import Fitted
from benchstation.station.judging import judged_oil
from benchstation.station.shop import CHARGING_PA_S, CONNECTING_PA_S, Shop
from benchstation.station.specifications import drafts
from benchstation.station.watch import GuardWatch, signal_lost_after_s
from benchstation.station.weighing import Weighing
from benchstation.store.engine import Store
from benchstation.store.queries import earlier_rebuilds
from benchstation.store.traces import Trace
from benchstation.units import Dimension, UnitSystem, display_unit

LONGEST_SERIAL = 64
NOBODY = "station"
WORK = frozenset(
    ("open", "sign", "tare", "capture", "cancel", "nothing_bled", "hold", "back", "abandon", "file")
)
"""What is done by whoever has a technician's or a lead's role."""


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
    _step: tuple[str, str] = ("", "")
    _worry: bool = False
    """Whether what an action gives back tells of something that did not go as wanted."""
    _tries: dict[str, Lockout] = field(default_factory=dict)
    _actions: dict[str, Callable[[Mapping[str, str]], str]] = field(default_factory=dict)

    def __post_init__(self) -> None:
        self._actions = {
            "sign_out": self._sign_out,
            "open": self._open,
            "sign": self._sign,
            "tare": self._tare,
            "capture": self._capture,
            "cancel": self._cancel,
            "nothing_bled": self._nothing_bled,
            "hold": self._hold,
            "deviation": self._deviation,
            "back": self._back,
            "abandon": self._abandon,
            "file": self._file,
            "next": self._next,
            "dispose": self._dispose,
            "draft": self._draft,
            "approve": self._approve,
        }

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
        if action == "sign_in":
            return self.say(self._sign_in(fields))
        if self.person is None:
            raise NotAllowedError("nobody is signed in.", advice="Sign in first.")
        known = self._actions.get(action)
        if known is None:
            raise NotAllowedError(f"there is no action '{action}' here.")
        if action in WORK and not self.person.has(Role.TECHNICIAN, Role.LEAD):
            raise NotAllowedError(
                f"{self.person.name} does not work on units.",
                advice="Have a technician or bench lead sign in.",
            )
        self._worry = False
        said = known(fields)
        self.say(said, concern=self._worry)
        self.enter_step()
        return said

    def say(self, sentence: str, *, concern: bool = False) -> str:
        """Tell whoever stands here, and give the sentence back."""
        self.message, self.concern = sentence, concern
        return sentence

    def _sign_in(self, fields: Mapping[str, str]) -> str:
        person = self.shop.people.get(fields.get("person", ""))
        if person is None:
            raise NotAllowedError("nobody is chosen.", where="Sign in", advice="Choose your name.")
        now = self.clock.seconds()
        tries = self._tries.get(person.person_id, Lockout())
        if tries.wait_s(now) > 0:
            raise NotAllowedError(
                f"too many wrong PINs for {person.name}.",
                where="Sign in",
                advice=f"Wait {tries.wait_s(now):.0f} s. Alarms can still be seen and heard.",
            )
        if not check_pin(person, fields.get("pin", "")):
            self._tries[person.person_id] = tries.failed(now)
            raise NotAllowedError(
                "this is not the PIN.", where=person.name, advice="Type it again, or ask the lead."
            )
        self._tries[person.person_id] = tries.passed()
        self.person = person
        return f"{person.name} is signed in."

    def _sign_out(self, fields: Mapping[str, str]) -> str:
        name = self.person.name if self.person else ""
        self.person = None
        return f"{name} is signed out."

    def unit(self) -> Rebuild:
        """Give the unit that is worked on; raises when there is none."""
        if self.rebuild is None or self.rebuild.ended:
            raise NotAllowedError("no unit is on the bench.", advice="Open one first.")
        return self.rebuild

    def _open(self, fields: Mapping[str, str]) -> str:
        if self.rebuild is not None and not self.rebuild.ended:
            raise NotAllowedError(
                f"{self.rebuild.opened.serial} is on the bench.",
                advice="Finish or abandon it first.",
            )
        serial = fields.get("serial", "").strip()
        lot = fields.get("lot", "")
        chosen = fields.get("specification", "")
        found = [s for s in self.shop.current_specifications() if s.id == chosen]
        if not serial or not serial.isprintable() or len(serial) > LONGEST_SERIAL:
            raise NotAllowedError(
                "the serial is missing or cannot be printed.",
                where="Open a unit",
                advice=f"Scan or type it, up to {LONGEST_SERIAL} characters.",
            )
        if not found or lot not in self.shop.lots:
            raise NotAllowedError(
                "the specification or the oil lot is missing.",
                where="Open a unit",
                advice="Choose both; what you typed is kept.",
            )
        specification = found[0]
        oil, grade = self.shop.lots[lot].oil, specification.oil.grade
        if oil.casefold() != grade.casefold():
            raise NotAllowedError(
                f"lot {lot} is {oil}; this family takes {grade}.",
                where="Open a unit",
                advice="Choose a lot of that oil.",
            )
        opened = RebuildOpened(
            uuid.uuid4().hex,
            serial,
            specification.family,
            specification.id,
            specification.revision,
            lot,
            fields.get("order", "").strip(),
            fields.get("position", "").strip(),
        )
        assert self.person is not None
        (entry,) = self.store.append([opened], person=self.person.person_id, utc=self.clock.utc())
        self.rebuild = opened_rebuild(entry, specification)
        return f"{serial} is open: {specification.family}.{self._before(opened)}"

    def _before(self, opened: RebuildOpened) -> str:
        """Say when this serial was here before, and mind when it was another family."""
        earlier = [
            unit
            for unit in earlier_rebuilds(self.store, opened.serial)
            if unit.unit_id != opened.unit_id
        ]
        if not earlier:
            return ""
        last = earlier[0]
        self._worry = last.family != opened.family
        times = "once" if len(earlier) == 1 else f"{len(earlier)} times"
        return f" Here before {times}, last {last.sort_utc:%Y-%m-%d} as {last.family}."

    def guard_limits(self) -> GuardLimits:
        """Give the guard's limits for the unit and the step at hand."""
        rebuild = self.rebuild
        step = rebuild.current if rebuild else None
        specification = rebuild.specification if rebuild and step else None
        charging = step is not None and step.kind is StepKind.CHARGE
        return self.shop.guard_limits(
            specification,
            signal_lost_after_s(self.clock, self.gauge.instrument.interval_s),
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

    def _sign(self, fields: Mapping[str, str]) -> str:
        rebuild = self.unit()
        step = require_step(rebuild, StepKind.CONFIRM, StepKind.RELEASE, StepKind.MEASURE)
        pressure = self.unsafe_pressure_pa()
        if pressure is not None:
            raise NotAllowedError(
                f"the gauge shows {pressure / 1e5:.2f} bar, and the gas must be out.",
                where=step.title,
                advice="Do not open the unit. Go back to the release, and let the gas out.",
            )
        if step.kind is StepKind.CONFIRM:
            events = commands.sign_confirm(rebuild, fields)
        elif step.kind is StepKind.MEASURE:
            unit = display_unit(Dimension.LENGTH, UnitSystem(fields.get("units", "metric")))
            events = commands.sign_measure(rebuild, fields, default_unit=unit)
        else:
            gauge_pa = self.gauge.good_value(self.clock.seconds())
            instrument = self.gauge.registered.instrument_id
            events = commands.sign_release(rebuild, fields, gauge_pa, instrument)
        self.journal(events)
        return f"{step.title}: signed."

    def _tare(self, fields: Mapping[str, str]) -> str:
        require_step(self.unit(), StepKind.WEIGH, StepKind.BLEED)
        weighing = self._weighing()
        if self.scale.good_value(self.clock.seconds()) is None:
            raise NotAllowedError(
                "the scale gives no valid reading.",
                where=self.scale.registered.title,
                advice="Check its cable and its line on the Instruments page.",
            )
        if weighing.tared:
            self.lose_tare("tared again")
        weighing.begin_tare(self.clock.seconds())
        return "Taring: hands off until the scale is steady."

    def _weighing(self) -> Weighing:
        if self.weighing is None:
            raise NotAllowedError("nothing is weighed at this step.")
        return self.weighing

    def lose_tare(self, reason: str) -> None:
        """Take note that the tare no longer holds, if there was one."""
        rebuild = self.rebuild
        if self.weighing is None or rebuild is None or not self.weighing.lose_tare():
            return
        step = rebuild.current
        self.journal([TareLost(rebuild.unit_id, step.id if step else "", reason)])
        self.say(f"The tare is lost: {reason}. Tare again before you go on.", concern=True)

    def _capture(self, fields: Mapping[str, str]) -> str:
        rebuild = self.unit()
        step = require_step(rebuild, StepKind.WEIGH, StepKind.BLEED, StepKind.CHARGE)
        locked = self.capture_locked()
        if locked:
            raise NotAllowedError(
                f"capture is locked: {locked}.",
                where=step.title,
                advice="Put that right first; nothing was captured.",
            )
        if step.kind is StepKind.CHARGE:
            self.charge_wanted = True
            return "Captures as soon as the charge has settled."
        weighing = self._weighing()
        if not weighing.tared:
            raise NotAllowedError(
                "the tare is not proven.", where=step.title, advice="Tare first, then pour."
            )
        if weighing.jumped_from_kg is not None:
            raise NotAllowedError(
                "something was put on the scale or lifted off it.",
                where=step.title,
                advice="Put everything back as it was, or tare again.",
            )
        weighing.begin_capture()
        return "Captures as soon as the scale is steady."

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

    def _cancel(self, fields: Mapping[str, str]) -> str:
        if self.weighing is not None:
            self.weighing.cancel_capture()
        if self.charging is not None:
            self.charging.interrupt()
        self.charge_wanted = self.hold_wanted = False
        return "Not captured."

    def _nothing_bled(self, fields: Mapping[str, str]) -> str:
        rebuild = self.unit()
        require_step(rebuild, StepKind.BLEED)
        poured = rebuild.capture("pour")
        assert poured is not None
        judged = judged_oil(
            rebuild,
            StepKind.BLEED,
            poured.event.shown_kg,
            target=self.oil_target(),
            oil=self.oil(),
            scale=self.scale,
            weighings=1,
        )
        self.journal(commands.nothing_bled(rebuild, judged))
        self._worry = judged.decision != commands.PASS
        return f"Net oil {judged.net_shown_kg * 1e3:.1f} g: {judged.decision}."

    def _hold(self, fields: Mapping[str, str]) -> str:
        rebuild = self.unit()
        step = require_step(rebuild, StepKind.CHARGE)
        if rebuild.charge is None or self.charging is None:
            raise NotAllowedError(
                "there is no captured charge.",
                where=step.title,
                advice="Capture the settled charge first.",
            )
        self.charging.begin_hold(rebuild.specification.gas.hold_time)
        self.hold_wanted = True
        return "Hold test runs: leave valve and unit alone."

    def _deviation(self, fields: Mapping[str, str]) -> str:
        rebuild = self.unit()
        step = require_step(rebuild)
        assert self.person is not None
        reason = fields.get("reason", "")
        self.journal(commands.sign_deviation(rebuild, self.person, reason, step.title.lower()))
        return f"{step.title}: accepted as a deviation; the unit goes to QA hold."

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

    def _back(self, fields: Mapping[str, str]) -> str:
        rebuild = self.unit()
        events = commands.reopen(
            rebuild,
            fields.get("step") or next(reversed(list(rebuild.signatures)), ""),
            fields.get("reason", ""),
            gas_in_unit=self.gas_in_unit(),
        )
        self.journal(events)
        current = self.unit().current
        return f"Back at '{current.title if current else ''}'."

    def _abandon(self, fields: Mapping[str, str]) -> str:
        gas = self.gas_in_unit() or self.unsafe_pressure_pa() is not None
        self.journal(commands.abandon(self.unit(), fields.get("reason", "")))
        self._worry = gas
        warned = " There may be gas in it: let it out before anybody opens it." if gas else ""
        return f"Abandoned; all that was done stays on record.{warned}"

    def _file(self, fields: Mapping[str, str]) -> str:
        rebuild = self.unit()
        assert self.person is not None
        surround = Surround(
            self.shop.name,
            self.shop.bench,
            f"benchstation {__version__}",
            self.person.person_id,
            self.shop.people,
            self.shop.lots[rebuild.opened.oil_lot],
            [self.scale.registered, self.gauge.registered],
            self.watch.limits,
        )
        filed = file_unit(rebuild, surround, self.clock.utc())
        self.journal([filed])
        self._worry = filed.qa_hold
        held = ", on QA hold" if filed.qa_hold else ""
        return f"{rebuild.opened.serial} is filed: {filed.decision}{held}."

    def _dispose(self, fields: Mapping[str, str]) -> str:
        assert self.person is not None
        unit_id, word = fields.get("unit", ""), fields.get("disposition", "")
        self.journal([commands.dispose(unit_id, word, fields.get("reason", ""), self.person)])
        return f"This unit is {word}."

    def _next(self, fields: Mapping[str, str]) -> str:
        if self.rebuild is not None and not self.rebuild.ended:
            raise NotAllowedError("this unit is not filed yet.", where=self.rebuild.opened.serial)
        self.rebuild = None
        return "The bench is free."

    # --- specifications ------------------------------------------------------------------------

    def _draft(self, fields: Mapping[str, str]) -> str:
        assert self.person is not None
        event = approval.draft(fields.get("source", ""), self.person, self.shop.specifications)
        self.journal([event])
        return f"Draft of {event.specification_id}, revision {event.revision}, is kept."

    def _approve(self, fields: Mapping[str, str]) -> str:
        assert self.person is not None
        name, _, number = fields.get("key", "").removeprefix("draft:").partition("/")
        entry = drafts(self.store).get((name, int(number) if number.isdigit() else 0))
        if entry is None or (name, int(number)) in self.shop.specifications:
            raise NotAllowedError("there is no open draft of it.", where=name or "Specifications")
        assert isinstance(entry.event, SpecificationDrafted)
        event = approval.approve(entry.event, entry.person, self.person)
        self.journal([event])
        specification = specification_from(event.content)
        self.shop.specifications[event.specification_id, event.revision] = specification
        return f"{event.specification_id}, revision {event.revision}, is in force."

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
