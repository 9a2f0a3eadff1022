"""What happens at the desk by itself: readings come in, what was waited for is captured."""

from collections.abc import Callable, Mapping
from dataclasses import dataclass, field

from benchstation.devices.instrument import Sample
from benchstation.domain import unit_commands as commands
from benchstation.domain.unit_commands import PASS, NotAllowedError
from benchstation.domain.events import Event
from benchstation.domain.gas_charge import stood_still
from benchstation.domain.rebuild import Rebuild
from benchstation.bench.alarm_journal import AlarmKeeper
from benchstation.bench.capture.charging import MEAN_OVER_S, Charging, SettledCharge
from benchstation.bench.instrument_checks import check
from benchstation.bench.session import Desk
from benchstation.bench.bench_instrument import Fitted
from benchstation.bench.capture.judgement import captured_charge, tested_hold
from benchstation.bench.capture.next_step import after_charge, after_hold
from benchstation.bench.time_out import sign_out_idle
from benchstation.bench.capture.tracing import raw_slice, trace_of
from benchstation.bench.capture.weigh_loop import weigh
from benchstation.store.traces import Trace


@dataclass(slots=True)
class Live:
    """Moves a desk on with time. One thread calls it, the one that calls the desk."""

    desk: Desk
    alarms: AlarmKeeper
    followers: list[Callable[[Desk], None]] = field(default_factory=list)
    """Called after each tick; the demonstration's bench follows the desk so."""
    _unwritten: tuple[list[Event], list[Trace]] = field(default_factory=lambda: ([], []))

    def tick(self) -> None:
        """Take what the instruments brought and do what was waited for."""
        self._tick()
        sign_out_idle(self.desk)
        for follow in self.followers:
            follow(self.desk)

    def _tick(self) -> None:
        desk = self.desk
        now = desk.clock.seconds()
        desk.watch.check()
        for sample in desk.scale.instrument.drain():
            if desk.weighing is not None:
                desk.weighing.take(sample)
            self._steady(desk.scale, sample)
        for sample in desk.gauge.instrument.drain():
            self.alarms.take(sample)
            self._steady(desk.gauge, sample)
            if desk.charging is not None:
                desk.charging.take(sample)
        self._journal_alarms()
        broken = desk.scale.instrument.take_break()
        if broken:
            desk.lose_tare(broken)
        if desk.gauge.instrument.take_break() and desk.charging is not None:
            desk.charging.interrupt()
        if desk.rebuild is None or desk.rebuild.current is None:
            return
        if desk.rebuild.unread is not None:
            # What was asked for was taken back at the hand-over; nothing is captured past the note.
            return
        if desk.weighing is not None:
            weigh(desk, desk.weighing, desk.rebuild, now)
        elif desk.charging is not None:
            self._charge(desk.charging, desk.rebuild, now)

    def _steady(self, fitted: Fitted, sample: Sample) -> None:
        steadying = self.desk.steadying
        if steadying is not None and steadying.fitted is fitted:
            steadying.take(sample)

    def instrument_act(self, role: str, action: str, fields: Mapping[str, str]) -> str:
        """Do an action of the Instruments page and give a sentence."""
        desk = self.desk
        if desk.person is None:
            raise NotAllowedError("nobody is signed in.", advice="Sign in first.")
        if action != "check":
            raise NotAllowedError(f"there is no action '{action}' here.")
        desk.refuse_badges(fields)
        fitted = desk.scale if role == desk.scale.registered.role else desk.gauge
        checked = check(fitted, desk.clock.seconds(), fields)
        desk.journal([checked])
        fitted.checked = checked
        verdict = "passed" if checked.passed else "FAILED: no quality result is captured with it"
        said = f"{fitted.registered.title}: {checked.check} {verdict}."
        return desk.say(said, concern=not checked.passed)

    def _journal_alarms(self) -> None:
        desk = self.desk
        changes = desk.watch.take_changes()
        desk.mute.judge(changes, desk.watch.snapshot())
        events, traces = self.alarms.events(changes, desk.unit_id(), desk.watch.limits)
        self._unwritten[0].extend(events)
        self._unwritten[1].extend(traces)
        # What cannot be written now (a full disk) is tried again at the next tick.
        desk.journal(*self._unwritten)
        self._unwritten = ([], [])

    def _charge(self, charging: Charging, rebuild: Rebuild, now: float) -> None:
        desk = self.desk
        if desk.charge_wanted and not desk.capture_locked():
            settled = charging.settled(now)
            if settled is not None:
                desk.charge_wanted = False
                self._capture_charge(charging, rebuild, settled)
        if desk.hold_wanted:
            self._hold(charging, rebuild)

    def _capture_charge(self, charging: Charging, rebuild: Rebuild, settled: SettledCharge) -> None:
        desk = self.desk
        assert desk.charge_target is not None
        trace = trace_of(desk.clock, *charging.all(), name="gauge_pa", unit="Pa")
        captured = captured_charge(
            rebuild,
            settled,
            target=desk.charge_target,
            gauge=desk.gauge,
            trace_sha256=trace.sha256,
            raw=raw_slice(desk.gauge.instrument.raw_log, desk.clock.seconds(), MEAN_OVER_S),
        )
        desk.journal(commands.capture_charge(rebuild, captured, locked=""), [trace])
        concern = captured.decision != PASS
        desk.say(f"Charge captured: {after_charge(captured)}", concern=concern)

    def _hold(self, charging: Charging, rebuild: Rebuild) -> None:
        desk, charge = self.desk, rebuild.charge
        if charge is None or not charging.holding:
            desk.hold_wanted = False
            desk.say(
                "Hold test ended without a result: the pressure was disturbed. Try again.",
                concern=True,
            )
            return
        at, gauge_pa = charging.hold_samples()
        still = charging.standstill()
        leak = charging.finish_hold(charge.gas_volume_m3, charge.ambient_pa, charge.bench_k)
        if leak is None:
            return
        desk.hold_wanted = False
        start = desk.clock.seconds() - (float(at[-1]) if at.size else 0.0)
        trace = trace_of(desk.clock, at + start, gauge_pa, name="gauge_pa", unit="Pa", note="hold")
        ends = float(gauge_pa[0]), float(gauge_pa[-1])
        tested = tested_hold(rebuild, leak, *ends, trace.sha256, still)
        desk.journal(commands.finish_hold(rebuild, tested), [trace])
        stood = stood_still(tested.stood_still_s, stuck=tested.gauge_stuck)
        said = f"Hold test: {after_hold(tested)} {stood[:1].upper()}{stood[1:]}"
        desk.say(said.rstrip(), concern=tested.decision != PASS)
        desk.enter_step()
