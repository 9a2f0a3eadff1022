"""Play one fault through the station and say what came of it, the truth beside the record."""

import json
import random
import time
from collections.abc import Callable, Iterator, Sequence
from dataclasses import asdict, dataclass
from functools import partial
from pathlib import Path
from typing import Any

from benchstation.demo import shop as demo
from benchstation.demo.fault_sizes import AS_LISTED, FaultSizes
from benchstation.demo.faults import Fault
from benchstation.demo.held_clock import HeldClock
from benchstation.demo.materials import KIT
from benchstation.demo.play import Episode, FillableDisk, Outcome, Play
from benchstation.demo.stage import TICK_S, make_stage
from benchstation.demo.technician import Plan, RehearsalError, Technician
from benchstation.demo.truth import Truth, truth_of
from benchstation.devices.instrument import Instrument
from benchstation.domain.events import (
    AlarmChanged,
    AlarmEpisodeRecorded,
    RebuildOpened,
    UnitFiled,
)
from benchstation.domain.guard import AlarmState
from benchstation.domain.rebuild import Rebuild
from benchstation.domain.specification import StepKind
from benchstation.domain.statement_words import worded
from benchstation.driver_api.errors import StationError
from benchstation.link.statistics import LinkState
from benchstation.quantities.formatter import METRIC
from benchstation.reports.certificate import write_certificate
from benchstation.reports.export import filed_record, write_json
from benchstation.reports.papers import written
from benchstation.screens.bench.page import bench_view
from benchstation.store.engine import Store, open_store
from benchstation.store.journal import Entry
from benchstation.store.trust import SYSTEM

STORE_FILE = "rebuilds.sqlite"
FAST_PACE = 100.0
BEHIND_S = 0.8
"""Bench time that the readings may be behind the hand, in s."""
LATE_AT_MOST_S = 0.05
"""Wall time that the hand waits for them, in s: a pulled plug brings none."""


@dataclass(frozen=True, slots=True)
class FaultReport:
    """What came of a fault, as data of the rehearsal's JSON. ``caught`` decides."""

    data: dict[str, Any]
    missed: tuple[str, ...]
    """The demands that were not met, in words."""

    @property
    def caught(self) -> bool:
        """Return True when the station caught it."""
        return bool(self.data["caught"])


