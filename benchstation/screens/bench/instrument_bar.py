"""The guard strip and the alarm banners."""

from collections.abc import Sequence
from dataclasses import replace

from benchstation.bench.bench_instrument import BenchInstrument
from benchstation.bench.session import BenchSession
from benchstation.devices.instrument import Sample
from benchstation.domain.guard import AlarmKind, AlarmView
from benchstation.domain.instrument_roles import InstrumentRole
from benchstation.driver_api.reading import Health
from benchstation.metrology.stability import Stability
from benchstation.quantities.formatter import QuantityFormatter
from benchstation.quantities.notation import NO_VALUE, fixed
from benchstation.quantities.units import Shown
from benchstation.screens.model.bench import ReadingView
from benchstation.screens.model.elements import Tone

MOST_CHARACTERS = 44
_TONE = {
    Health.GOOD: Tone.NORMAL,
    Health.FAILURE: Tone.DANGER,
    Health.OUT_OF_SPECIFICATION: Tone.CAUTION,
    Health.FUNCTION_CHECK: Tone.CAUTION,
    Health.MAINTENANCE_REQUIRED: Tone.MANDATORY,
}
_STEADY = {
    Stability.STEADY: "steady",
    Stability.MOVING: "moving",
    Stability.DRIFTING: "drifting",
    Stability.FROZEN: "frozen: the instrument repeats itself",
}


def strip(session: BenchSession, words: QuantityFormatter) -> tuple[ReadingView, ...]:
    """Return the reading of each instrument as the strip shows it."""
    return tuple(reading_of(session, fitted, words) for fitted in session.instruments)


def reading_of(
    session: BenchSession, fitted: BenchInstrument, words: QuantityFormatter
) -> ReadingView:
    """Return an instrument's reading."""
    sample = fitted.instrument.latest()
    number = shown_of(fitted.role, sample.value if sample else float("nan"), words)
    if fitted.role is InstrumentRole.SCALE:
        return _reading(session, fitted, number, _motion(session, fitted, sample))
    if fitted.role is not InstrumentRole.GAUGE:
        return _reading(session, fitted, number, [])
    alarms = session.watch.snapshot().alarms
    words_of_it, tone = alarm_at([alarm for alarm in alarms if alarm.gauge == fitted.id])
    view = _reading(session, fitted, number, words_of_it)
    return view if tone is None or view.tone is Tone.DANGER else replace(view, tone=tone)


def alarm_at(alarms: Sequence[AlarmView]) -> tuple[list[str], Tone | None]:
    """Return what stands at a gauge whose open alarms these are, the worst first, and its tone.

    What is back to normal waits for a person, and is not as red as what is still so.
    """
    worst = min(alarms, key=lambda alarm: not alarm.state.active, default=None)
    if worst is None:
        return [], None
    if not worst.state.active:
        return [f"{worst.kind.value}: back to normal"], Tone.CAUTION
    tone = Tone.CAUTION if worst.kind is AlarmKind.HIGH_WARNING else Tone.DANGER
    return [worst.kind.value], tone


def shown_of(
    role: InstrumentRole, value: float, words: QuantityFormatter, decimals: int | None = None
) -> Shown:
    """Return what an instrument shows, as number and unit; ``decimals`` where they are usual."""
    match role:
        case InstrumentRole.SCALE:
            return words.mass_shown(value, decimals)
        case InstrumentRole.GAUGE:
            shown = words.pressure_shown(value, decimals)
            return replace(shown, unit=f"{shown.unit} gauge")
        case InstrumentRole.THERMOMETER:
            return words.temperature_shown(value, decimals)
        case InstrumentRole.BAROMETER:
            return words.barometer_shown(value, decimals)
        case InstrumentRole.HYGROMETER:
            return words.humidity_shown(value, decimals)


def _motion(session: BenchSession, fitted: BenchInstrument, sample: Sample | None) -> list[str]:
    """Return the words for the motion of a load, and which one of several scales is used."""
    if session.work.weighing is not None and fitted is session.scale:
        state = session.work.weighing.view(session.clock.seconds()).state
        alone = len(session.instruments.of(InstrumentRole.SCALE)) == 1
        return [*([] if alone else ["this weighing"]), _STEADY.get(state, "settling")]
    if sample is None or sample.stable is None:
        return []
    return ["steady" if sample.stable else "moving"]


def _title(session: BenchSession, fitted: BenchInstrument) -> str:
    """Return what kind of reading it is, and whose where the bench has several."""
    kind = "Pressure" if fitted.role is InstrumentRole.GAUGE else fitted.role.capitalize()
    if len(session.instruments.of(fitted.role)) == 1:
        return kind
    return f"{kind}, {fitted.use or fitted.registered.title}"


def _reading(
    session: BenchSession,
    fitted: BenchInstrument,
    number: Shown,
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
    unfit = fitted.unfit(session.today)
    if unfit:
        said.append(unfit)
    elif fitted.checked is not None:
        said.append("checked today")
    else:
        said.append(f"calibrated to {fitted.registered.calibrated_until}")
    tone = _TONE[report.category]
    if unfit and tone is Tone.NORMAL:
        tone = Tone.CAUTION
    return ReadingView(
        fitted.id,
        _title(session, fitted),
        number.number if sample else NO_VALUE,
        number.unit,
        report.category.value,
        tone,
        tuple(said),
        f"{fixed(age, 1)} s old" if age is not None and stale else "",
        stale,
        beside=fitted is not session.scale and fitted is not session.gauge,
    )


def _short(reason: str) -> str:
    """Return what fits beside a number; the Instruments page says it all."""
    first = reason.split(": ")[0].split(". ")[0]
    if len(first) <= MOST_CHARACTERS:
        return first
    return f"{first[:MOST_CHARACTERS].rsplit(' ', 1)[0]}…"
