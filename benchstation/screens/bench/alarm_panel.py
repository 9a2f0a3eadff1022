"""The alarm panel: every open alarm once, active ones above those that have gone back."""

from benchstation.bench.capture.tracing import utc_of
from benchstation.bench.session import BenchSession
from benchstation.domain.guard import AlarmKind, AlarmView
from benchstation.quantities.formatter import QuantityFormatter, lately
from benchstation.screens.bench.instruction import ALARM_DO, tone_of
from benchstation.screens.model.bench import AlarmBannerView

_ACKNOWLEDGE = {True: "Acknowledge, and say what happened.", False: "Acknowledge it."}
LEVELS = (AlarmKind.HIGH_LIMIT, AlarmKind.HIGH_WARNING)


def banners(session: BenchSession, words: QuantityFormatter) -> tuple[AlarmBannerView, ...]:
    """Return the open alarms: active before returned, the worst first.

    A warning that the limit of the same gauge implies is folded into it: one hold is of both.
    """
    alarms = session.watch.snapshot().alarms
    limits = {alarm.gauge: alarm for alarm in alarms if alarm.kind is AlarmKind.HIGH_LIMIT}
    shown = [alarm for alarm in alarms if not _is_implied(alarm, limits.get(alarm.gauge))]
    shown.sort(key=lambda alarm: not alarm.state.active)
    folded = [limits[alarm.gauge] for alarm in alarms if alarm not in shown]
    return tuple(_banner(session, alarm, words, folded=alarm in folded) for alarm in shown)


def _is_implied(alarm: AlarmView, limit: AlarmView | None) -> bool:
    """Return True for a warning that asks for nothing that its limit does not ask for too."""
    if alarm.kind is not AlarmKind.HIGH_WARNING or limit is None:
        return False
    asks_alone = alarm.state.unacknowledged and not limit.state.unacknowledged
    return not asks_alone and (limit.state.active or not alarm.state.active)


def _banner(
    session: BenchSession, alarm: AlarmView, words: QuantityFormatter, *, folded: bool
) -> AlarmBannerView:
    asks = alarm.kind.wants_reason and alarm.state.unacknowledged
    instruction = ALARM_DO[alarm.kind]
    if not alarm.state.active:
        # Who vented, or whether anybody did, is not known here.
        instruction = f"It is back to normal. {_ACKNOWLEDGE[asks]}"
    elif not alarm.state.unacknowledged:
        instruction = f"{instruction} Acknowledged by {alarm.acknowledged_by}."
    now = session.clock.utc()
    since = lately(utc_of(session.clock, alarm.since), now, seconds=True)
    peak = alarm.peak_gauge_pa if alarm.kind in LEVELS else None
    return AlarmBannerView(
        alarm.episode,
        tone_of(alarm),
        _headline(session, alarm, words, folded=folded),
        instruction,
        f"peak {words.pressure(peak)}" if peak else "",
        f"since {since}" + (", not on record yet" if session.to_write.problem else ""),
        _hold(session, alarm, words) if alarm.state.unacknowledged else "",
        asks,
        active=alarm.state.active,
    )


def _hold(session: BenchSession, alarm: AlarmView, words: QuantityFormatter) -> str:
    limits = session.watch.limits
    if alarm.kind is not AlarmKind.HIGH_LIMIT or not alarm.state.active:
        return "Hold to acknowledge"
    clear = limits.limit_gauge_pa - limits.hysteresis_pa
    return f"Hold to acknowledge; clears below {words.pressure(clear)}"


def _headline(
    session: BenchSession, alarm: AlarmView, words: QuantityFormatter, *, folded: bool
) -> str:
    limits, path = session.watch.limits, session.instruments.gauges_in_path
    headline = alarm.kind.value.upper()
    if folded:
        headline += " and warning"
    if len(path) > 1:
        title = next((one.registered.title for one in path if one.id == alarm.gauge), alarm.gauge)
        headline += f", {title}"
    if alarm.kind in LEVELS:
        pressure = alarm.gauge_pa
        now_at = words.gauge(pressure) if pressure is not None else "pressure not known"
        headline += f"   {now_at}" if alarm.state.active else f", now back at {now_at}"
    details = [alarm.detail] if alarm.detail else []
    if alarm.kind is AlarmKind.HIGH_LIMIT:
        limit = words.pressure(limits.limit_gauge_pa)
        details.insert(0, f"{limits.limit_source}: {limit}")
    elif alarm.kind is AlarmKind.HIGH_WARNING:
        level = alarm.threshold_gauge_pa or limits.warning_gauge_pa
        details.insert(0, f"from {words.pressure(level)}")
    return f"{headline}   ({'; '.join(details)})" if details else headline