@dataclass(slots=True)
class FaultRehearsal:
    """One run of a fault in ``data``, with the record in ``folder`` where one was filed."""

    fault: Fault
    data: Path
    folder: Path
    seed: int
    pace: float
    tell: Callable[[str, int, int], None]
    sizes: FaultSizes = AS_LISTED

    def run(self) -> FaultReport:
        """Play it, and compare what is on record with what the bench model holds."""
        began = time.perf_counter()
        self.folder.mkdir(parents=True, exist_ok=True)
        with open_store(self.data / STORE_FILE, demo.BENCH) as store:
            disk = FillableDisk(store)
            held = HeldClock(self.pace)
            stage = make_stage(disk.as_store(), held.clock, self.seed, held.step)
            try:
                stage.start()
                hand = self._technician(stage.live.session, stage.served.world)
                play = Play(stage, hand, disk, held.skip, self.sizes)
                self.sizes.fit(play.world)
                play.technician.scripts = {
                    step_id: partial(script, play) for step_id, script in self.fault.scripts.items()
                }
                ended, gas_at_signing = self._work(play)
                rebuild = play.session.rebuild or _off_the_bench(play, store)
                truth = truth_of(play.model, rebuild.specification)
            finally:
                stage.close()
            outcome = _outcome(rebuild, store.entries(), play, truth, gas_at_signing)
            verified = store.verify()
            paths = self._reports(outcome, rebuild, store)
            data = {
                "ok": False,
                "problems": [] if verified.ok else [verified.problem],
                **_judged(rebuild, outcome.decision),
                "journal_entries": verified.entries,
                "journal_head": verified.head,
                "scale_url": stage.served.scale.url,
                "gauge_url": stage.served.gauge.url,
                "seconds": time.perf_counter() - began,
                "record_json": paths[0],
                "record_pdf": paths[1],
                **_told(self.fault, outcome, ended),
            }
        missed = [d.words for d in self.fault.demands if not d.met(outcome)]
        if outcome.passes and not truth.inside:
            missed.append("the record says pass, and the truth is outside the specification")
        data["caught"] = data["ok"] = not missed and verified.ok
        data["problems"] += missed
        return FaultReport(data, tuple(missed))

    def _technician(self, session: Any, world: Any) -> Technician:
        chance = random.Random(self.seed)  # noqa: S311 - a demonstration's hand
        people = session.shop.people
        plan = Plan(
            serial=f"MR-{2000 + self.seed % 1000}",
            specification_id=self.fault.family,
            lot=demo.LOT_OF[self.fault.family],
            technician=people[demo.TECHNICIANS[0]],
            lead=people[demo.LEAD],
            notes={"condition": "weeping at wiper", "kit": KIT},
            here_for=self.fault.here_for,
        )
        return Technician(session, world, plan, lambda person: demo.PIN, chance)

    def _work(self, play: Play) -> tuple[str, dict[str, float]]:
        """Return why the work ended before the unit was filed, and the gas at each signature."""
        gas: dict[str, float] = {}
        try:
            for word in play.technician.work():
                self._tick(play)
                rebuild = play.session.rebuild
                if rebuild is None:
                    continue
                for step_id in rebuild.signatures.keys() - gas.keys():
                    gas[step_id] = play.model.gas_gauge_pa
                self.tell(word, len(rebuild.signatures), len(rebuild.specification.steps))
        except RehearsalError as error:
            return f"given up: {error}", gas
        except StationError as error:
            return f"refused: {error}", gas
        self._tick(play)
        return "", gas

    def _tick(self, play: Play) -> None:
        time.sleep(TICK_S)
        self._let_readings_come(play)
        play.stage.step()
        play.peak_gauge_pa = max(play.peak_gauge_pa, play.model.line_gauge_pa)
        try:
            play.stage.live.tick()
        except StationError:
            # As at the window: what a tick could not do leaves what was shown before.
            return
        if play.watching:
            view = bench_view(play.session, METRIC)
            play.shown = {banner.id for banner in view.alarms}
            play.shown_at = play.technician.now()

    def _let_readings_come(self, play: Play) -> None:
        """Wait, within reason, until what was shown lately is read: a busy machine is late."""
        session, end = play.session, time.perf_counter() + LATE_AT_MOST_S
        links = (session.scale.instrument, session.gauge.instrument)
        now = play.technician.now()

        def late(link: Instrument) -> bool:
            sample = link.latest()
            live = link.link_state is LinkState.LIVE
            return live and sample is not None and now - sample.at > BEHIND_S

        while any(late(link) for link in links) and time.perf_counter() < end:
            time.sleep(0.001)

    def _reports(self, outcome: Outcome, rebuild: Rebuild, store: Any) -> tuple[str, str]:
        if not outcome.filed:
            return "", ""
        filed = filed_record(store, rebuild.unit_id)
        paths = (
            write_json(filed, self.folder / "record.json"),
            write_certificate(filed, self.folder / "record.pdf"),
        )
        facts = [written(rebuild.unit_id, path) for path in paths]
        store.append(facts, person=SYSTEM, utc=filed.disposition.told_to_utc)
        return str(paths[0]), str(paths[1])


def _off_the_bench(play: Play, store: Store) -> Rebuild:
    """Return the unit that was worked on, where it is not on the bench at the end."""
    opened = store.entries(kind=RebuildOpened.kind)[-1].event
    assert isinstance(opened, RebuildOpened)
    return play.session.on_bench.folded(opened.unit_id)


def _outcome(
    rebuild: Rebuild,
    entries: Sequence[Entry],
    play: Play,
    truth: Truth,
    gas_at_signing: dict[str, float],
) -> Outcome:
    filed = [e.event for e in entries if isinstance(e.event, UnitFiled)]
    return Outcome(
        rebuild=rebuild,
        filed=bool(filed),
        decision=filed[-1].decision if filed else "",
        hold_reasons=tuple(worded(reason) for reason in rebuild.hold_reasons),
        deviations=tuple(
            {
                "step": d.step_id,
                "subject": worded(d.subject),
                "reason": d.reason,
                "person": d.person,
            }
            for d in rebuild.deviations
        ),
        alarms=_episodes(entries),
        events=tuple(e.event for e in entries if getattr(e.event, "unit_id", "")),
        seen=dict(play.seen),
        truth=truth,
        gas_at_signing=gas_at_signing,
        peak_gauge_pa=play.peak_gauge_pa,
        limit_gauge_pa=play.session.watch.limits.limit_gauge_pa,
    )


