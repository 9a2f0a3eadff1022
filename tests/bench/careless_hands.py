"""A technician who means well and errs, on a bench that fails now and then, with time by hand.

The script of the demonstration's technician does the work; between any two of its looks something
may go wrong: a slip of the hand, a wrong button, a fault of an instrument, the end of the program.
What it never does is to lie on purpose, twice, about what no instrument can see.
"""

import random
from collections.abc import Callable, Iterator
from contextlib import suppress
from dataclasses import dataclass, replace

from benchstation.bench.commands.capturing import EMPTIED
from benchstation.bench.tare_loss import recover
from benchstation.demo import shop as demo
from benchstation.demo.materials import KIT
from benchstation.demo.play import FillableDisk
from benchstation.demo.technician import Plan
from benchstation.domain.events import UnitFiled
from benchstation.domain.specification import StepKind
from benchstation.domain.unweighed import emptied_field, statements
from benchstation.driver_api.errors import StationError
from benchstation.store.order_queries import units_at_hand
from tests.bench.against_truth import Witness, contradictions, is_plain_pass
from tests.bench.careless_technician import Careless
from tests.stepped_bench import STEP_S, make_bench

UNIT_STATE = (
    "free_volume_m3", "rho_oil_kg_m3", "oil_kg", "tray_kg", "drip_kg", "jug_kg", "open_top",
    "_stripped", "gas_k", "gas_kg", "_air_kg", "_screw_closed", "_line_pa", "setup",
)  # fmt: skip
"""What of the model belongs to the unit, and goes aside with it."""
PATIENCE = 14
"""So many times the script may lose its way at one unit before the unit is given up."""
FAMILIES = ("carrier-50", "mr-46-front", "mr-46-rear", "sledge-36")
"""Those that are done in a day."""
SEEN_S = 0.5
ROOM_K_S = 2.0 / 3600.0
FAULTS = ("freeze scale", "freeze gauge", "fault", "lb", "over", "off", "shift")
BUTTONS = (
    "sign", "tare", "capture", "cancel", "nothing_bled", "hold", "back", "by_gain", "by_loss",
    "by_difference", "topup", "spill", "main", "again", "pour_rest", "ways", "leave", "file",
    "typed", "prove", "weigh_unit", "zero", "prove_empty", "check", "units", "take_over",
)  # fmt: skip


class Killed(BaseException):
    """The program ended in the middle of what it did."""


class MortalDisk(FillableDisk):
    """Records that tell of each fact, and at which the program may be killed."""

    def __init__(self, store) -> None:
        super().__init__(store)
        self.told: Callable = lambda events: None
        self.kills = ""
        """``before`` or ``after`` the next append; empty: not."""

    def append(self, events, **given):
        if self.kills == "before" and not self.full:
            self.kills = ""
            raise Killed
        entries = super().append(events, **given)
        self.told(events)
        if self.kills == "after":
            self.kills = ""
            raise Killed
        return entries


@dataclass(frozen=True)
class Finding:
    """A record that says otherwise than the bench knows, with all that led to it."""

    serial: str
    what: tuple[str, ...]
    story: tuple[str, ...]


