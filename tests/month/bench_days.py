"""A bench's day: it is checked in the morning, works its units, and sends what the network lets."""

import random
from collections.abc import Iterator
from contextlib import contextmanager
from dataclasses import dataclass, field, replace
from datetime import datetime, timedelta
from pathlib import Path

from benchstation.bench.assembly import bench_from
from benchstation.bench.gas_weighing import wanted
from benchstation.bench.loop import LiveLoop
from benchstation.bench.session import BenchSession
from benchstation.bench.virtual import know_source
from benchstation.clock import StepClock
from benchstation.demo import shop as demo
from benchstation.demo.materials import WEIGHT
from benchstation.demo.technician import Plan, Technician
from benchstation.demo.truth import truth_of
from benchstation.demo.world import SteppedLine, World, make_world
from benchstation.domain.can_lots import unconfirmed
from benchstation.domain.form_fields import SIGNATURE
from benchstation.domain.inputs.given import YES
from benchstation.domain.refusals import NotAllowedError
from benchstation.domain.surroundings import Surroundings
from benchstation.domain.virtual_words import DEMONSTRATION
from benchstation.quantities.formatter import QuantityFormatter
from benchstation.quantities.units import UnitSystem
from benchstation.screens.instruments.calibration import Calibrations
from benchstation.store.backup import make_copy
from benchstation.store.engine import Store, open_store
from benchstation.store.errors import StoreError
from benchstation.store.shop.exchange import Exchange
from benchstation.store.shop.joining import Login
from benchstation.store.trust import Trust, trust_at
from tests.month.scenario import STOLEN_HOUR, Job

STEP_S = 0.1
TRIES = 6
CHECKED_DAILY = ("scale", "gauge")
NOWHERE = 9
"""The port that nobody listens at: where the line leads while there is no network."""
AIR_K, AIR_SPREAD_K, AIR_PA = 294.2, 1.2, 100_400.0


@dataclass(frozen=True, slots=True)
class Home:
    """A bench's computer: the folder of its settings, key and records, and its login."""

    bench: str
    folder: Path
    file: Path
    login: Login

    @property
    def copies(self) -> Path:
        """Return the folder of the copies: another disk, which outlives the computer."""
        return self.folder.parent / "copies" / self.bench


def trust_then(folder: Path, when: datetime) -> Trust:
    """Return the trust of a computer whose clock says this."""
    return replace(trust_at(folder), utc=lambda: when)


@dataclass(frozen=True, slots=True)
class Made:
    """One unit as it left the bench, and what was really in it."""

    job: Job
    unit_id: str
    filed: datetime
    oil_inside: bool
    gas_inside: bool
    oil_off_m3: float
    gas_off_pa: float

    @property
    def inside(self) -> bool:
        """Return True when oil and gas are within the specification."""
        return self.oil_inside and self.gas_inside


@dataclass(slots=True)
class Day:
    """What came of a day at a bench."""

    made: list[Made] = field(default_factory=list)
    failed_checks: list[str] = field(default_factory=list)
    locked: list[str] = field(default_factory=list)
    """What the bench said of an instrument whose calibration was over."""
    named: dict[str, list[str]] = field(default_factory=dict)
    """By instrument, the serials that its calibration as found would judge less well."""
    unsent: int = 0
    """How often the shop could not be reached."""


