"""A desk and its instruments put together from what is on record."""

from collections.abc import Callable, Mapping, Sequence
from pathlib import Path

from benchstation.bench.alarm_journal import AlarmKeeper
from benchstation.bench.bench_instrument import BenchInstrument
from benchstation.bench.commands.table import COMMANDS
from benchstation.bench.guard_watch import GuardWatch
from benchstation.bench.loop import LiveLoop
from benchstation.bench.session import BenchSession
from benchstation.bench.shop import CONNECTING_PA_S, Shop
from benchstation.clock import Clock
from benchstation.devices.instrument import Instrument
from benchstation.devices.profile import load_profile
from benchstation.domain.events import InstrumentRegistered
from benchstation.domain.weigh_in import Surroundings
from benchstation.link.raw_ring import RawRing
from benchstation.metrology.calibration import LinearCalibration
from benchstation.store.engine import Store
from benchstation.store.recall import last_checks


def fit(
    registered: InstrumentRegistered,
    clock: Clock,
    profiles: Sequence[Path] = (),
    raw_folder: Path | None = None,
) -> BenchInstrument:
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
    return BenchInstrument(instrument, registered)


def fitted_now(store: Store, ids: Mapping[str, str]) -> dict[str, InstrumentRegistered]:
    """Return instrument of each role: the one named in ``ids``, else the one registered last."""
    registered = store.instruments()
    newest = {instrument.role: instrument for instrument in registered.values()}
    named = {role: registered[name] for role, name in ids.items() if name in registered}
    return newest | {role: i for role, i in named.items() if i.role == role}


def bench_from(
    store: Store,
    shop: Shop,
    clock: Clock,
    air: Callable[[], Surroundings],
    *,
    on_change: Callable[[], None] = lambda: None,
    profiles: Sequence[Path] = (),
    raw_folder: Path | None = None,
    ids: Mapping[str, str] | None = None,
) -> LiveLoop:
    """Put the desk of the store's instruments together; the readers are not started.

    ``ids`` names the instrument of a role where it need not be the one registered last.
    """
    # Only what is fitted now: an earlier instrument's profile may be gone.
    placed = {
        role: fit(instrument, clock, profiles, raw_folder)
        for role, instrument in fitted_now(store, ids or {}).items()
    }
    checks = last_checks(store)
    for fitted in placed.values():
        fitted.checked = checks.get(fitted.registered.instrument_id)
    scale, gauge = placed["scale"], placed["gauge"]
    stale = gauge.instrument.silent_after_s
    watch = GuardWatch(shop.guard_limits(None, stale, CONNECTING_PA_S), clock, on_change)
    gauge.instrument.taps.append(watch.tap)
    session = BenchSession(shop, store, clock, scale, gauge, watch, air, COMMANDS)
    watch.listeners.append(session.mute.tell)
    return LiveLoop(session, AlarmKeeper(clock))
