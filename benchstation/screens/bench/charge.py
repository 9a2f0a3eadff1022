"""The gas charge on screen: pressure, where it will settle, its window, and the hold test."""

import math

import numpy as np

from benchstation.bench.capture.charging import ChargePhase, Charging
from benchstation.bench.capture.judgement import charge_budget_of
from benchstation.bench.commands.by_hand import why_not_by_hand
from benchstation.bench.commands.capturing import moved_since_captured
from benchstation.bench.locks import capture_locked, pressure_locked
from benchstation.bench.session import BenchSession
from benchstation.domain.budget_rows import Row
from benchstation.domain.by_hand import HAND
from benchstation.domain.cautions import cautions_at
from benchstation.domain.gas_charge import stood_still
from benchstation.domain.guard import AlarmKind
from benchstation.domain.rebuild import Rebuild
from benchstation.domain.specification import Step
from benchstation.domain.unit_commands import PASS
from benchstation.metrology.conformity import GUARD_FACTOR
from benchstation.quantities.formatter import QuantityFormatter, seconds
from benchstation.quantities.units import (
    Dimension,
    all_to_display,
    display_unit,
    to_display,
)
from benchstation.screens.bench.actions import deviation_action, line_check_actions
from benchstation.screens.bench.by_hand import by_hand_task
from benchstation.screens.bench.charge_coach import (
    MEASURE,
    Fill,
    urge_of,
    when_settled,
    when_shut,
    while_filling,
)
from benchstation.screens.bench.instruction import instruction_now
from benchstation.screens.bench.leak_words import before_hold, proof_at_hand
from benchstation.screens.bench.why import STILL_PA
from benchstation.screens.model.elements import (
    ActionView,
    BigNumber,
    FloatArray,
    LaneView,
    TaskView,
    Tone,
    TraceView,
)

TRACE_S = 90.0
FORECAST_S, FORECAST_POINTS = 20.0, 41
NEAR = 6.0
VAGUE = 0.05
"""A forecast whose U is more than so much of the target is not told."""


def charge_task(
    session: BenchSession, rebuild: Rebuild, step: Step, words: QuantityFormatter
) -> TaskView:
    """Return the task of the charge step."""
    assert session.work.charging is not None
    if session.work.open_form == HAND:
        return by_hand_task(session, step, words)
    view = _View(session, rebuild, step, session.work.charging, words)
    return TaskView(
        step.id,
        step.title,
        step.instruction,
        cautions_at(rebuild.specification, step),
        big=view.big(),
        lines=view.lines(),
        lanes=view.lanes(),
        trace=view.trace(),
        actions=view.actions(),
        urge=view.urge(),
    )


