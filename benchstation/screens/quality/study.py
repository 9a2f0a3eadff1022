"""One chart's units or checks with all that is said of them: read once, for screen and paper."""

import math
from collections.abc import Mapping, Sequence
from dataclasses import dataclass, replace
from datetime import UTC, datetime, timedelta

from benchstation.domain.instrument_roles import InstrumentRole
from benchstation.domain.quality import (
    Evaluation,
    Figure,
    Quantity,
    Scale,
    evaluate,
    evaluate_units,
)
from benchstation.metrology.distributions import coverage_factor
from benchstation.metrology.drift import DAYS_A_YEAR, Trend, trend
from benchstation.metrology.errors import MetrologyError
from benchstation.quantities.formatter import day_of, local_day, local_month
from benchstation.quantities.units import Dimension, UnitSystem
from benchstation.reports.quality_words import (
    DIMENSIONS,
    WHAT_COUNTS,
    Axis,
    Line,
    axis_of,
    capability_lines,
    chart_lines,
    days,
    group_words,
    rule_words,
    title_of,
    yield_words,
)
from benchstation.screens.model.quality import QualityQuestion
from benchstation.store.chain_store import ChainStore
from benchstation.store.figures import (
    By,
    CheckFigure,
    Group,
    Yield,
    checked_instruments,
    deviations_by_step,
    has_units,
    last_checks_of,
    last_figures,
    names,
    yield_between,
)

MONTHS = 3
CHECKS_SHOWN = 200
NO_DRIFT_SEEN = (
    "A gauge that fills and judges a unit itself shows no deviation when it drifts: its checks do. "
    "A check at zero tells nothing of a span that changes; a calibration does."
)


@dataclass(frozen=True, slots=True)
class Study:
    """What was asked, the values, their evaluation, and the lines about them."""

    question: QualityQuestion
    quantity: Quantity
    title: str
    whose: str
    span: str
    figures: tuple[Figure, ...]
    checks: tuple[CheckFigure, ...]
    found: Evaluation
    axis: Axis
    groups: tuple[tuple[str, tuple[Line, ...]], ...]


def choices_of(
    store: ChainStore, question: QualityQuestion, people: Mapping[str, str]
) -> tuple[tuple[str, str], ...]:
    """Return the names that a chart may be of, the value and what is shown of it."""
    quantity = Quantity(question.quantity)
    if quantity is Quantity.CHECK:
        return tuple((name, name) for name, _ in checked_instruments(store))
    if question.by == By.ALL:
        return ()
    found = names(store, Group(question.family, question.by), quantity)
    named = Group(question.family, question.by, question.name)
    if question.name and question.name not in found and has_units(store, named, quantity):
        # A lot of long ago that another page leads to.
        found = (question.name, *found)
    if question.by == By.TECHNICIAN:
        return tuple(
            sorted(((name, people.get(name, name)) for name in found), key=lambda one: one[1])
        )
    return tuple((name, name) for name in found)


def answered(question: QualityQuestion, found: Sequence[tuple[str, str]]) -> QualityQuestion:
    """Return the question with a name where it needs one: that asked for, else the first."""
    known = [value for value, _ in found]
    if question.name in known or not known:
        return question if known else replace(question, name="")
    return replace(question, name=known[0])


def study_of(
    store: ChainStore,
    question: QualityQuestion,
    system: UnitSystem,
    now: datetime,
    people: Mapping[str, str],
) -> Study:
    """Read and evaluate what a question asks; its name is one that there is, or empty."""
    quantity = Quantity(question.quantity)
    if quantity is Quantity.CHECK:
        return _of_checks(store, question, system)
    return _of_units(store, question, quantity, system, now, people)


def _of_units(
    store: ChainStore,
    question: QualityQuestion,
    quantity: Quantity,
    system: UnitSystem,
    now: datetime,
    people: Mapping[str, str],
) -> Study:
    group = Group(question.family, question.by, question.name)
    figures: tuple[Figure, ...] = ()
    if question.by == By.ALL or question.name:
        figures = last_figures(store, quantity, group, question.count)
    months = tuple(
        (since, yield_between(store, quantity, group, since, until))
        for since, until in months_before(now, MONTHS)
    )
    steps = deviations_by_step(store, figures)
    return unit_study(question, figures, months, steps, system, people)


