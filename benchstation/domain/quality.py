"""How a process does by its filed units: control charts, capability, yield, and other limits.

Every filed unit that has the figure counts: held, rejected and reworked ones are what the process
made too, and a chart without them would flatter it. What is amended later is what somebody typed,
never what an instrument gave: the figures stay. A unit that was given up has none.
"""

import math
import statistics
from collections import Counter
from collections.abc import Sequence
from dataclasses import dataclass
from datetime import datetime
from enum import StrEnum

from benchstation.domain.disposition import Standing
from benchstation.domain.gas_charge import ANY_BODY, judge_hold
from benchstation.metrology.capability import Capability, capability
from benchstation.metrology.conformity import GUARD_FACTOR, Decision, judge
from benchstation.metrology.control_chart import IndividualsChart, individuals
from benchstation.metrology.errors import MetrologyError
from benchstation.metrology.risk import global_risk, normal_process
from benchstation.metrology.run_rules import Rule, Signal, run_rules
from benchstation.physics.leak import Leak

LEAST, PROVISIONAL = 3, 20
"""A chart has limits from three values on; below twenty they are provisional (ISO 7870-2)."""


class Quantity(StrEnum):
    """What a chart is of."""

    OIL = "oil"
    CHARGE = "charge"
    LEAK = "leak"
    CHECK = "check"
    """An instrument's checks: what it showed less what was true."""


class Scale(StrEnum):
    """What the values of a chart are counted in."""

    SI = "SI"
    SHARE = "share of the tolerance"
    """Where units of several families, each with its own tolerance, stand side by side."""


@dataclass(frozen=True, slots=True)
class Figure:
    """A filed unit's judged figure, SI. ``limit`` is its tolerance, or the leak allowed.

    ``target`` is 0 for a leak. ``u_scatter``, ``slow`` and ``stuck`` are those of a hold test.
    """

    bench: str
    unit_id: str
    serial: str
    family: str
    utc: datetime
    value: float
    target: float
    limit: float
    u: float
    decision: str
    standing: Standing
    first_pass: bool
    reopened: int
    technician: str
    specification: str
    u_scatter: float | None = None
    slow: float = 0.0
    stuck: bool = False
    amended: int = 0
    """How often a typed field of its record was amended since; a figure that is charted never."""

    @property
    def deviation(self) -> float:
        """Return how far the value is from its target."""
        return self.value - self.target


@dataclass(frozen=True, slots=True)
class RuleRun:
    """A rule that held from one point to another, places from 0; each completion is counted."""

    rule: Rule
    first: int
    last: int
    times: int


@dataclass(frozen=True, slots=True)
class Evaluation:
    """A chart of values in their order in time, and what it says.

    ``chart`` is ``None`` with fewer than three values, or none that differ; ``capability`` also
    where there is no limit. ``lower`` and ``upper`` are the newest limits, of ``limits`` different.
    """

    values: tuple[float, ...]
    scale: Scale
    chart: IndividualsChart | None
    runs: tuple[RuleRun, ...]
    capability: Capability | None
    lower: float | None
    upper: float | None
    limits: int

    @property
    def provisional(self) -> bool:
        """Return True when there are too few values for limits that stay."""
        return len(self.values) < PROVISIONAL


def evaluate_units(figures: Sequence[Figure], quantity: Quantity, scale: Scale) -> Evaluation:
    """Chart units in their order in time, and judge them against the newest unit's limits."""
    if scale is Scale.SHARE:
        # Nothing can be a share of no tolerance.
        figures = [figure for figure in figures if figure.limit > 0.0]
        values = [figure.deviation / figure.limit for figure in figures]
        limits = [1.0] * len(values)
    else:
        values = [figure.deviation for figure in figures]
        limits = [figure.limit for figure in figures]
    upper = limits[-1] if limits else None
    lower = -upper if upper is not None and quantity is not Quantity.LEAK else None
    return evaluate(values, lower, upper, scale, len(set(limits)))