class _View:
    def __init__(
        self,
        session: BenchSession,
        rebuild: Rebuild,
        step: Step,
        charging: Charging,
        words: QuantityFormatter,
    ) -> None:
        assert session.work.charge_target is not None
        self._session, self._rebuild, self._step = session, rebuild, step
        self._charging, self._words = charging, words
        self._now = session.clock.seconds()
        self._goal = session.work.charge_target.target_gauge_pa
        tolerance = rebuild.specification.gas.tolerance
        assert session.work.around is not None
        budget = charge_budget_of(
            session.work.charge_target, session.work.around, session.gauge, STILL_PA
        )
        self._half = max(0.0, tolerance - GUARD_FACTOR * budget.combined())
        rest = (row.u_result**2 for row in budget.rows() if row.name != Row.UNIT_TEMPERATURE)
        self._known_half = max(0.0, tolerance - GUARD_FACTOR * math.sqrt(sum(rest)))
        sample = session.gauge.instrument.latest()
        self._gauge = sample.value if sample else math.nan
        self._stale = session.gauge.good_value(self._now) is None
        self._phase = charging.phase(self._now)
        self._fit = charging.settling(self._now)

    def big(self) -> BigNumber:
        number = self._words.pressure_shown(self._gauge)
        limits = self._session.watch.limits
        tone = Tone.PLAIN
        if self._gauge >= limits.limit_gauge_pa:
            tone = Tone.DANGER
        elif self._gauge >= limits.warning_gauge_pa:
            tone = Tone.CAUTION
        assert self._session.work.around is not None
        unit = self._words.temperature(self._session.work.around.temperature_k)
        caption = f"target {self._words.gauge(self._goal)}, unit {unit}"
        return BigNumber(caption, number.number, f"{number.unit} gauge", tone, self._stale)

    def lines(self) -> tuple[tuple[str, Tone], ...]:
        lines: list[tuple[str, Tone]] = []
        said = instruction_now(self._session.watch.snapshot(), stale=self._stale)
        lines += (said,) if said is not None else self._advice()
        if self._stale:
            lines.append(("nobody watches the pressure; none is read by hand", Tone.DANGER))
        lines += self._settling()
        charge, hold = self._rebuild.charge, self._rebuild.hold
        if charge is not None:
            tone = Tone.GOOD if charge.decision == PASS else Tone.CAUTION
            settled = self._words.pressure(charge.settled_gauge_pa)
            how = "read by hand" if charge.by_hand else "last captured"
            lines.append((f"{how} {settled}: {charge.decision}", tone))
        if charge is not None and charge.decision == PASS and hold is None:
            proof = proof_at_hand(self._session, self._rebuild)
            hold_s = self._rebuild.specification.gas.hold_time
            lines.append(before_hold(proof, hold_s, self._words))
        if hold is not None:
            tone = Tone.GOOD if hold.decision == PASS else Tone.CAUTION
            lines.append((f"last hold test: {hold.decision}", tone))
            stood = stood_still(hold.stood_still_s, stuck=hold.gauge_stuck)
            if stood:
                lines.append((stood, Tone.CAUTION if hold.gauge_stuck else Tone.QUIET))
        return tuple(lines)

    def fill(self) -> Fill:
        """Return the fill that goes on, or the last one."""
        charging = self._charging
        return Fill(charging.fill_from_pa, self._gauge, charging.rate_pa_s, charging.kept)

    def urge(self) -> float:
        """Return how close it is to where the valve is closed, for the tone."""
        return urge_of(self.fill(), self._goal) if self._phase is ChargePhase.FILLING else 0.0

    def _advice(self) -> tuple[tuple[str, Tone], ...]:
        if self._phase is ChargePhase.FILLING and not self._session.work.charge_wanted:
            charge = self._rebuild.charge
            if charge is None or charge.decision != PASS:
                return while_filling(self.fill(), self._goal, self._half, self._words)
        return (self._settled_advice(),)

    def _settled_advice(self) -> tuple[str, Tone]:
        session = self._session
        if self._phase is ChargePhase.HOLDING:
            left = seconds(self._charging.hold_left_s)
            return (f"hold test: {left} left, leave it alone", Tone.MANDATORY)
        if session.work.charge_wanted:
            return ("waiting until it has settled: leave the valve shut", Tone.MANDATORY)
        charge = self._rebuild.charge
        if charge is not None and charge.decision == PASS:
            return ("start the hold test", Tone.MANDATORY)
        if self._fit is None or not self._fit.certain:
            falls = self._charging.filled_last
            return when_shut(self._gauge, self._goal, self._known_half, falls=falls)
        if self._half <= 0.0:
            return MEASURE
        return when_settled(self._fit.final_pa, self._goal, self._half, self._known_half)

    def _settling(self) -> list[tuple[str, Tone]]:
        if self._phase is ChargePhase.FILLING:
            return []
        fit, words = self._fit, self._words
        if fit is None or not self._tells():
            return [("where it will settle cannot be told yet", Tone.QUIET)]
        final, u = words.pressure_shown(fit.final_pa), words.pressure_shown(2 * fit.u_final_pa)
        # "± 0.00" would claim what no gauge knows.
        told = f"{final.number} ± {u.number}" if u.value > 0 and float(u.number) else final.number
        if not fit.certain:
            return [(f"heading for {told} {final.unit}", Tone.QUIET)]
        lines = [(f"will settle at {told} {final.unit}", Tone.PLAIN)]
        if self._phase is ChargePhase.SETTLING and math.isfinite(fit.remaining_s):
            rate = words.pressure_shown(abs(fit.rate_pa_s), 3)
            word = "falling" if fit.rate_pa_s < 0 else "rising"
            lines.append(
                (
                    f"{word} {rate.number} {rate.unit}/s, settled in {seconds(fit.remaining_s)}",
                    Tone.QUIET,
                )
            )
        return lines

    def _tells(self) -> bool:
        """Return True when where it settles is known well enough to be told."""
        fit = self._fit
        if fit is None or self._phase is ChargePhase.FILLING:
            return False
        return fit.certain or 2 * fit.u_final_pa < VAGUE * self._goal

    def lanes(self) -> tuple[LaneView, ...]:
        def shown(pa: float) -> float:
            return to_display(pa, Dimension.PRESSURE, self._words.system)

        limits = self._session.watch.limits
        unit = f"{display_unit(Dimension.PRESSURE, self._words.system)} gauge"
        value = None if self._stale or math.isnan(self._gauge) else shown(self._gauge)
        fit = self._fit if self._tells() else None
        landing = shown(fit.final_pa) if fit is not None else None
        u = 2 * fit.u_final_pa if fit is not None else 0.0
        landing_u = shown(u) - shown(0.0) if math.isfinite(u) else 0.0
        window = (shown(self._goal - self._half), shown(self._goal + self._half))
        marks = (
            ("high warning", shown(limits.warning_gauge_pa), Tone.CAUTION),
            ("high limit", shown(limits.limit_gauge_pa), Tone.DANGER),
        )
        near = NEAR * self._half
        return (
            LaneView(
                "whole charge",
                unit,
                0.0,
                shown(1.06 * limits.limit_gauge_pa),
                value,
                *window,
                landing=landing,
                marks=marks,
                landing_u=landing_u,
            ),
            LaneView(
                "near the target, enlarged",
                unit,
                shown(self._goal - near),
                shown(self._goal + near),
                value,
                *window,
                landing=landing,
                landing_u=landing_u,
            ),
        )

    def trace(self) -> TraceView:
        system = self._words.system
        at, gauge = self._charging.tail(TRACE_S)
        values = all_to_display(gauge, Dimension.PRESSURE, system)
        limits = self._session.watch.limits

        def mark(word: str, pa: float, tone: Tone) -> tuple[str, float, Tone]:
            value = to_display(pa, Dimension.PRESSURE, system)
            return (f"{word} {self._words.pressure_shown(pa).number}", value, tone)

        marks = (
            mark("target", self._goal, Tone.GOOD),
            mark("high warning", limits.warning_gauge_pa, Tone.CAUTION),
            mark("high limit", limits.limit_gauge_pa, Tone.DANGER),
        )
        unit = f"{display_unit(Dimension.PRESSURE, system)} gauge"
        low, high = (
            to_display(self._goal + side * self._half, Dimension.PRESSURE, system)
            for side in (-1, 1)
        )
        return TraceView(
            "Pressure", unit, at - self._now, values, TRACE_S, marks, (low, high), self._forecast()
        )

    def _forecast(self) -> tuple[FloatArray, FloatArray] | None:
        """Return how the pressure settles from now on, where that is known."""
        fit = self._fit
        if fit is None or not fit.certain or self._phase is ChargePhase.FILLING:
            return None
        left = self._gauge - fit.final_pa
        if abs(fit.rate_pa_s) <= 0.0 or left * fit.rate_pa_s >= 0.0:
            return None
        seconds_on = np.linspace(0.0, FORECAST_S, FORECAST_POINTS)
        values = fit.final_pa + left * np.exp(seconds_on * fit.rate_pa_s / left)
        return seconds_on, all_to_display(values, Dimension.PRESSURE, self._words.system)

    def actions(self) -> tuple[ActionView, ...]:
        session, charge = self._session, self._rebuild.charge
        locked = capture_locked(session)
        waiting = session.work.charge_wanted
        holding = self._phase is ChargePhase.HOLDING
        actions: list[ActionView] = []
        if waiting or holding:
            actions.append(
                ActionView("cancel", "Stop waiting" if waiting else "End hold test", "X")
            )
        hold = self._rebuild.hold
        failed = any(e is not None and e.decision != PASS for e in (charge, hold))
        if failed:
            actions.append(deviation_action(session, self._rebuild, self._step))
        if session.gauge.unfit(session.today) and not waiting and not holding:
            why_not = why_not_by_hand(session, self._step)
            actions.append(ActionView("by_hand", "By hand", "B", not why_not, why_not))
            actions += line_check_actions(session)
        # A hold test compares the gauge with itself: it needs no calibration in force.
        hold_locked = pressure_locked(session) if charge is not None and charge.by_hand else locked
        hold_locked = hold_locked or moved_since_captured(session)
        ready = charge is not None and not holding and not hold_locked
        actions.append(
            ActionView(
                "hold",
                "Hold test",
                "H",
                ready,
                ""
                if ready
                else hold_locked or ("it runs" if holding else "capture the charge first"),
                primary=charge is not None and charge.decision == PASS,
            )
        )
        filled = self._phase is not ChargePhase.FILLING
        hangs = locked == AlarmKind.FROZEN.value
        can = filled and not waiting and not holding and (hangs or not locked)
        why_not = locked or (
            "waits until settled"
            if waiting
            else "the hold test runs"
            if holding
            else "nothing is charged yet"
        )
        actions.append(
            ActionView(
                "capture",
                "Capture when settled",
                "Space",
                can,
                "" if can else why_not,
                primary=charge is None or charge.decision != PASS,
            )
        )
        return tuple(actions)
