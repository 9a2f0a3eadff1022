"""A desk and its instruments put together from what is on record."""

from collections.abc import Callable, Sequence
from pathlib import Path

from benchstation.clock import Clock
from benchstation.devices.instrument import Instrument
from benchstation.devices.profile import load_profile
from benchstation.link.raw_ring import RawRing
from benchstation.metrology.calibration import LinearCalibration
from benchstation.rebuild.events import InstrumentRegistered
from benchstation.rebuild.weigh_in import Surroundings
from benchstation.station.acts.table import ACTIONS
from benchstation.station.alarms import AlarmKeeper
from benchstation.station.desk import Desk
from benchstation.station.fitted import Fitted
from benchstation.station.live import Live
from benchstation.station.shop import CONNECTING_PA_S, Shop
from benchstation.station.watch import GuardWatch
from benchstation.store.engine import Store


def fit(
    registered: InstrumentRegistered,
    clock: Clock,
    profiles: Sequence[Path] = (),
    raw_folder: Path | None = None,
) -> Fitted:
    """Make an instrument as registered; nothing is opened yet.

    ``profiles`` are folders of the user's own; with ``raw_folder`` the last hours of the line's
    bytes are kept there.
    """
    raw_log = None
    if raw_folder is not None:
        raw_log = RawRing(raw_folder, registered.role, clock.utc, profile=registered.profile_id)
    instrument = Instrument(
        registered.role,
        registered.title,
        load_profile(registered.profile_id, profiles),
        LinearCalibration(registered.gain, registered.offset),
        clock=clock.seconds,
        pace=clock.pace,
        raw_log=raw_log,
    )
    return Fitted(instrument, registered)


def bench_from(
    store: Store,
    shop: Shop,
    clock: Clock,
    air: Callable[[], Surroundings],
    *,
    on_change: Callable[[], None] = lambda: None,
    profiles: Sequence[Path] = (),
    raw_folder: Path | None = None,
) -> Live:
    """Put the desk of the store's instruments together; the readers are not started."""
    registered = store.instruments().values()
    placed = {i.role: fit(i, clock, profiles, raw_folder) for i in registered}
    scale, gauge = placed["scale"], placed["gauge"]
    stale = gauge.instrument.silent_after_s
    watch = GuardWatch(shop.guard_limits(None, stale, CONNECTING_PA_S), clock, on_change)
    gauge.instrument.taps.append(watch.tap)
    desk = Desk(shop, store, clock, scale, gauge, watch, air, ACTIONS)
    return Live(desk, AlarmKeeper(clock))