class Walk:
    """One random walk over the whole bench; :meth:`units` works unit after unit."""

    def __init__(self, folder, seed: int, *, slips: float = 1.0) -> None:
        self.folder, self.slips = folder, slips
        self.chance = random.Random(seed)
        self.bench = make_bench(folder, seed=seed, disk_of=MortalDisk)
        self.story: list[str] = []
        self.serial = 0
        self.aside: dict[str, dict] = {}
        self.witnesses: dict[str, Witness] = {}
        self.on_bench = ""
        self.filed = self.plain = 0
        self.findings: list[Finding] = []
        self.frozen_until = self.above_since = 0.0
        self.worker: Iterator[str] | None = None
        self.lost = 0
        self.rate = 0.0
        # The room drifts, as a room does; who reads the wall reads it as it is.
        self.model.room_drift_k_s = self.chance.uniform(-ROOM_K_S, ROOM_K_S)
        self.follow_disk()

    # --- the bench -----------------------------------------------------------------------------

    @property
    def session(self):
        return self.bench.session

    @property
    def model(self):
        return self.bench.world.model

    @property
    def now(self) -> float:
        return self.bench.clock.seconds()

    def follow_disk(self) -> None:
        self.bench.disk.told = self.told

    def errs(self, share: float) -> bool:
        """Return True for so large a share of the units, where anything may go wrong at all."""
        return self.chance.random() < share * self.slips

    def say(self, what: str) -> None:
        self.story.append(f"{self.now:.1f} s: {what}")

    def told(self, events) -> None:
        for event in events:
            witness = self.witnesses.get(getattr(event, "unit_id", ""))
            if event.kind not in ("alarm.changed",):
                self.say(f"  [{event.kind}] {getattr(event, 'step_id', '')}")
            if witness is not None:
                witness.note(event, self.model)
            if isinstance(event, UnitFiled) and witness is not None:
                self.compare(event, witness)

    def compare(self, filed: UnitFiled, witness: Witness) -> None:
        self.filed += 1
        if not is_plain_pass(filed):
            return
        self.plain += 1
        what = contradictions(filed, witness, self.model)
        if what:
            self.findings.append(Finding(filed.serial, tuple(what), tuple(self.story)))

    def run(self, seconds: float) -> None:
        for _ in range(max(1, round(seconds / STEP_S))):
            with suppress(StationError):
                # As at the window: what a tick could not do is tried again.
                self.bench.run(STEP_S)
            self.watch_pressure()
            self.follow_unit()

    def watch_pressure(self) -> None:
        """Take note of the pressure that a sound gauge has been shown for long enough."""
        gauge, witness = self.bench.world.gauge, self.witnesses.get(self.on_bench)
        if witness is None:
            return
        sound = gauge.connected and not (gauge.frozen or gauge.sensor_fault or gauge.offset_pa)
        sound = sound and "gauge" not in self.bench.unplugged
        limit = self.session.watch.limits.limit_gauge_pa
        if not (sound and self.model.line_gauge_pa > 1.005 * limit):
            self.above_since = self.now
        elif self.now - self.above_since > SEEN_S and self.session.on_bench.unit_id():
            witness.peak_pa = max(witness.peak_pa, self.model.line_gauge_pa)
            witness.limit_pa = limit

    def follow_unit(self) -> None:
        """Have the unit on the bench that the screen says: hands bring it and take it away."""
        rebuild = self.session.rebuild
        unit = rebuild.unit_id if rebuild is not None and not rebuild.ended else ""
        if unit == self.on_bench:
            return
        model = self.model
        if self.on_bench:
            self.aside[self.on_bench] = {k: getattr(model, k) for k in UNIT_STATE}
        self.on_bench = unit
        if not unit:
            return
        if unit in self.aside:
            with model.lock:
                for key, value in self.aside.pop(unit).items():
                    setattr(model, key, value)
                model.on_pan = "nothing"
                model.pour_opening = model.valve_opening = model.vent_opening = model.flow = 0.0
            return
        lot = self.session.shop.lots[rebuild.opened.oil_lot]
        self.bench.world.bring_in(rebuild.specification, lot.rho15_kg_m3)
        leak = self.chance.choice((4e-3, 2e-2)) if self.errs(0.2) else 0.0
        slow = 0.2 if self.errs(0.1) else 0.0
        model.setup = replace(model.setup, leak_m3_s=0.0, slow_share=slow, slow_s=30.0)
        self.leak = leak
        self.witnesses[unit] = Witness(rebuild.specification, lots={lot.lot})
        self.say(f"{rebuild.opened.serial} ({rebuild.specification.id}) is brought in, leak {leak}")

    # --- what goes wrong -----------------------------------------------------------------------

    def act(self, action: str, **fields: str) -> bool:
        try:
            self.session.act(action, fields)
        except StationError as error:
            self.say(f"{action}: refused, {error}")
            return False
        self.say(f"{action}: {self.session.message.text}")
        return True

    def restart(self, why: str = "the program is killed") -> None:
        self.say(why)
        full, before = self.bench.disk.full, self.bench
        before.disk.told = lambda events: None
        before.store.close()
        before.clock.advance(self.chance.uniform(0.5, 20.0))
        self.bench = make_bench(self.folder, goes_on=before, disk_of=MortalDisk, seconds=0.0)
        self.bench.disk.full = full
        self.follow_disk()
        try:
            recover(self.session)
        except StationError as error:
            self.say(f"not begun: {error}")
        self.worker = None
        self.run(1.0)

    def some_s(self, low: float = 0.5, high: float = 8.0) -> float:
        return self.chance.uniform(low, high)

    def while_(self, what: str, seconds: float) -> None:
        """Let the work go on for a while under a fault."""
        self.say(f"{what} for {seconds:.1f} s")
        self.work_for(seconds)

    def unplug(self) -> None:
        role = self.chance.choice(("scale", "gauge"))
        self.bench.unplugged.add(role)
        if self.chance.random() < 0.7:
            getattr(self.session, role).instrument.report_broken("the line was lost")
        self.while_(f"the plug of the {role} is out", self.some_s(0.3, 20.0))
        if role in self.bench.unplugged:
            self.bench.lines[role].device.output(self.now)
        self.bench.unplugged.clear()
        self.say("plugged in")

    def fault(self) -> None:
        world, chance = self.bench.world, self.chance
        match chance.choice(FAULTS):
            case "freeze scale":
                world.scale.frozen = True
                self.while_("the scale hangs", self.some_s(1.0, 30.0))
            case "freeze gauge":
                world.gauge.frozen = True
                self.while_("the gauge hangs", self.some_s(1.0, 60.0))
            case "fault":
                world.gauge.sensor_fault = True
                self.while_("the gauge's sensor fails", self.some_s())
            case "lb":
                world.scale.unit = "lb"
                self.while_("the scale shows pounds", self.some_s())
            case "over":
                world.scale.capacity_kg = 0.5
                self.while_("the scale is over its range", self.some_s())
            case "off":
                world.gauge.connected = False
                self.while_("the gauge is not in the line", self.some_s(1.0, 60.0))
            case "shift":
                world.gauge.offset_pa = chance.choice((-0.8e5, -0.3e5, -4e3, 4e3, 0.3e5, 0.8e5))
                self.while_(f"the gauge is off by {world.gauge.offset_pa}", self.some_s(5.0, 200.0))
        self.mend()

    def mend(self) -> None:
        world = self.bench.world
        world.gauge.sensor_fault = world.gauge.frozen = world.scale.frozen = False
        world.gauge.connected, world.gauge.offset_pa = True, 0.0
        world.scale.unit, world.scale.capacity_kg = "g", 6.2
        self.say("mended")

    def full_disk(self) -> None:
        self.bench.disk.full = True
        self.while_("the disk is full", self.some_s(0.5, 30.0))
        if self.chance.random() < 0.3:
            self.restart("the program is ended on the full disk")
        self.bench.disk.full = False
        self.say("the disk has room")

    def kill_at_a_fact(self) -> None:
        self.bench.disk.kills = self.chance.choice(("before", "after"))
        self.say(f"will be killed {self.bench.disk.kills} the next fact")

    def clumsy(self) -> None:
        """Let oil go where no weighing holds it, or the unit be touched."""
        model, chance = self.model, self.chance
        kind = self.session.rebuild.current.kind if self.step_at_hand else None
        amount = chance.choice((0.0005, 0.002, 0.006, 0.03, 0.1))
        match chance.choice(("pour", "take", "bleed", "back", "lift", "knock", "jug")):
            case "pour" if kind is StepKind.WEIGH and model.on_pan in ("body", "jug"):
                self.say(f"{amount} kg are poured")
                while amount > 0.0:
                    part = min(0.002, amount)
                    model.oil_kg += part
                    model.jug_kg -= part if model.on_pan == "jug" else 0.0
                    amount -= part
                    self.run(STEP_S)
            case "take" if kind is StepKind.WEIGH and model.on_pan in ("body", "jug"):
                self.say(f"{amount} kg are taken out")
                model.take_out(amount)
            case "bleed" if kind is StepKind.BLEED and model.on_pan == "tray":
                amount = min(0.02, amount)
                self.say(f"{amount} kg run into the tray")
                for _ in range(5):
                    model.bleed(amount / 5)
                    self.run(STEP_S)
            case "back" if kind is StepKind.BLEED and model.on_pan == "tray":
                amount = min(amount, model.tray_kg)
                self.say(f"{amount} kg are tipped back from the tray")
                model.bleed(-amount)
            case "lift" if model.on_pan != "nothing":
                was, oil_kg = model.on_pan, model.oil_kg
                self.say(f"{was} is lifted off the scale")
                model.put_on_pan("nothing")
                self.run(self.some_s(0.2, 3.0))
                if model.on_pan == "nothing":
                    if was == "jug":
                        model.jug_kg -= model.oil_kg - oil_kg  # it was poured from in the hand
                    model.put_on_pan(was)
                    self.say(f"{was} is put back")
            case "knock":
                self.bench.world.scale._filtered += chance.uniform(-0.05, 0.05)
                self.say("the table is knocked")
        self.run(self.some_s(0.1, 3.0))

    def turn(self) -> None:
        """Turn a valve or the screw that is not to be turned now."""
        model, chance = self.model, self.chance
        if not self.step_at_hand or model.open_top:
            return
        match chance.randrange(5):
            case 0:
                model.regulator_gauge_pa = chance.uniform(5e5, 40e5)
                model.valve_opening = chance.choice((0.02, 0.3, 1.0))
                self.say(f"bottle valve open at {model.regulator_gauge_pa / 1e5:.1f} bar")
                self.run(self.some_s(0.3, 5.0))
            case 1:
                model.vent_opening = chance.choice((0.003, 0.02, 0.2))
                self.say(f"vent open {model.vent_opening}")
                self.run(self.some_s(0.3, 5.0))
            case 2 if self.session.work.charging is None:
                self.say("the gas screw is closed")
                model.close_gas_screw()
            case 3:
                self.say("the gas screw is opened")
                model.open_gas_screw()
            case 4:
                model.valve_opening = 0.1
                self.say("the bottle valve stays open a little")
                return
        self.model.valve_opening = self.model.vent_opening = 0.0

    def press(self) -> None:
        action, chance = self.chance.choice(BUTTONS), self.chance
        fields = {f"confirm{n}": "yes" for n in range(1, 5)}
        fields |= {"reason": "by mistake", "lot": chance.choice(("L-0417", "L-0421", "L-0440"))}
        fields |= {"instrument": chance.choice(("scale-1", "gauge-1")), "nominal": "200 g"}
        fields |= {"zero1_rod": "yes"} if chance.random() < 0.5 else {}
        if action in ("sign", "file") and self.step_at_hand:
            asked = [one.input.type for one in self.session.rebuild.current.asked]
            if "quantity" in asked:
                return  # what a person measures is measured
        self.act(action, **fields)
        self.run(0.3)

    def tare(self) -> None:
        """Tare now, and confirm whatever is asked."""
        self.act("tare")
        if self.session.work.open_form == EMPTIED and self.session.rebuild is not None:
            asked = statements(self.session.rebuild.unweighed)
            self.act("tare", **{emptied_field(n): "yes" for n in range(1, len(asked) + 1)})
        self.run(self.some_s(0.2, 6.0))

    def leave(self) -> None:
        """Sign out, hand over, or set the unit aside and perhaps take another."""
        match self.chance.choice(("out", "over", "aside", "aside")):
            case "out":
                self.act("sign_out")
            case "over":
                self.act("hand_over", reason="see the note")
                self.act("sign_in", person=demo.TECHNICIANS[1], pin=demo.PIN)
            case "aside":
                if not self.step_at_hand:
                    return
                model = self.model
                if not model.open_top and self.chance.random() < 0.9:
                    model.close_gas_screw()
                    model.valve_opening, model.vent_opening = 0.0, 0.1
                    self.run(5.0)
                    model.vent_opening = 0.0
                self.act("set_aside", reason="waits for a part")
                self.follow_unit()
                self.worker = None
                self.run(self.some_s())

    SLIPS = (
        (6, "clumsy"), (5, "press"), (4, "tare"), (4, "fault"), (3, "turn"), (3, "unplug"),
        (3, "restart"), (2, "kill_at_a_fact"), (2, "full_disk"), (2, "leave"),
    )  # fmt: skip

    def something(self) -> None:
        names = [name for weight, name in self.SLIPS for _ in range(weight)]
        getattr(self, self.chance.choice(names))()

    @property
    def step_at_hand(self) -> bool:
        return self.session.rebuild is not None and self.session.rebuild.current is not None

    # --- the work ------------------------------------------------------------------------------

    def reflexes(self) -> None:
        """Do what anybody does under an alarm: close the valve, vent what is too much, confirm."""
        alarms, session, model = self.session.watch.snapshot().alarms, self.session, self.model
        if not alarms:
            return
        model.valve_opening = 0.0
        limit = session.watch.limits.warning_gauge_pa
        if model.line_gauge_pa > 0.9 * limit:
            model.vent_opening = 0.01
            for _ in range(300):
                if model.line_gauge_pa < 0.8 * limit:
                    break
                self.run(STEP_S)
            model.vent_opening = 0.0
        if session.person is not None:
            for alarm in self.session.watch.snapshot().alarms:
                session.watch.acknowledge(session.person.person_id, "seen", alarm.episode)

    def take_up(self) -> None:
        """Have a technician who goes on with what is there, or with the next unit."""
        session = self.session
        people = session.shop.people
        self.act("sign_in", person=demo.TECHNICIANS[0], pin=demo.PIN)
        at_hand = session.rebuild is not None and not session.rebuild.ended
        aside = [u.unit_id for u in units_at_hand(self.bench.store) if u.state == "aside"]
        if not at_hand and aside and self.chance.random() < 0.7:
            self.act("fetch", unit=self.chance.choice(aside))
            self.follow_unit()
            at_hand = session.rebuild is not None and not session.rebuild.ended
        if at_hand:
            serial = session.rebuild.opened.serial
            family = session.rebuild.specification.id
        else:
            self.act("next")
            self.serial += 1
            serial, family = f"W-{self.serial}", self.chance.choice(FAMILIES)
        plan = Plan(
            serial,
            family,
            demo.LOT_OF[family],
            people[demo.TECHNICIANS[0]],
            people[demo.LEAD],
            oil_error_kg=self.chance.choice((0.003, -0.004)) if self.errs(0.1) else 0.0,
            charge_error_pa=self.chance.choice((0.5e5, -0.6e5)) if self.errs(0.1) else 0.0,
            careless_valve=self.errs(0.1),
            notes={"condition": "weeping", "kit": KIT, "remarks": "none"},
        )
        worker = Careless(session, self.bench.world, plan, lambda person: demo.PIN, self.chance)
        worker.slips = self.slips
        self.worker = worker.work()

    def work_for(self, seconds: float) -> None:
        end = self.now + seconds
        while self.now < end:
            self.work_on()

    def work_on(self) -> None:
        """Look once and do the next thing, then let a tenth of a second pass."""
        if self.worker is None:
            self.take_up()
        try:
            self.reflexes()
            if self.worker is not None:
                next(self.worker)
        except StopIteration:
            self.worker = None
        except (StationError, AssertionError, KeyError) as error:
            # The script is no part of what is tested: it may lose its way.
            self.say(f"lost: {type(error).__name__} {error}")
            self.worker = None
            self.lost += 1
            self.model.valve_opening = self.model.vent_opening = self.model.pour_opening = 0.0
            self.run(0.5)
        self.follow_unit()
        self.charged()
        self.run(STEP_S)

    def charged(self) -> None:
        """Let a unit that was closed badly leak once there is gas in it."""
        rebuild, setup = self.session.rebuild, self.model.setup
        at_charge = rebuild is not None and rebuild.current is not None
        at_charge = at_charge and rebuild.current.kind is StepKind.CHARGE
        if at_charge and self.on_bench and setup.leak_m3_s == 0.0 and self.leak:
            self.model.setup, self.leak = replace(setup, leak_m3_s=self.leak), 0.0

    def unit(self, each_s: float) -> None:
        """Work until a unit is filed or given up; something goes wrong each so many seconds."""
        filed, self.lost = self.filed, 0
        began = self.now
        while self.filed == filed:
            try:
                if self.lost > PATIENCE or self.now - began > 4000.0:
                    self.give_up()
                    return
                if self.chance.random() < STEP_S / each_s * self.slips:
                    self.something()
                self.work_on()
            except Killed:
                self.restart("the program is killed at a fact")

    def give_up(self) -> None:
        self.bench.disk.kills, self.bench.disk.full = "", False
        self.bench.unplugged.clear()
        self.mend()
        self.run(2.0)
        self.reflexes()
        self.act("sign_in", person=demo.LEAD, pin=demo.PIN)
        self.act("take_over")
        self.act("abandon", reason="given up")
        self.act("next")
        self.worker = None

    def close(self) -> None:
        self.bench.store.close()