def evaluate(
    values: Sequence[float],
    lower: float | None,
    upper: float | None,
    scale: Scale = Scale.SI,
    limits: int = 1,
) -> Evaluation:
    """Chart values; limits of the chart come from all of them, by their moving ranges."""
    found = tuple(values)
    chart = individuals(found) if len(found) >= LEAST else None
    if chart is not None and chart.sigma <= 0.0:
        chart = None
    runs = runs_of(run_rules(found, chart.mean, chart.sigma)) if chart is not None else ()
    able = None
    if chart is not None and (lower is not None or upper is not None):
        try:
            able = capability(found, lower, upper)
        except MetrologyError:
            # A tolerance of nothing is one that no process can be compared with.
            able = None
    return Evaluation(found, scale, chart, runs, able, lower, upper, limits)


def runs_of(signals: Sequence[Signal]) -> tuple[RuleRun, ...]:
    """Return the signals of one rule that touch each other as one, in the order of their ends."""
    found: list[RuleRun] = []
    for signal in signals:
        last = next((run for run in reversed(found) if run.rule is signal.rule), None)
        if last is not None and signal.first <= last.last + 1:
            longer = RuleRun(signal.rule, last.first, signal.last, last.times + 1)
            found[found.index(last)] = longer
        else:
            found.append(RuleRun(signal.rule, signal.first, signal.last, 1))
    return tuple(sorted(found, key=lambda run: (run.last, run.first)))


@dataclass(frozen=True, slots=True)
class Rejudged:
    """One unit as another limit would judge it."""

    figure: Figure
    decision: Decision
    probability: float | None
    """Of being within the limit; ``None``: a hold test does not say."""

    @property
    def changes(self) -> bool:
        """Return True when the other limit decides otherwise."""
        return self.decision.value != self.figure.decision


def rejudge(figures: Sequence[Figure], quantity: Quantity, limit: float) -> tuple[Rejudged, ...]:
    """Judge filed units by another tolerance, or another allowed leak, as the bench would have.

    From the stored values and their uncertainty; nothing on record changes.
    """
    if quantity is Quantity.LEAK:
        return tuple(Rejudged(figure, _leak(figure, limit), None) for figure in figures)
    found = []
    for figure in figures:
        verdict = judge(figure.deviation, figure.u, -limit, limit)
        found.append(Rejudged(figure, verdict.decision, verdict.probability))
    return tuple(found)


def counted(found: Sequence[Rejudged]) -> Counter[Decision]:
    """Return how many units would pass, fail or be undecided."""
    return Counter(one.decision for one in found)


@dataclass(frozen=True, slots=True)
class NextUnits:
    """What a limit would do to units that are still to be made, if the process stays as it is.

    Shares of all units, 0 to 1 (JCGM 106:2012, 9.5): passed though outside the limit, and not
    passed though within it.
    """

    passed_outside: float
    held_back_inside: float


def next_units(figures: Sequence[Figure], quantity: Quantity, limit: float) -> NextUnits | None:
    """Return the risks of a limit for the units to come; ``None``: too few, or none that differ.

    The process is taken as normal, with the mean and spread of these units less what their own
    uncertainty adds; the uncertainty of the measurement is that of the middle one of them.
    """
    values = [figure.deviation for figure in figures]
    if len(values) < PROVISIONAL:
        return None
    u = statistics.median(figure.u for figure in figures)
    seen = statistics.pvariance(values)
    spread = math.sqrt(max(seen - u * u, 0.0))
    if spread <= 0.0 or limit <= 0.0:
        return None
    process = normal_process(statistics.fmean(values), spread)
    if quantity is Quantity.LEAK:
        risk = global_risk(process, u, None, limit, HOLD_GUARD * u)
    else:
        risk = global_risk(process, u, -limit, limit, GUARD_FACTOR * u)
    return NextUnits(risk.consumer, risk.producer)


HOLD_GUARD = 2.0
"""A hold test passes when the leak with twice its uncertainty is allowed; see ``judge_hold``."""


def _leak(figure: Figure, allowed: float) -> Decision:
    # Records of before the scatter was kept apart have the whole uncertainty as one.
    scatter = figure.u if figure.u_scatter is None else figure.u_scatter
    leak = Leak(figure.value, figure.u, scatter, figure.slow, 0.0, 1.0)
    return judge_hold(leak, allowed, body=ANY_BODY, stuck=figure.stuck).decision
