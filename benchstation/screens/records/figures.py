"""A record's two judged figures in their windows, and its traces, in one person's units."""

from benchstation.domain.unit_commands import PASS
from benchstation.domain.unit_record import RecordedCharge, RecordedOil
from benchstation.metrology.conformity import Decision
from benchstation.quantities.formatter import QuantityFormatter
from benchstation.quantities.notation import percent
from benchstation.quantities.units import Dimension, UnitSystem, display_unit, shown, to_display
from benchstation.reports.export import FiledRecord
from benchstation.reports.oil_words import pour_goal_kg
from benchstation.screens.model.elements import Tone, TraceView
from benchstation.screens.model.proof import FigureView
from benchstation.store.traces import Trace

TONES = {PASS: Tone.GOOD, Decision.FAIL.value: Tone.DANGER}
Levels = tuple[tuple[str, float | None, Tone], ...]
"""Words, a value in SI where there is one, and what it means."""


def tone_of(decision: str) -> Tone:
    """Return green for a judged pass alone."""
    return TONES.get(decision, Tone.CAUTION)


def _judged(judged: RecordedOil | RecordedCharge) -> str:
    """Return a judgement with its probability, in few words."""
    probability = min(float(judged.probability), 0.9999)
    over = "over " if probability < judged.probability else ""
    return f"{judged.decision}, conforms {over}{percent(probability, 2)}"


def oil_figure(oil: RecordedOil, words: QuantityFormatter) -> FigureView:
    """Return the net oil in its window."""
    target, off = oil.target_shown_kg, oil.tolerance_kg
    number = words.mass_shown(oil.net_shown_kg)
    said = f"U {words.uncertainty(oil.expanded_kg, Dimension.MASS)}; {_judged(oil)}"
    return FigureView(
        "net oil",
        number.number,
        number.unit,
        *_displayed((oil.net_shown_kg, target - off, target + off), Dimension.MASS, words),
        said,
        tone_of(oil.decision),
        tuple(words.mass_shown(end).number for end in (target - off, target + off)),
    )


def charge_figure(charge: RecordedCharge, words: QuantityFormatter) -> FigureView:
    """Return the settled charge in its window."""
    target, off, settled = charge.target_gauge_pa, charge.tolerance_pa, charge.settled_gauge_pa
    number = words.pressure_shown(settled)
    said = f"U {words.uncertainty(charge.expanded_pa, Dimension.PRESSURE)}; {_judged(charge)}"
    return FigureView(
        f"charge at {words.temperature(charge.bench_k)}",
        number.number,
        f"{number.unit} gauge",
        *_displayed((settled, target - off, target + off), Dimension.PRESSURE, words),
        said,
        tone_of(charge.decision),
        tuple(words.pressure_shown(end).number for end in (target - off, target + off)),
    )


def _displayed(
    values: tuple[float, float, float], dimension: Dimension, words: QuantityFormatter
) -> tuple[float, float, float]:
    value, low, high = (to_display(one, dimension, words.system) for one in values)
    return value, low, high


def traces_of(
    filed: FiledRecord, words: QuantityFormatter, *, limits: bool = False
) -> tuple[TraceView, ...]:
    """Return pour and charge from zero on, with what each had to reach.

    ``limits`` adds the high warning and the high limit that were in force at the charge.
    """
    oil, charge, guard = filed.record.oil, filed.record.charge, filed.record.guard
    goal, system = pour_goal_kg(oil), words.system
    pour_window = None if goal is None else (goal - oil.tolerance_kg, goal + oil.tolerance_kg)
    off, target = charge.tolerance_pa, charge.target_gauge_pa
    high: Levels = (("high limit", guard.limit_gauge_pa, Tone.DANGER),) if limits else ()
    known = (
        (
            "pour",
            "Pour" if goal is not None else "Pour, last part",
            Dimension.MASS,
            pour_window,
            (("target", goal, Tone.GOOD),),
        ),
        (
            "charge",
            "Charge",
            Dimension.PRESSURE,
            (target - off, target + off),
            (("target", target, Tone.GOOD), *high),
        ),
    )
    return tuple(
        _trace(trace, title, dimension, window, levels, system)
        for name, title, dimension, window, levels in known
        if (trace := filed.trace(name)) is not None and len(trace.t_us) > 1
    )


def _trace(
    trace: Trace,
    title: str,
    dimension: Dimension,
    window: tuple[float, float] | None,
    levels: Levels,
    system: UnitSystem,
) -> TraceView:
    seconds = trace.t_us / 1e6
    stored = next(iter(trace.channels.values()))
    # Both dimensions are shown by a factor and an offset: one multiplication for a whole hour.
    zero, one = (to_display(value, dimension, system) for value in (0.0, 1.0))
    unit = display_unit(dimension, system)
    if dimension is Dimension.PRESSURE:
        unit += " gauge"
    marks = tuple(
        (f"{words} {(at := shown(value, dimension, system)).number}", at.value, tone)
        for words, value, tone in levels
        if value is not None
    )
    band = None if window is None else tuple(to_display(v, dimension, system) for v in window)
    return TraceView(
        title,
        unit,
        seconds - float(seconds[0]),
        zero + (one - zero) * stored,
        max(float(seconds[-1] - seconds[0]), 1.0),
        marks,
        None if band is None else (band[0], band[1]),
    )