def unit_study(
    question: QualityQuestion,
    figures: tuple[Figure, ...],
    months: Sequence[tuple[datetime, Yield]],
    steps: Sequence[tuple[str, int, int]],
    system: UnitSystem,
    people: Mapping[str, str],
) -> Study:
    """Evaluate units: ``months`` are their yields, ``steps`` their deviations by step."""
    quantity = Quantity(question.quantity)
    scale = Scale.SI if question.family else Scale.SHARE
    if scale is Scale.SHARE:
        figures = tuple(figure for figure in figures if figure.limit > 0.0)
    found = evaluate_units(figures, quantity, scale)
    dimension = DIMENSIONS[quantity] if scale is Scale.SI else None
    axis = axis_of(dimension, _shown_values(found), _spread(found), system)
    counts = [("What counts", "", WHAT_COUNTS)]
    if scale is Scale.SHARE:
        each = "Each unit's deviation by its own tolerance, so that families stand side by side."
        counts.append(("All families", "", each))
    if quantity is Quantity.CHARGE:
        counts.append(("Drift of the gauge", "", NO_DRIFT_SEEN))
    groups = (
        ("Against the tolerance", capability_lines(found, axis)),
        ("Right the first time", _yields(figures, months)),
        ("Deviations by step", _deviations(figures, steps)),
        ("Chart", chart_lines(found, axis)),
        ("How it is counted", tuple(counts)),
    )
    name = people.get(question.name, question.name)
    return Study(
        question,
        quantity,
        title_of(quantity, scale),
        group_words(question.family, question.by, name),
        _span(figures),
        figures,
        (),
        found,
        axis,
        tuple((title, lines) for title, lines in groups if lines),
    )


def _span(figures: Sequence[Figure]) -> str:
    if not figures:
        return "no units"
    return f"{len(figures)} units, {days([figure.utc for figure in figures])}"


def _shown_values(found: Evaluation) -> tuple[float, ...]:
    ends = [limit for limit in (found.lower, found.upper) if limit is not None]
    return (*found.values, *ends)


def _spread(found: Evaluation) -> float:
    if found.chart is not None:
        return found.chart.sigma
    # A value far outside must not hide what it is outside of.
    return min(max(map(abs, found.values), default=0.0), found.upper or math.inf)


def _yields(
    figures: Sequence[Figure], months: Sequence[tuple[datetime, Yield]]
) -> tuple[Line, ...]:
    right = sum(figure.first_pass for figure in figures)
    lines = [("Units of this chart", yield_words(right, len(figures)), "")]
    for since, one in months:
        words = yield_words(one.first_pass, one.units)
        lines.append((local_month(since), words, ""))
    meant = (
        "decided pass, no step done again, no deviation, and nothing judged fail; what was "
        "undecided and settled within its step counts as right, a unit that was given up does not"
    )
    return (*lines, ("Right the first time is", "", meant))


def months_before(now: datetime, count: int) -> tuple[tuple[datetime, datetime], ...]:
    """Return this local month and those before it, the newest first, each from when to when."""
    found, start = [], _month_of(now)
    until = now.astimezone(UTC) + timedelta(seconds=1)
    for _ in range(count):
        found.append((start, until))
        until = start
        start = _month_of(start - timedelta(days=1))
    return tuple(found)


def _month_of(utc: datetime) -> datetime:
    local = utc.astimezone().replace(tzinfo=None)
    # As the local day begins, whatever the clocks did since.
    first = local.replace(day=1, hour=0, minute=0, second=0, microsecond=0)
    return first.astimezone().astimezone(UTC)


def _deviations(
    figures: Sequence[Figure], found: Sequence[tuple[str, int, int]]
) -> tuple[Line, ...]:
    if not found:
        return (("Deviations", "none", "among the units of this chart"),) if figures else ()
    return tuple(
        (step, f"{count} in {units} {'unit' if units == 1 else 'units'}", "")
        for step, count, units in found
    )


