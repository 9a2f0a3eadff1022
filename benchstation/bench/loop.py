"""What happens at the bench by itself: readings come in, what was waited for is captured."""

import logging
import math
from collections.abc import Callable
from dataclasses import dataclass, field

from benchstation.bench import gas_weighing, repeatability, second_reading
from benchstation.bench.alarm_journal import AlarmKeeper
from benchstation.bench.bench_instrument import BenchInstrument
from benchstation.bench.broken import break_stated
from benchstation.bench.capture.charging import MEAN_OVER_S, Charging, SettledCharge
from benchstation.bench.capture.judgement import tested_hold
from benchstation.bench.capture.next_step import after_charge, after_hold
from benchstation.bench.capture.tracing import raw_slice, trace_of
from benchstation.bench.capture.weigh_loop import weigh
from benchstation.bench.charge_watch import ChargeWatch
from benchstation.bench.clock_check import ClockWatch
from benchstation.bench.filling import tell_filling
from benchstation.bench.gas_ticks import follow_ticks
from benchstation.bench.locks import capture_locked
from benchstation.bench.messages import Severity, attention_if
from benchstation.bench.release_watch import ReleaseWatch
from benchstation.bench.scale_loss import take_another_scale
from benchstation.bench.session import BenchSession
from benchstation.bench.shop_news import learn
from benchstation.bench.tare_loss import lose_tare
from benchstation.bench.targets import charge_here, follow_temperature
from benchstation.bench.time_out import sign_out_idle
from benchstation.bench.zero_watch import ZeroWatch
from benchstation.domain import unit_commands as commands
from benchstation.domain.gas_charge import hold_drift, stood_still
from benchstation.domain.guard import AlarmState
from benchstation.domain.instrument_roles import InstrumentRole
from benchstation.domain.rebuild import Rebuild
from benchstation.domain.unit_commands import PASS

log = logging.getLogger(__name__)

DRIFT_EVERY_S = 2.0
"""The unit's way to the room's temperature takes half an hour: it is looked at so often."""
FOLLOW_EVERY_S = 0.5
"""And the target that follows from it so often."""


