"""Weighing on screen: to go, two lanes, where the pour will land, and words for the hand."""

import numpy as np

from benchstation.bench.capture.oil import before_elsewhere, main_purpose
from benchstation.bench.capture.weighing import Phase, Weighing, WeighPlan
from benchstation.bench.commands.capturing import EMPTIED
from benchstation.bench.commands.scales import SCALE
from benchstation.bench.commands.weighing import LOT, WAYS
from benchstation.bench.session import BenchSession
from benchstation.bench.targets import present_pour
from benchstation.domain.by_hand import HAND
from benchstation.domain.cautions import cautions_at
from benchstation.domain.oil_balance import Purpose
from benchstation.domain.pour_delay import FLOW_OVER_S
from benchstation.domain.rebuild import Rebuild
from benchstation.domain.specification import Method, Step, StepKind
from benchstation.domain.unit_commands import PASS
from benchstation.domain.weigh_in import watch_pour
from benchstation.metrology.adequacy import Fitness, adequacy
from benchstation.metrology.conformity import GUARD_FACTOR
from benchstation.metrology.stability import Stability
from benchstation.quantities.formatter import QuantityFormatter, seconds
from benchstation.quantities.units import (
    Dimension,
    all_to_display,
    display_unit,
    to_display,
)
from benchstation.screens.bench.by_hand import by_hand_task
from benchstation.screens.bench.can import can_first
from benchstation.screens.bench.emptied import emptied_task
from benchstation.screens.bench.scales import scale_task, several
from benchstation.screens.bench.weigh_actions import lot_task, ways_of, weigh_actions
from benchstation.screens.bench.weigh_words import (
    GO,
    NOUN,
    SHORT_BEFORE,
    TO_GO,
    TOO_MUCH,
    TRACE,
    instruction,
    put,
)
from benchstation.screens.model.elements import (
    ActionView,
    BigNumber,
    LaneView,
    TaskView,
    Tone,
    TraceView,
)

BEFORE_TARE = "bleed nothing before the tare: it would not be recorded"
TOUCH = "no digit changes: press the scale lightly, let go"
OFF_IT = "off the scale it cannot tell how much is to go"
AFTER_BEFORE = "how much is to go shows once it is captured"
TRACE_S = 40.0
FINE_KG = 0.010
SLOW_WITHIN_S = 4.0
LEAST_FLOW_KG_S = 5e-4


