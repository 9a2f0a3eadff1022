"""The whole job without a screen: one demo unit over real serial lines, and its record pulled back.

Bench time runs faster than the wall: the virtual bench, the readers' clock and the script all take
the same clock, so a reading's age and a settling time mean what they mean at a real bench.
"""

import json
import random
import time
from collections.abc import Callable, Iterator
from dataclasses import asdict, dataclass
from pathlib import Path
from typing import Any

from benchstation.bench.loop import LiveLoop
from benchstation.clock import rehearsal_clock
from benchstation.demo import shop as demo
from benchstation.demo.materials import KIT
from benchstation.demo.stage import TICK_S, Stage, make_stage
from benchstation.demo.technician import PASS, Plan, RehearsalError, Technician
from benchstation.demo.world import ServedWorld, World
from benchstation.domain.oil_balance import net_shown_kg
from benchstation.domain.rebuild import Rebuild
from benchstation.domain.specification import StepKind
from benchstation.quantities.notation import powered
from benchstation.reports.certificate import write_certificate
from benchstation.reports.export import filed_record, write_json
from benchstation.reports.papers import written
from benchstation.store.engine import Store, open_store
from benchstation.store.search import find_units
from benchstation.store.trust import SYSTEM, Trust

NORMAL_PACE = 8.0
FAST_PACE = 30.0
FAMILY = "mr-46-front"
STORE_FILE = "rebuilds.sqlite"


@dataclass(frozen=True, slots=True)
class Summary:
    """What a rehearsal found; SI values. ``ok`` is true only when every part is as it must be."""

    ok: bool
    problems: tuple[str, ...]
    serial: str
    unit_id: str
    decision: str
    oil_target_kg: float
    oil_net_kg: float
    oil_expanded_kg: float
    oil_decision: str
    charge_target_gauge_pa: float
    charge_settled_gauge_pa: float
    charge_expanded_pa: float
    charge_decision: str
    leak_pa_m3_s: float
    leak_expanded_pa_m3_s: float
    hold_decision: str
    steps: int
    journal_entries: int
    journal_head: str
    scale_url: str
    gauge_url: str
    seconds: float
    record_json: str
    record_pdf: str


@dataclass(slots=True)
class Rehearsal:
    """One run in ``data``, with its reports in ``folder``. ``tell`` hears of progress."""

    data: Path
    folder: Path
    seed: int
    pace: float
    tell: Callable[[str, int, int], None]
    trust: Trust | None = None
    """The key that signs the journal, and where its heads are kept."""

    def run(self) -> Summary:
        """Work the unit through, or go on with the one in ``data``, and check all that is left."""
        began = time.perf_counter()
        for folder in (self.data, self.folder):
            try:
                folder.mkdir(parents=True, exist_ok=True)
            except OSError as error:
                raise RehearsalError(
                    f"the folder cannot be made or used ({error.strerror}).",
                    where=str(folder),
                    advice="Choose another; nothing was done.",
                ) from error
        with open_store(self.data / STORE_FILE, demo.BENCH, trust=self.trust) as store:
            stage = make_stage(store, rehearsal_clock(self.pace), self.seed)
            try:
                self._work(stage)
            finally:
                stage.close()
            rebuild = stage.live.session.rebuild
            assert rebuild is not None
            return self._check(store, rebuild, stage.served, began)

    def _work(self, stage: Stage) -> None:
        stage.start()
        live, world = stage.live, stage.served.world
        session = live.session
        if session.rebuild is not None and not session.rebuild.ended:
            put_back(
                world,
                session.rebuild,
                session.shop.lots[session.rebuild.opened.oil_lot].rho15_kg_m3,
            )
        for word in self._technician(live, world).work():
            rebuild = session.rebuild
            if rebuild is not None:
                steps = rebuild.specification.steps
                self.tell(word, len(rebuild.signatures), len(steps))
            time.sleep(TICK_S)
            live.tick()
        live.tick()

    def _technician(self, live: LiveLoop, world: World) -> Technician:
        chance = random.Random(self.seed)  # noqa: S311 - a demonstration's hand
        people = live.session.shop.people
        plan = Plan(
            serial=f"MR-{2000 + self.seed % 1000}",
            specification_id=FAMILY,
            lot=demo.LOT_OF[FAMILY],
            technician=people[demo.TECHNICIANS[0]],
            lead=people[demo.LEAD],
            order="A-1187",
            position="front left",
            oil_error_kg=chance.gauss(0.0, 1.5e-4),
            notes={"condition": "weeping at wiper", "kit": KIT},
        )
        return Technician(live.session, world, plan, lambda person: demo.PIN, chance)

    def _check(self, store: Store, rebuild: Rebuild, served: ServedWorld, began: float) -> Summary:
        """Pull the record back by serial, verify the journal, and write both reports."""
        serial = rebuild.opened.serial
        problems: list[str] = []
        self.tell("record", len(rebuild.signatures), len(rebuild.specification.steps))
        found = [u for u in find_units(store, serial) if u.unit_id == rebuild.unit_id]
        if len(found) != 1:
            problems.append(f"the record is not found by its serial {serial}")
        filed = filed_record(store, rebuild.unit_id)
        record = filed.record
        verified = store.verify()
        if not verified.ok:
            problems.append(f"the journal is not sound: {verified.problem}")
        for name in ("pour", "charge", "hold"):
            trace = filed.trace(name)
            if trace is None or len(trace.t_us) < 2:
                problems.append(f"the trace of the {name} is missing")
        if record.decision != PASS:
            problems.append(f"the unit's decision is {record.decision}")
        signed = {s.id for s in record.steps}
        route = {s.id for s in rebuild.specification.steps if s.kind is not StepKind.FILE}
        if signed != route:
            problems.append(f"steps without a signature: {', '.join(sorted(route - signed))}")
        json_path = write_json(filed, self.folder / "record.json")
        pdf_path = write_certificate(filed, self.folder / "record.pdf")
        facts = [written(rebuild.unit_id, path) for path in (json_path, pdf_path)]
        store.append(facts, person=SYSTEM, utc=filed.disposition.told_to_utc)
        oil, charge, hold = record.oil, record.charge, record.hold
        return Summary(
            not problems,
            tuple(problems),
            serial,
            rebuild.unit_id,
            record.decision,
            oil.target_shown_kg,
            oil.net_shown_kg,
            oil.expanded_kg,
            oil.decision,
            charge.target_gauge_pa,
            charge.settled_gauge_pa,
            charge.expanded_pa,
            charge.decision,
            hold.leak_pa_m3_s,
            2 * hold.u_leak_pa_m3_s,
            hold.decision,
            len(signed),
            verified.entries,
            verified.head,
            served.scale.url,
            served.gauge.url,
            time.perf_counter() - began,
            str(json_path),
            str(pdf_path),
        )