class Running:
    """A bench that runs: stepped devices, the program's own bench, and people at it."""

    def __init__(self, store: Store, begin: datetime, seed: int, air: Surroundings) -> None:
        self.clock = StepClock(begin)
        self.world: World = make_world(seed, air)
        shop = demo.demo_shop(store)
        self.live: LiveLoop = bench_from(
            store, shop, self.clock.clock, lambda: air, checked_daily=CHECKED_DAILY
        )
        session = self.live.session
        devices = {
            "scale": self.world.scale,
            "gauge": self.world.gauge,
            "thermometer": self.world.thermometer,
            "barometer": self.world.barometer,
        }
        self.lines = [
            SteppedLine(fitted.instrument, devices[fitted.role]) for fitted in session.instruments
        ]
        for line in self.lines:
            line.step(self.clock.seconds())
        for fitted in session.instruments:
            know_source(session, fitted.id, DEMONSTRATION)
        session.watch.arm()

    @property
    def session(self) -> BenchSession:
        """Return the bench's session."""
        return self.live.session

    def step(self) -> None:
        """Let a moment pass."""
        now = self.clock.advance(STEP_S)
        for line in self.lines:
            line.step(now)
        self.live.tick()

    def run(self, seconds: float) -> None:
        """Let time pass."""
        for _ in range(round(seconds / STEP_S)):
            self.step()

    def act(self, action: str, **form: str) -> None:
        """Do what a person does, signed with the PIN that everybody has here."""
        self.session.act(action, {**form, SIGNATURE: demo.PIN})

    def again(self, *actions: str, **form: str) -> None:
        """Do these, and once more when the instrument was not quite still."""
        for left in reversed(range(TRIES)):
            try:
                for action in actions:
                    self.run(3)
                    self.act(action, **form)
            except NotAllowedError:
                if not left:
                    raise
            else:
                return

    def sign_in(self, person: str) -> None:
        """Sign somebody in."""
        self.session.act("sign_in", {"person": person, "pin": demo.PIN})