def _episodes(entries: Sequence[Entry]) -> tuple[Episode, ...]:
    found: dict[str, Episode] = {}
    for entry in entries:
        event = entry.event
        if isinstance(event, AlarmChanged):
            closed = event.state == AlarmState.NORMAL.value
            known = found.get(event.episode)
            by = known.acknowledged_by if known else ""
            found[event.episode] = Episode(event.alarm, event.peak_gauge_pa, by, closed)
        if isinstance(event, AlarmEpisodeRecorded):
            found[event.episode] = Episode(
                event.alarm, event.peak_gauge_pa, event.acknowledged_by, True
            )
    return tuple(found.values())


def _judged(rebuild: Rebuild, decision: str) -> dict[str, Any]:
    """Return the figures that every rehearsal gives; ``None`` where nothing was judged."""
    oil, charge, hold = rebuild.oil_judged(StepKind.BLEED), rebuild.charge, rebuild.hold
    return {
        "serial": rebuild.opened.serial,
        "unit_id": rebuild.unit_id,
        "decision": decision,
        "oil_target_kg": oil.target_shown_kg if oil else None,
        "oil_net_kg": oil.net_shown_kg if oil else None,
        "oil_expanded_kg": oil.expanded_kg if oil else None,
        "oil_decision": oil.decision if oil else "",
        "charge_target_gauge_pa": charge.target_gauge_pa if charge else None,
        "charge_settled_gauge_pa": charge.settled_gauge_pa if charge else None,
        "charge_expanded_pa": charge.expanded_pa if charge else None,
        "charge_decision": charge.decision if charge else "",
        "leak_pa_m3_s": hold.leak_pa_m3_s if hold else None,
        "hold_decision": hold.decision if hold else "",
    }


def _told(fault: Fault, outcome: Outcome, ended: str) -> dict[str, Any]:
    truth = asdict(outcome.truth)
    return {
        "fault": fault.name,
        "title": fault.title,
        "filed": outcome.filed,
        "ended": ended,
        "qa_hold": bool(outcome.hold_reasons),
        "hold_reasons": list(outcome.hold_reasons),
        "deviations": [dict(d) for d in outcome.deviations],
        "alarms": [asdict(episode) for episode in outcome.alarms],
        "steps": _steps(outcome),
        "truth": {
            **truth,
            "inside": outcome.truth.inside,
            "gas_gauge_pa_at_signing": dict(outcome.gas_at_signing),
        },
        "demands": [{"what": d.words, "met": d.met(outcome)} for d in fault.demands],
    }


def _steps(outcome: Outcome) -> dict[str, dict[str, str]]:
    """Return of each step whether it is signed, and how it was judged."""
    rebuild, verdicts = outcome.rebuild, {a.step_id: a.decision for a in outcome.rebuild.attempts}
    current = rebuild.current
    steps: dict[str, dict[str, str]] = {}
    for step in rebuild.specification.steps:
        state = "signed" if step.id in rebuild.signatures else "not reached"
        if step == current:
            state = "open"
        if step.kind is StepKind.FILE and outcome.filed:
            state = "filed"
        verdict = verdicts.get(step.id, "")
        if rebuild.deviated(step.id):
            verdict = f"{verdict}, deviation" if verdict else "deviation"
        steps[step.id] = {"state": state, "verdict": verdict}
    return steps


def as_text(report: FaultReport) -> Iterator[str]:
    """Return the report in lines for a person."""
    d = report.data
    truth = d["truth"]
    yield f"{d['fault']}: {d['title']}"
    yield f"  {'CAUGHT' if report.caught else 'NOT CAUGHT'}, {d['seconds']:.1f} s"
    standing = f"filed: {d['decision']}" if d["filed"] else f"not filed; {d['ended']}"
    held = f", on QA hold: {'; '.join(d['hold_reasons'])}" if d["qa_hold"] else ""
    yield f"  record  {standing}{held}"
    yield (
        f"  truth   oil {truth['oil_volume_ref_m3'] * 1e6:.1f} mL, gas "
        f"{truth['gas_gauge_ref_pa'] / 1e5:.2f} bar gauge, at the reference temperature: "
        f"{'inside' if truth['inside'] else 'outside'} the specification"
    )
    for alarm in d["alarms"]:
        peak = alarm["peak_gauge_pa"]
        most = f", peak {peak / 1e5:.1f} bar" if peak is not None else ""
        yield f"  alarm   {alarm['kind']}{most}, acknowledged by {alarm['acknowledged_by'] or '-'}"
    for demand in d["demands"]:
        yield f"  {'met   ' if demand['met'] else 'MISSED'}  {demand['what']}"


def as_json(report: FaultReport) -> str:
    """Return the report for programs, SI values."""
    return json.dumps(report.data, indent=1)
