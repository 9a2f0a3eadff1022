"""The guard strip and the alarm banners."""

from dataclasses import replace

from benchstation.bench.bench_instrument import BenchInstrument
from benchstation.bench.capture.tracing import utc_of
from benchstation.bench.session import BenchSession
from benchstation.domain.guard import AlarmKind, AlarmState, AlarmView
from benchstation.driver_api.reading import Health
from benchstation.metrology.stability import Stability
from benchstation.quantities.formatter import QuantityFormatter
from benchstation.quantities.units import NO_VALUE
from benchstation.screens.bench.instruction import ALARM_DO
from benchstation.screens.model.bench import AlarmBannerView, ReadingView
from benchstation.screens.model.elements import Tone

MOST_CHARACTERS = 44
_TONE = {
    Health.GOOD: Tone.GOOD,
    Health.FAILURE: Tone.DANGER,
    Health.OUT_OF_SPECIFICATION: Tone.CAUTION,
    Health.FUNCTION_CHECK: Tone.CAUTION,
    Health.MAINTENANCE_REQUIRED: Tone.MANDATORY,
}
_ACKNOWLEDGE = {True: "Acknowledge, and say what happened.", False: "Acknowledge it."}
_STEADY = {
    Stability.STEADY: "steady",
    Stability.MOVING: "moving",
    Stability.DRIFTING: "drifting",
    Stability.FROZEN: "frozen: the instrument repeats itself",
}


def strip(session: BenchSession, words: QuantityFormatter) -> tuple[ReadingView, ...]:
    """Return scale and pressure as the strip shows them."""
    return scale_reading(session, words), gauge_reading(session, words)


def scale_reading(session: BenchSession, words: QuantityFormatter) -> ReadingView:
    """Return the scale's reading."""
    sample = session.scale.instrument.latest()
    number = words.mass_shown(sample.value) if sample else words.mass_shown(float("nan"))
    said = []
    if session.weighing is not None:
        state = session.weighing.view(session.clock.seconds()).state
        said.append(_STEADY.get(state, "settling"))
    elif sample is not None and sample.stable is not None:
        said.append("steady" if sample.stable else "moving")
    return _reading(session, session.scale, "Scale", (number.number, number.unit), said)


def gauge_reading(session: BenchSession, words: QuantityFormatter) -> ReadingView:
    """Return the gauge's reading."""
    sample = session.gauge.instrument.latest()
    number = words.pressure_shown(sample.value if sample else float("nan"))
    worst = session.watch.snapshot().worst
    said = [worst.kind.value] if worst is not None else []
    view = _reading(
        session, session.gauge, "Pressure", (number.number, f"{number.unit} gauge"), said
    )
    if worst is None or view.tone is Tone.DANGER:
        return view
    tone = Tone.CAUTION if worst.kind is AlarmKind.HIGH_WARNING else Tone.DANGER
    return replace(view, tone=tone)


def _reading(
    session: BenchSession,
    fitted: BenchInstrument,
    title: str,
    text: tuple[str, str],
    said: list[str],
) -> ReadingView:
    now = session.clock.seconds()
    instrument = fitted.instrument
    sample = instrument.latest()
    report = instrument.health(now)
    age = now - sample.at if sample else None
    stale = age is None or age > instrument.stale_after_s
    if report.category is not Health.GOOD:
        said = [_short(report.reason)]
    unfit = fitted.unfit(session.clock.utc().date())
    if unfit:
        said.append(unfit)
    elif fitted.checked is not None:
        said.append("checked today")
    else:
        said.append(f"calibrated to {fitted.registered.calibrated_until}")
    tone = _TONE[report.category]
    if unfit and tone is Tone.GOOD:
        tone = Tone.CAUTION
    return ReadingView(
        fitted.registered.role,
        title,
        text[0] if sample else NO_VALUE,
        text[1],
        report.category.value,
        tone,
        tuple(said),
        f"{age:.1f} s old" if age is not None and stale else "",
        stale,
    )


def _short(reason: str) -> str:
    """Return what fits beside a number; the Instruments page says it all."""
    first = reason.split(": ")[0].split(". ")[0]
    if len(first) <= MOST_CHARACTERS:
        return first
    return f"{first[:MOST_CHARACTERS].rsplit(' ', 1)[0]}…"


def banners(session: BenchSession, words: QuantityFormatter) -> tuple[AlarmBannerView, ...]:
    """Return every alarm that is not normal, the worst first."""
    seen = session.watch.snapshot()
    return tuple(_banner(session, alarm, seen.gauge_pa, words) for alarm in seen.alarms)


def _banner(
    session: BenchSession, alarm: AlarmView, pressure: float | None, words: QuantityFormatter
) -> AlarmBannerView:
    limits = session.watch.limits
    now_at = words.gauge(pressure) if pressure is not None else "pressure not known"
    level = alarm.kind in (AlarmKind.HIGH_LIMIT, AlarmKind.HIGH_WARNING)
    detail = alarm.detail
    hold = "Hold to acknowledge"
    if alarm.kind is AlarmKind.HIGH_LIMIT:
        detail = f"{limits.limit_source}: {words.pressure(limits.limit_gauge_pa)}"
        clear = limits.limit_gauge_pa - limits.hysteresis_pa
        hold = f"Hold to acknowledge; clears below {words.pressure(clear)}"
    elif alarm.kind is AlarmKind.HIGH_WARNING:
        detail = f"from {words.pressure(alarm.threshold_gauge_pa or limits.warning_gauge_pa)}"
    asks = alarm.kind.wants_reason and alarm.state.unacknowledged
    returned = alarm.state is AlarmState.RETURNED_UNACKNOWLEDGED
    headline = alarm.kind.value.upper()
    if level:
        headline += f", gone back to {now_at}" if returned else f"   {now_at}"
    instruction = (
        f"It has gone back by itself. {_ACKNOWLEDGE[asks]}" if returned else ALARM_DO[alarm.kind]
    )
    if not alarm.state.unacknowledged:
        instruction = f"{ALARM_DO[alarm.kind]} Acknowledged by {alarm.acknowledged_by}."
    since = utc_of(session.clock, alarm.since).astimezone()
    warning_only = alarm.kind is AlarmKind.HIGH_WARNING
    return AlarmBannerView(
        alarm.episode,
        Tone.CAUTION if warning_only else Tone.DANGER,
        f"{headline}   ({detail})" if detail else headline,
        instruction,
        f"peak {words.pressure(alarm.peak_gauge_pa)}" if alarm.peak_gauge_pa and level else "",
        f"since {since:%H:%M:%S}" + (", not on record yet" if session.to_write.problem else ""),
        hold if alarm.state.unacknowledged else "",
        asks,
    )