def weigh_task(
    session: BenchSession, rebuild: Rebuild, step: Step, words: QuantityFormatter
) -> TaskView:
    """Return the task of a weigh or a bleed step."""
    weighing = session.work.weighing
    assert weighing is not None
    if session.work.open_form == HAND:
        return by_hand_task(session, step, words)
    if session.work.open_form == EMPTIED and rebuild.unweighed:
        return emptied_task(session, rebuild, step, words)
    view = _View(session, rebuild, step, weighing, words)
    if session.work.open_form == LOT:
        return lot_task(session, step, words)
    if session.work.open_form == SCALE:
        return scale_task(session, step, weighing.plan.purpose, words)
    return TaskView(
        step.id,
        step.title,
        can_first(rebuild, step, instruction(step, weighing.plan)),
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
        weighing: Weighing,
        words: QuantityFormatter,
    ) -> None:
        self._session, self._rebuild, self._step = session, rebuild, step
        self._weighing, self._words = weighing, words
        self._bleed = step.kind is StepKind.BLEED
        self._purpose = weighing.plan.purpose
        self._now = session.clock.seconds()
        self._stand = present_pour(session)
        self._goal = self._stand.goal_kg
        u, tolerance = self._stand.budget.combined(), self._stand.target.tolerance_kg
        self._half = max(0.0, tolerance - GUARD_FACTOR * u)
        self._scale_fits = adequacy(-tolerance, tolerance, u)
        sample = session.scale.instrument.latest()
        self._raw = sample.value if sample else float("nan")
        self._shown = weighing.poured_kg(self._raw)
        self._stale = session.scale.good_value(self._now) is None
        self._running = weighing.tared
        self._pour = watch_pour(
            *weighing.last_part(FLOW_OVER_S), self._goal, response_s=session.scale.response_s
        )

    @property
    def _pouring(self) -> bool:
        """Return True when the scale shows oil: tared, nothing lifted, and the unit there."""
        weighing = self._weighing
        if not weighing.tared or weighing.wants_before or weighing.jumped_from_kg is not None:
            return False
        return weighing.plan.method is not Method.DIFFERENCE or not weighing.refusal(self._raw)

    @property
    def _left(self) -> float:
        return self._goal - self._shown

    def big(self) -> BigNumber:
        words = self._words
        if not self._pouring:
            number = words.mass_shown(self._raw)
            return BigNumber("on the scale", number.number, number.unit, Tone.PLAIN, self._stale)
        if abs(self._left) <= self._half:
            off = words.mass_difference(-self._left)
            return BigNumber("from target", off.number, off.unit, Tone.PLAIN, self._stale)
        number = words.mass_shown(abs(self._left))
        # What is taken out too much is missing in the unit.
        past = "too much" if self._purpose.adds else "too little in it"
        caption = TO_GO[self._purpose] if self._left > 0 else past
        tone = Tone.PLAIN if self._left > 0 else Tone.CAUTION
        return BigNumber(caption, number.number, number.unit, tone, self._stale)

    def lines(self) -> tuple[tuple[str, Tone], ...]:
        lines: list[tuple[str, Tone]] = []
        if self._stale:
            lines.append(("no valid reading from the scale", Tone.DANGER))
        if self._scale_fits.fitness is Fitness.UNFIT:
            unit = display_unit(Dimension.MASS, self._words.system)
            scale = to_display(1.0, Dimension.MASS, self._words.system)
            lines.append((self._scale_fits.in_words(unit, scale), Tone.DANGER))
        lines += self._words_of_phase()
        if self._purpose is not main_purpose(self._step):
            # What was captured stands in the why panel; here only what to do next.
            return tuple(lines)
        judged = (self._rebuild.oil or {}).get(self._step.id)
        if judged is not None and judged.decision != PASS:
            off = self._words.mass(abs(judged.deviation_kg), 2)
            which = "too little" if judged.deviation_kg < 0 else "too much"
            lines.append((f"last captured: {judged.decision}, {off} {which} oil", Tone.CAUTION))
        counted = self._counted()
        return (*lines, (counted, Tone.QUIET)) if counted else tuple(lines)

    def _counted(self) -> str:
        """Return what counts beside this weighing, where that is not plain from the step."""
        others = self._stand.others
        usual = 1 if self._bleed else 0
        if len(others) <= usual:
            return ""
        said = (f"{NOUN[Purpose(p.purpose)]} {self._words.mass(p.shown_kg)}" for p in others)
        return f"counts already: {', '.join(said)}"

    def _words_of_phase(self) -> list[tuple[str, Tone]]:
        plan = self._weighing.plan
        match self._weighing.phase:
            case Phase.NEED_TARE:
                told = [(f"{put(plan)}, then tare", Tone.MANDATORY), *self._anew()]
                if several(self._session):
                    told.insert(0, (f"on {self._session.scale.registered.title}", Tone.PLAIN))
                if self._weighing.uncaptured:
                    off = self._words.rough_mass(self._weighing.uncaptured_kg)
                    told.append((f"about {off} are not captured: undo that first", Tone.CAUTION))
                elif self._rebuild.unweighed:
                    told.append(("oil may not be weighed: undo that first", Tone.CAUTION))
                elif plan.purpose is Purpose.BLEED and not self._weighed_here():
                    told.append((BEFORE_TARE, Tone.CAUTION))
                return told
            case Phase.TARING:
                return [("taring: hands off", Tone.MANDATORY)]
            case _ if self._weighing.jumped_from_kg is not None:
                return [(self._jumped(plan), Tone.CAUTION)]
            case Phase.CAPTURING:
                word = (self._waits_for(), Tone.MANDATORY)
                return [word, *([] if plan.wants_before else [self._of()])]
            case _ if plan.wants_before:
                said = "zero proven: put the unit on, then capture"
                return [(said, Tone.MANDATORY), *self._anew(), (AFTER_BEFORE, Tone.QUIET)]
            case _ if self._weighing.refusal(self._raw):
                return [
                    ("put the same unit back on the scale", Tone.MANDATORY),
                    (OFF_IT, Tone.QUIET),
                ]
            case _:
                return [self._advice(), self._of(), *self._flow()]

    def _waits_for(self) -> str:
        """Return what the mass that was asked for waits for."""
        if self._weighing.view(self._now).state is Stability.FROZEN:
            return "frozen"
        if self._weighing.unanswered(self._now):
            return TOUCH
        return "waiting for steady: hands off"

    def _weighed_here(self) -> bool:
        """Return True when what ran off was captured already."""
        parts = self._rebuild.counting
        return any((p.step_id, p.purpose) == (self._step.id, self._purpose) for p in parts)

    def _anew(self) -> list[tuple[str, Tone]]:
        """Return why the unit is weighed before the pour once more."""
        session = self._session
        if not before_elsewhere(self._rebuild, self._step, self._weighing, session.scale):
            return []
        why = "the scale or its calibration changed since the weighing before"
        return [(f"{why}: pour back what is not captured, weigh before again", Tone.CAUTION)]

    def _jumped(self, plan: WeighPlan) -> str:
        if plan.method is Method.LOSS:
            return "jug lifted: put it back alone, or tare again"
        was = self._words.mass(self._weighing.jumped_from_kg or 0.0)
        return f"put on or lifted: put it back as it was ({was}), or tare again"

    def _of(self) -> tuple[str, Tone]:
        words = self._words
        return (f"{words.mass(self._shown)} of {words.mass(self._goal)}", Tone.PLAIN)

    def _flow(self) -> list[tuple[str, Tone]]:
        if self._pour.flow_kg_s < LEAST_FLOW_KG_S:
            return []
        text = self._words.flow(self._pour.flow_kg_s)
        if self._pour.seconds_to_target is not None:
            text += f", about {seconds(self._pour.seconds_to_target)} to go"
        return [(text, Tone.QUIET)]

    def _advice(self) -> tuple[str, Tone]:
        plan = self._weighing.plan
        pouring = self._pour.flow_kg_s >= LEAST_FLOW_KG_S
        if self._left < -self._half:
            short_before = not plan.purpose.adds and self._goal < -self._half
            said = SHORT_BEFORE if short_before else TOO_MUCH[plan.purpose, plan.method]
            return (said, Tone.CAUTION)
        if pouring and self._pour.landing_kg >= self._goal - 0.2 * self._half:
            return ("stop", Tone.CAUTION)
        left_s = self._pour.seconds_to_target
        if pouring and left_s is not None and left_s < SLOW_WITHIN_S:
            return ("slow down", Tone.CAUTION)
        if abs(self._left) <= self._half:
            return ("in the window: capture", Tone.MANDATORY)
        return (GO[plan.purpose], Tone.PLAIN)

    def lanes(self) -> tuple[LaneView, ...]:
        def g(kg: float) -> float:
            return to_display(kg, Dimension.MASS, self._words.system)

        unit = display_unit(Dimension.MASS, self._words.system)
        value = g(self._shown) if self._pouring else None
        landing = g(self._pour.landing_kg) if self._pouring else None
        window = (g(self._goal - self._half), g(self._goal + self._half))
        fine = min(FINE_KG, max(0.4 * abs(self._goal), 3 * self._half))
        whole = f"whole {NOUN[self._purpose]}"
        low, high = g(0.0), g(max(1.08 * self._goal, self._goal + 2 * self._half))
        near = (g(self._goal - fine), g(self._goal + 0.6 * fine))
        return (
            LaneView(whole, unit, low, high, value, *window),
            LaneView("last part, enlarged", unit, *near, value, *window, landing=landing),
        )

    def trace(self) -> TraceView:
        at, shown = self._weighing.last_part(TRACE_S)
        goal = self._words.mass_shown(self._goal)
        values = all_to_display(shown, Dimension.MASS, self._words.system)
        unit = display_unit(Dimension.MASS, self._words.system)
        marks = ((f"target {goal.number}", goal.value, Tone.GOOD),)
        return TraceView(
            TRACE[self._weighing.plan.method], unit, at - self._now, values, TRACE_S, marks
        )

    def actions(self) -> tuple[ActionView, ...]:
        if self._session.work.open_form == WAYS:
            return ways_of(self._session, self._rebuild, self._step, self._weighing)
        return weigh_actions(
            self._session, self._rebuild, self._step, self._weighing, self._stale, self._left
        )

    def urge(self) -> float:
        if (
            not self._running
            or self._weighing.wants_before
            or self._pour.flow_kg_s < LEAST_FLOW_KG_S
            or self._goal <= 0
        ):
            return 0.0
        left = max(0.0, self._goal - self._pour.landing_kg)
        return float(np.clip(1.0 - left / (0.3 * self._goal), 0.0, 1.0))