class BenchDays:
    """A bench's computer, opened for a day."""

    def __init__(self, home: Home, day_seed: int, when: datetime) -> None:
        self.home = home
        self.when = when
        self.chance = random.Random(day_seed)
        self.air = Surroundings(
            self.chance.gauss(AIR_K, AIR_SPREAD_K), self.chance.gauss(AIR_PA, 500.0), 0.45
        )
        self.day = Day()

    @contextmanager
    def opened(self) -> Iterator[Store]:
        """Open the records, as the bench does at its start."""
        trust = trust_then(self.home.folder, self.when)
        with open_store(self.home.file, self.home.bench, trust=trust) as store:
            yield store

    def exchange(self, store: Store, when: datetime) -> None:
        """Send and take until both sides are level; without a network nothing moves."""
        address = self.home.login.address
        if when.hour == STOLEN_HOUR:
            address = type(address)(address.url.set(port=NOWHERE), address.password)
        line = Exchange(store, address)
        try:
            while True:
                done = line.step(when)
                if not done.sent and not done.took:
                    return
        except StoreError:
            self.day.unsent += 1
        finally:
            line.close()

    def check(self, store: Store, when: datetime, before: Job | None, lead: str, due: str) -> None:
        """Check scale and gauge as every morning; mend what fails, and check that again.

        ``before`` is the last unit of the day before: as it found them they stand. ``due`` is the
        instrument whose calibration is over; a laboratory had it over night.
        """
        running = Running(store, when, self.chance.randrange(1 << 30), self.air)
        if before is not None:
            running.world.scale.gain = before.scale_gain
            running.world.gauge.gain = before.gauge_gain
            running.world.gauge.offset_pa = before.knocked_pa
        running.sign_in(lead)
        if due:
            self._calibrate(running, store, due)
        self._check_scale(running)
        self._check_gauge(running)

    def _calibrate(self, running: Running, store: Store, due: str) -> None:
        """Put the new certificate on record, with what the laboratory found."""
        session, today, world = running.session, self.when.date(), running.world
        fitted = session.instruments.named(due)
        self.day.locked.append(fitted.unfit(today))
        shows = world.gauge.gain if fitted is session.gauge else world.scale.gain
        certificate = {
            "instrument": due,
            "certificate": f"C-{today:%m%d}",
            "laboratory": "Laboratory, invented",
            "on": today.isoformat(),
            "until": (today + timedelta(days=365)).isoformat(),
            "gain": "1.0",
            # A scale is no better than it scatters: as it was certified before.
            "u": "0.03 g" if fitted is session.scale else "20 mbar",
            "adjusted": YES,
            "found_gain": f"{1.0 / shows:.6f}",
        }
        page = Calibrations(store, session)
        words = QuantityFormatter(UnitSystem.METRIC)
        worked = page.work_out(certificate, session.person, words)
        self.day.named[due] = [
            term.label for group in worked.groups for term in group.terms if "→" in term.value
        ]
        running.act("calibrate", **certificate, reason="yearly calibration")
        world.gauge.gain = world.scale.gain = 1.0

    def _check_scale(self, running: Running) -> None:
        fitted, model = running.session.scale, running.world.model
        for _ in range(2):
            model.put_on_pan("nothing")
            running.again("zero", "prove_empty", instrument=fitted.id)
            model.put_on_pan("check weight")
            running.again("check", instrument=fitted.id, weight=WEIGHT)
            model.put_on_pan("nothing")
            running.run(2)
            if fitted.checked is not None and fitted.checked.passed:
                return
            self.day.failed_checks.append(fitted.id)
            running.world.scale.gain = 1.0
        raise AssertionError(f"{self.home.bench}: the scale cannot be mended")

    def _check_gauge(self, running: Running) -> None:
        fitted = running.session.gauge
        for _ in range(2):
            running.again("check", instrument=fitted.id)
            if fitted.checked is not None and fitted.checked.passed:
                return
            self.day.failed_checks.append(fitted.id)
            running.world.gauge.offset_pa = 0.0
        raise AssertionError(f"{self.home.bench}: the gauge cannot be mended")

    def work(self, store: Store, job: Job) -> None:
        """Work one unit through its route, and keep what was really in it."""
        running = Running(store, job.begins, job.number, self.air)
        session, world = running.session, running.world
        world.model.setup = replace(world.model.setup, leak_m3_s=job.leak_pa_m3_s)
        world.scale.gain = job.scale_gain
        world.gauge.gain = job.gauge_gain
        people = session.shop.people
        plan = Plan(
            serial=job.serial,
            specification_id=job.family,
            lot=job.lot,
            technician=people[job.technician],
            lead=people[job.lead],
            order=job.order,
            position=job.position,
            oil_error_kg=job.oil_error_kg,
            charge_error_pa=job.charge_error_pa,
            careless_valve=job.careless_valve,
            notes={"condition": "weeping", "kit": job.kit, "rod": "bright"},
        )
        last = session.shop.current_specifications()
        route = next(s.steps for s in last if s.id == job.family)
        filing = route[-1].id
        technician = Technician(session, world, plan, lambda person: demo.PIN, self.chance)
        technician.scripts = {filing: lambda: file_it(technician)}
        for _ in technician.work():
            running.step()
        rebuild = session.rebuild
        assert rebuild is not None, f"{job.serial} left the bench before it was filed"
        specification = rebuild.specification
        truth = truth_of(world.model, specification)
        self.day.made.append(
            Made(
                job,
                rebuild.unit_id,
                running.clock.utc(),
                truth.oil_inside,
                truth.gas_inside,
                truth.oil_volume_ref_m3 - specification.oil.volume,
                truth.gas_gauge_ref_pa - specification.gas.gauge_pressure,
            )
        )
        self.exchange(store, running.clock.utc())


def file_it(technician: Technician) -> Iterator[str]:
    """File the unit; what it does not match, or lacks, is seen by the lead first."""
    session = technician.session
    step = session.unit().current
    assert step is not None
    if wanted(session, session.unit()):
        yield from technician.weigh_unit(step)
    for lot in unconfirmed(session.unit()):
        technician.scan_can(lot)
    try:
        session.act("file", {})
    except NotAllowedError as refused:
        yield from technician.deviate(step, f"seen by the lead: {refused.what}")
        session.act("file", {})
    yield step.title


def work_day(
    home: Home, jobs: list[Job], before: Job | None, due: str, seed: int, morning: datetime
) -> Day:
    """Work a bench's day: take the shop's news, check, work the units, send."""
    bench = BenchDays(home, seed, morning)
    with bench.opened() as store:
        bench.exchange(store, morning)
        if jobs:
            bench.check(store, morning + timedelta(minutes=2), before, jobs[0].lead, due)
        for job in jobs:
            bench.work(store, job)
        bench.exchange(store, morning + timedelta(hours=11))
    make_copy(home.file, home.copies, morning + timedelta(hours=11, minutes=5))
    return bench.day
