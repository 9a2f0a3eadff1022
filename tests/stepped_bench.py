"""A bench on virtual devices whose time stands still until told: for tests without threads."""

import random
from collections.abc import Callable, Sequence
from dataclasses import dataclass
from datetime import UTC, datetime
from functools import cache
from pathlib import Path
from tempfile import TemporaryDirectory

from benchstation.bench.assembly import Placed, bench_from
from benchstation.bench.loop import LiveLoop
from benchstation.clock import StepClock
from benchstation.demo import shop as demo
from benchstation.demo.materials import KIT
from benchstation.demo.play import FillableDisk
from benchstation.demo.technician import Plan, Technician
from benchstation.demo.world import SteppedLine, World, make_world
from benchstation.domain.events import InstrumentRegistered
from benchstation.domain.specification import StepKind
from benchstation.store.engine import Store, open_store
from sample_devices.bench_model import BenchModel
from sample_devices.host import Device

START = datetime(2026, 3, 3, 9, 0, tzinfo=UTC)
STEP_S = 0.1


@dataclass
class SteppedBench:
    """A bench that is moved on by :meth:`run`; pulling a plug is leaving its line out."""

    store: Store
    clock: StepClock
    world: World
    live: LiveLoop
    lines: dict[str, SteppedLine]
    unplugged: set[str]
    disk: FillableDisk

    @property
    def session(self):
        return self.live.session

    def run(self, seconds: float) -> None:
        for _ in range(round(seconds / STEP_S)):
            now = self.clock.advance(STEP_S)
            for role, line in self.lines.items():
                if role not in self.unplugged:
                    line.step(now)
            self.live.tick()

    def until(self, condition: Callable[[], bool], seconds: float = 60.0) -> None:
        for _ in range(round(seconds / STEP_S)):
            if condition():
                return
            self.run(STEP_S)
        raise AssertionError(f"not within {seconds} s; the bench says: {self.session.message.text}")

    def pour(self, mass_kg: float) -> None:
        """Pour oil as fast as a hand does, 20 g/s, then let the scale settle."""
        while mass_kg > 0:
            part = min(0.002, mass_kg)
            self.world.model.oil_kg += part
            mass_kg -= part
            self.run(STEP_S)
        self.run(3)

    def sign_in(self, person: str = demo.TECHNICIANS[0]) -> None:
        self.session.act("sign_in", {"person": person, "pin": demo.PIN})

    def technician(self, serial: str = "T-1", family: str = "mr-46-front", **plan) -> Technician:
        people = self.session.shop.people
        made = Plan(
            serial,
            family,
            plan.pop("lot", demo.LOT_OF[family]),
            people[demo.TECHNICIANS[0]],
            people[demo.LEAD],
            notes={"condition": "weeping", "kit": KIT},
            **plan,
        )
        return Technician(self.session, self.world, made, lambda person: demo.PIN, random.Random(1))

    def work_to(self, kind: StepKind | None, *, can: bool = True, **plan) -> None:
        """Let the technician work up to a step of this kind, or until the unit is filed.

        At the weigh-in the can is scanned, unless it is forgotten.
        """
        for _ in self.technician(**plan).work():
            rebuild = self.session.rebuild
            if kind and rebuild and rebuild.current and rebuild.current.kind is kind:
                if kind is StepKind.WEIGH and can and rebuild.oil_lot not in rebuild.lots_confirmed:
                    self.session.act("confirm_lot", {"lot": rebuild.oil_lot})
                return
            self.run(STEP_S)


@dataclass(frozen=True)
class Another:
    """An instrument beside the demonstration's own: what is on record, its profile, its device."""

    registered: InstrumentRegistered
    profile: str
    """The text of a profile of the bench's own; empty: a shipped one."""
    device: Callable[[BenchModel], Device]
    use: str = ""


@cache
def _founded(start: datetime) -> bytes:
    """Return the records file of a shop that was founded then: made once, and copied."""
    with TemporaryDirectory() as folder:
        path = Path(folder) / "founded.sqlite"
        with open_store(path, demo.BENCH) as store:
            demo.found(store, start)
        return path.read_bytes()


def make_bench(
    folder: Path,
    *,
    seed: int = 1,
    name: str = "rebuilds.sqlite",
    start: datetime = START,
    seconds: float = 1.0,
    others: Sequence[Another] = (),
    goes_on: SteppedBench | None = None,
    disk_of: Callable[[Store], FillableDisk] = FillableDisk,
    bench: str = demo.BENCH,
) -> SteppedBench:
    """Make a bench with the demo shop in ``folder``, or go on with the one that is there.

    With ``others`` the fill line's gauge is the demonstration's, and theirs are in the path too.
    With ``goes_on`` the station alone begins anew: time, devices and unit are those of that bench.
    """
    path = folder / name
    new = not path.exists()
    if new:
        path.write_bytes(_founded(start))
    store = open_store(path, bench)
    if new and others:
        store.append([one.registered for one in others], person=demo.LEAD, utc=start)
    disk = disk_of(store)
    store = disk.as_store()
    clock = goes_on.clock if goes_on else StepClock(start)
    world = goes_on.world if goes_on else make_world(seed, demo.AIR)
    for one in others:
        if one.profile:
            (folder / f"{one.registered.profile_id}.toml").write_text(one.profile, "utf-8")
    own = [Placed(i.instrument_id, i.role) for i in demo.instruments(start.date()).values()]
    placed = [Placed(o.registered.instrument_id, o.registered.role, o.use) for o in others]
    gauges = [one.id for one in (*own, *placed) if one.role == "gauge"]
    live = bench_from(
        store,
        demo.demo_shop(store),
        clock.clock,
        lambda: demo.AIR,
        profiles=[folder],
        placed=[*own, *placed],
        path=gauges,
    )
    lines = {
        "scale": SteppedLine(live.session.scale.instrument, world.scale),
        "gauge": SteppedLine(live.session.gauge.instrument, world.gauge),
    }
    for one in others:
        fitted = live.session.instruments.named(one.registered.instrument_id)
        lines[fitted.id] = SteppedLine(fitted.instrument, one.device(world.model))
    bench = SteppedBench(store, clock, world, live, lines, set(), disk)
    for line in lines.values():
        line.device.output(clock.clock.seconds())  # what was sent while nobody listened
    live.session.watch.arm()
    bench.run(seconds)
    return bench