def put_back(world: World, rebuild: Rebuild, rho15_kg_m3: float) -> None:
    """Bring a fresh virtual bench to where a rebuild stands after the station was restarted."""
    model, specification = world.model, rebuild.specification
    world.bring_in(specification, rho15_kg_m3)
    kinds = [s.kind for s in specification.steps if s.id in rebuild.signatures]
    if StepKind.RELEASE not in kinds:
        return
    model.put_on_pan("body")
    if StepKind.WEIGH in kinds:
        model.oil_kg = net_shown_kg(rebuild.counting) / rebuild_lift(rebuild)
        model.put_on_pan("tray")
        model.put_on_pan("nothing")


def rebuild_lift(rebuild: Rebuild) -> float:
    """Return the shown share of the oil's true mass, from the judgement made at the pour."""
    judged = rebuild.oil_judged(StepKind.WEIGH)
    return judged.terms.buoyancy if judged else 1.0


def as_text(summary: Summary) -> Iterator[str]:
    """Return the summary in lines for a person."""
    s = summary
    yield f"{s.serial}: {s.decision}, {s.steps} steps signed, {s.seconds:.1f} s"
    yield (
        f"  oil     target {s.oil_target_kg * 1e3:8.2f} g     net     {s.oil_net_kg * 1e3:8.2f} g"
        f"     U {s.oil_expanded_kg * 1e3:.2f} g     {s.oil_decision}"
    )
    yield (
        f"  charge  target {s.charge_target_gauge_pa / 1e5:8.3f} bar   settled "
        f"{s.charge_settled_gauge_pa / 1e5:8.3f} bar   U {s.charge_expanded_pa / 1e5:.3f} bar"
        f"   {s.charge_decision}   (gauge pressure)"
    )
    leak = powered(s.leak_pa_m3_s, s.leak_expanded_pa_m3_s)
    yield f"  hold    leak {leak} Pa m3/s (U, k = 2)   {s.hold_decision}"
    yield f"  lines   {s.scale_url}, {s.gauge_url}"
    yield f"  journal {s.journal_entries} entries verified, head {s.journal_head[:16]}"
    yield f"  record  {s.record_json}"
    yield f"          {s.record_pdf}"
    for problem in s.problems:
        yield f"  NOT IN ORDER: {problem}"


def as_json(summary: Summary) -> str:
    """Return the summary for programs, SI values."""
    data: dict[str, Any] = asdict(summary)
    return json.dumps(data, indent=1)