# --- an instrument's checks ---------------------------------------------------------------------


def _of_checks(store: ChainStore, question: QualityQuestion, system: UnitSystem) -> Study:
    role = dict(checked_instruments(store)).get(question.name, "")
    every = last_checks_of(store, question.name, min(question.count, CHECKS_SHOWN))
    return check_study(question, every, role, system)


def check_study(
    question: QualityQuestion, every: Sequence[CheckFigure], role: str, system: UnitSystem
) -> Study:
    """Evaluate an instrument's checks: those against what the newest was made against."""
    newest = every[-1] if every else None
    same = tuple(
        one
        for one in every
        if newest is not None and (one.check, one.nominal) == (newest.check, newest.nominal)
    )
    limit = newest.tolerance if newest is not None else None
    found = evaluate(
        [one.error for one in same],
        None if limit is None else -limit,
        limit,
        limits=len({one.tolerance for one in same}),
    )
    dimension = _dimension(role)
    axis = axis_of(dimension, _shown_values(found), _spread(found), system)
    left_out = len(every) - len(same)
    counts = [
        ("What counts", "", "Checks that were not withdrawn, as they were made; passed or not."),
        ("Why checks", "", NO_DRIFT_SEEN),
    ]
    if left_out:
        others = f"{left_out} checks against another weight or value are left out."
        counts.append(("Other checks", "", others))
    groups = (
        ("Drift", _drift_lines(same, axis)),
        ("Against its limit", capability_lines(found, axis)),
        ("Chart", chart_lines(found, axis)),
        ("How it is counted", tuple(counts)),
    )
    span = f"{len(same)} checks, {days([one.utc for one in same])}" if same else "no checks"
    return Study(
        question,
        Quantity.CHECK,
        title_of(Quantity.CHECK, Scale.SI),
        question.name or "no instrument",
        span,
        (),
        same,
        found,
        axis,
        tuple((title, lines) for title, lines in groups if lines),
    )


def _dimension(role: str) -> Dimension:
    known = {one.value: one.dimension for one in InstrumentRole}
    return known.get(role, Dimension.PRESSURE)


def drift_of(checks: Sequence[CheckFigure]) -> Trend | None:
    """Return the line through an instrument's errors in time; ``None``: too few days."""
    try:
        return trend([(day_of(one.utc), one.error) for one in checks])
    except (MetrologyError, ValueError, ZeroDivisionError):
        return None


def _drift_lines(checks: Sequence[CheckFigure], axis: Axis) -> tuple[Line, ...]:
    line = drift_of(checks)
    if line is None:
        return (("Drift", "not known", "it needs checks on three days that differ"),)
    month = DAYS_A_YEAR / 12.0
    reach = coverage_factor(0.95, line.dof) * line.u_per_day * month
    proved = "proved: beyond its own uncertainty" if line.proved else "not proved"
    newest = checks[-1]
    return (
        (
            "Drift a month",
            axis.signed(line.per_day * month),
            f"± {axis.text(reach)} with 95 % confidence; {proved} (GUM G.3, H.3)",
        ),
        (
            "Newest check",
            axis.signed(newest.error),
            f"{local_day(newest.utc)}, allowed ± {axis.text(newest.tolerance)}, "
            f"{'passed' if newest.passed else 'FAILED'}",
        ),
    )


def runs_in_words(study: Study) -> tuple[Line, ...]:
    """Return each rule that fired, the newest first: the rule, which points, where published."""
    found = [
        (run.rule.value, rule_words(run), run.rule.source) for run in reversed(study.found.runs)
    ]
    chart = study.found.chart
    if chart is not None:
        found += [
            (
                "moving range beyond its limit",
                f"between {place + 1} and {place + 2}",
                "NIST/SEMATECH e-Handbook 6.3.2.2",
            )
            for place in reversed(chart.ranges_beyond)
        ]
    return tuple(found)
