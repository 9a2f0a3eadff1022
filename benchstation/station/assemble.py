"""A desk and its instruments put together from what is on record."""

from collections.abc import Callable

from benchstation.clock import Clock
from benchstation.devices.instrument import Instrument
from benchstation.devices.profile import load_profile
from benchstation.metrology.calibration import LinearCalibration
from benchstation.rebuild.events import InstrumentRegistered
from benchstation.rebuild.weigh_in import Surroundings
from benchstation.station.alarms import AlarmKeeper
from benchstation.station.desk import LEAST_STALE_S, STALE_INTERVALS, Desk
from benchstation.station.fitted import Fitted
from benchstation.station.live import Live
from benchstation.station.shop import CONNECTING_PA_S, Shop
from benchstation.station.watch import GuardWatch
from benchstation.store.engine import Store


def fit(registered: InstrumentRegistered, clock: Clock) -> Fitted:
    """Make an instrument as registered; nothing is opened yet."""
    instrument = Instrument(
        registered.role,
        registered.title,
        load_profile(registered.profile_id),
        LinearCalibration(registered.gain, registered.offset),
        clock=clock.seconds,
        pace=clock.pace,
    )
    return Fitted(instrument, registered)


def bench_from(
    store: Store,
    shop: Shop,
    clock: Clock,
    air: Callable[[], Surroundings],
    *,
    on_change: Callable[[], None] = lambda: None,
) -> Live:
    """Put the desk of the store's instruments together; the readers are not started."""
    placed = {i.role: fit(i, clock) for i in store.instruments().values()}
    scale, gauge = placed["scale"], placed["gauge"]
    stale = max(LEAST_STALE_S * clock.pace, STALE_INTERVALS * gauge.instrument.interval_s)
    watch = GuardWatch(shop.guard_limits(None, stale, CONNECTING_PA_S), clock, on_change)
    gauge.instrument.taps.append(watch.tap)
    desk = Desk(shop, store, clock, scale, gauge, watch, air)
    return Live(desk, AlarmKeeper(clock))