@dataclass(slots=True)
class LiveLoop:
    """Moves a bench on with time. One thread calls it, the one that calls the bench."""

    session: BenchSession
    alarms: AlarmKeeper
    followers: list[Callable[[BenchSession], None]] = field(default_factory=list)
    """Called after each tick; the demonstration's bench follows the bench so."""
    _release: ReleaseWatch = field(default_factory=ReleaseWatch)
    _zero: ZeroWatch = field(default_factory=ZeroWatch)
    _charge_seen: ChargeWatch = field(default_factory=ChargeWatch)
    _clock_seen: ClockWatch = field(default_factory=ClockWatch)
    _drift_at: float = -math.inf
    _followed_at: float = -math.inf

    def tick(self) -> None:
        """Take what came, then write: for whoever shows nothing in between."""
        self.take()
        self.write()

    def take(self) -> None:
        """Take what the instruments brought and do what was waited for."""
        self._take_all()
        sign_out_idle(self.session)
        learn(self.session)
        for follow in self.followers:
            follow(self.session)

    def write(self) -> None:
        """Write what the guard found. What cannot be written now is said, and tried again."""
        session = self.session
        before = session.to_write.problem
        session.to_write.write_when_due(session.clock.seconds())
        problem = session.to_write.problem
        if problem and not before:
            log.error("alarms are not on record yet: %s", problem)
            session.say(f"Not on record yet: {problem}.", Severity.ATTENTION)
        elif before and not problem:
            session.say("What was not on record is written now.")

    def stamp(self) -> tuple[object, ...]:
        """Return a value that is another one after each reading and each change of the guard."""
        session = self.session
        heard = tuple((one.instrument, one.instrument.changes) for one in session.instruments)
        return heard, session.watch.changed

    def _take_all(self) -> None:
        session = self.session
        now = session.clock.seconds()
        self._clock_seen.move_on(session)
        session.watch.check()
        for fitted in session.instruments:
            self._take(fitted)
        self._keep_alarms()
        for fitted in session.instruments:
            broken = fitted.instrument.take_break()
            if broken and fitted is session.scale:
                lose_tare(session, break_stated(broken))
            elif broken and fitted is session.gauge:
                self._release.interrupt()
                self._zero.interrupt()
                self._charge_seen.interrupt()
                if session.work.charging is not None:
                    session.work.charging.unseen()
        follow_ticks(session)
        tell_filling(session)
        gas_weighing.move_on(session)
        second_reading.move_on(session)
        repeatability.move_on(session)
        self._release.move_on(session)
        self._zero.move_on(session)
        self._charge_seen.move_on(session)
        if session.rebuild is None or session.rebuild.current is None:
            return
        if session.rebuild.unread is not None:
            # What was asked for was taken back at the hand-over; nothing is captured past the note.
            return
        if session.work.weighing is not None:
            take_another_scale(session, now)
            weigh(session, session.work.weighing, session.rebuild, now)
        elif session.work.charging is not None:
            if now - self._followed_at >= FOLLOW_EVERY_S:
                self._followed_at = now
                follow_temperature(session, session.rebuild)
            self._charge(session.work.charging, session.rebuild, now)

    def _take(self, fitted: BenchInstrument) -> None:
        """Hand what an instrument brought to whoever follows it."""
        session, steadying = self.session, self.session.work.steadying
        samples = fitted.instrument.drain()
        if not samples:
            return
        role = fitted.role
        if fitted.at_unit:
            session.known_air.follow_probe(samples)
        if role is InstrumentRole.SCALE:
            for sample in samples:
                fitted.steps.take(sample.at, sample.value)
        if session.work.weighing is not None and fitted is session.scale:
            for sample in samples:
                session.work.weighing.take(sample)
        if session.work.unit_weighing is not None and fitted is session.scale:
            for sample in samples:
                session.work.unit_weighing.take(sample)
        if session.study is not None and fitted is session.study.fitted:
            for sample in samples:
                session.study.take(sample)
        if role is InstrumentRole.GAUGE:
            for sample in samples:
                self.alarms.take(fitted.id, sample)
        if fitted is session.gauge:
            for sample in samples:
                self._release.take(sample)
                self._zero.take(sample)
                self._charge_seen.take(sample)
                if session.work.charging is not None:
                    session.work.charging.take(sample)
                if session.work.pressure_again is not None:
                    session.work.pressure_again.take(sample)
        if steadying is not None and steadying.fitted is fitted:
            for sample in samples:
                steadying.take(sample)

    def _keep_alarms(self) -> None:
        session = self.session
        changes = session.watch.take_changes()
        if not changes:
            return
        raised = [c for c in changes if c.new is AlarmState.ACTIVE_UNACKNOWLEDGED]
        if raised:
            # What was said before, such as to let more gas in, holds no longer.
            session.say(f"Alarm: {raised[-1].kind.value}.", Severity.ATTENTION)
        unit_id = session.on_bench.unit_id()
        session.keep(*self.alarms.events(changes, unit_id, session.watch.limits))

    def _charge(self, charging: Charging, rebuild: Rebuild, now: float) -> None:
        session = self.session
        if session.work.charge_target is not None and now - self._drift_at >= DRIFT_EVERY_S:
            self._drift_at = now
            body = session.unit_temperature(rebuild)
            charging.drift = hold_drift(session.work.charge_target, body, DRIFT_EVERY_S)
        if session.work.charge_wanted:
            settled = charging.settled(now)
            if settled is not None and not capture_locked(session):
                session.work.end_charge()
                self._capture_charge(charging, rebuild, settled)
        if session.work.hold_wanted:
            self._hold(charging, rebuild)

    def _capture_charge(self, charging: Charging, rebuild: Rebuild, settled: SettledCharge) -> None:
        session = self.session
        trace = trace_of(session.clock, *charging.all(), name="gauge_pa", unit="Pa")
        captured = charge_here(
            session,
            rebuild,
            settled,
            trace_sha256=trace.sha256,
            raw=raw_slice(session.gauge.instrument.raw_log, session.clock.seconds(), MEAN_OVER_S),
        )
        session.journal(commands.capture_charge(rebuild, captured, locked=""), [trace])
        charging.captured(captured.gauge_pa, rebuild.specification.gas.tolerance)
        severity = attention_if(captured.decision != PASS)
        session.say(f"Charge captured: {after_charge(captured)}", severity)

    def _hold(self, charging: Charging, rebuild: Rebuild) -> None:
        session, charge = self.session, rebuild.charge
        if charge is None or not charging.holding:
            session.work.end_hold()
            session.say(
                "Hold test ended without a result: the pressure was disturbed. Try again.",
                Severity.ATTENTION,
            )
            return
        if charging.hold_left_s > 0:
            return
        at, gauge_pa = charging.hold_samples()
        still, body = charging.standstill(), session.unit_temperature(rebuild)
        drift = hold_drift(charge.terms, body, max(float(at[-1]), 1.0) if at.size else 1.0)
        leak = charging.finish_hold(charge.gas_volume_m3, drift)
        session.work.end_hold()
        if leak is None:
            session.say(
                "Hold test ended without a result: too few readings. Try again.",
                Severity.ATTENTION,
            )
            return
        # The cooling before the hold is told from a leak by it, so it belongs to the evidence.
        trace = trace_of(
            session.clock, *charging.since_closed(), name="gauge_pa", unit="Pa", note="hold"
        )
        tested = tested_hold(
            rebuild,
            leak,
            gauge_pa,
            float(at[-1]),
            trace_sha256=trace.sha256,
            still=still,
            body=body,
        )
        session.journal(commands.finish_hold(rebuild, tested), [trace])
        stood = stood_still(tested.stood_still_s, stuck=tested.gauge_stuck)
        said = f"Hold test: {after_hold(tested)} {stood[:1].upper()}{stood[1:]}"
        session.say(said.rstrip(), attention_if(tested.decision != PASS))
        session.enter_step()
