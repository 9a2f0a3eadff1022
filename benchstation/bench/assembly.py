"""A bench and its instruments put together from what is on record."""

from collections.abc import Callable, Collection, Sequence
from dataclasses import dataclass
from pathlib import Path

from benchstation.bench.alarm_journal import AlarmKeeper
from benchstation.bench.bench_air import BenchAir
from benchstation.bench.bench_instrument import BenchInstrument, BenchInstruments
from benchstation.bench.commands.table import COMMANDS
from benchstation.bench.day_start import day_book
from benchstation.bench.guard_watch import GuardWatch
from benchstation.bench.instrument_checks import stand_by
from benchstation.bench.loop import LiveLoop
from benchstation.bench.resumed_alarms import resume_alarms
from benchstation.bench.session import BenchSession
from benchstation.bench.shop import CONNECTING_PA_S, Shop
from benchstation.bench.unit_on_bench import UnitOnBench
from benchstation.clock import Clock
from benchstation.devices.instrument import Instrument
from benchstation.devices.profile import load_profile
from benchstation.domain.air_evidence import AirLimits
from benchstation.domain.events import AirRead, InstrumentRegistered
from benchstation.domain.instrument_roles import NEEDED, InstrumentRole
from benchstation.domain.surroundings import Surroundings
from benchstation.driver_api.errors import StationError
from benchstation.link.raw_ring import RawRing
from benchstation.metrology.calibration import LinearCalibration
from benchstation.store.chain_store import ChainStore
from benchstation.store.instrument_history import newest_responses, newest_studies
from benchstation.store.newest import newest_of
from benchstation.store.recall import last_checks


class NotOnRecordError(StationError):
    """The settings name an instrument that the journal does not know so."""


@dataclass(frozen=True, slots=True)
class Placed:
    """An instrument that stands at the bench: its id, its role, and what it is for."""

    id: str
    role: InstrumentRole
    use: str = ""


def fit(
    registered: InstrumentRegistered,
    clock: Clock,
    profiles: Sequence[Path] = (),
    raw_folder: Path | None = None,
    *,
    use: str = "",
) -> BenchInstrument:
    """Make an instrument as registered; nothing is opened yet.

    ``profiles`` are folders of the user's own; with ``raw_folder`` the last hours of the line's
    bytes are kept there.
    """
    raw_log = None
    if raw_folder is not None:
        raw_log = RawRing(
            raw_folder, registered.instrument_id, clock.utc, profile=registered.profile_id
        )
    instrument = Instrument(
        registered.role,
        registered.title,
        load_profile(registered.profile_id, profiles),
        LinearCalibration(registered.gain, registered.offset),
        clock=clock.seconds,
        pace=clock.pace,
        raw_log=raw_log,
    )
    return BenchInstrument(instrument, registered, use=use)


def placed_last(store: ChainStore) -> list[Placed]:
    """Return the instrument of each role that was registered last, where no settings say it."""
    newest = {i.role: i.instrument_id for i in store.instruments().values()}
    return [Placed(newest[role], role) for role in InstrumentRole if role in newest]


def registered_as(store: ChainStore, placed: Sequence[Placed]) -> list[InstrumentRegistered]:
    """Return what is on record of these. Raises :class:`NotOnRecordError`."""
    known = store.instruments()
    for one in placed:
        if one.id not in known or known[one.id].role != one.role:
            raise NotOnRecordError(
                f"the {one.role} '{one.id}' of the settings is not on record.",
                advice="Set this bench up again with its set-up file, or correct the settings.",
            )
    if missing := [role for role in NEEDED if role not in {one.role for one in placed}]:
        raise NotOnRecordError(
            f"this bench has no {missing[0]}.", advice="Set it up: see 'benchstation set-up'."
        )
    return [known[one.id] for one in placed]


def bench_from(
    store: ChainStore,
    shop: Shop,
    clock: Clock,
    air: Callable[[], Surroundings],
    *,
    on_change: Callable[[], None] = lambda: None,
    profiles: Sequence[Path] = (),
    raw_folder: Path | None = None,
    placed: Sequence[Placed] = (),
    path: Sequence[str] = (),
    checked_daily: Collection[str] = (),
    altitude_known: bool = False,
    air_limits: AirLimits = AirLimits(),  # noqa: B008 - frozen
) -> LiveLoop:
    """Put the bench of the store's instruments together; the readers are not started.

    ``placed`` is what stands there, where it is not the newest of each role; ``path`` the gauges
    in the pressure path by id, that in the fill line first. Nothing is captured with an
    instrument of a role in ``checked_daily`` that was not checked today. ``air`` gives the set-up's
    figures of the air, by an altitude where ``altitude_known``.
    """
    placed = placed or placed_last(store)
    # Only what is fitted now: an earlier instrument's profile may be gone.
    made = [
        fit(registered, clock, profiles, raw_folder, use=one.use)
        for one, registered in zip(placed, registered_as(store, placed), strict=True)
    ]
    checks, studies = last_checks(store), newest_studies(store)
    responses = newest_responses(store)
    for fitted in made:
        stand_by(fitted, checks.get(fitted.id))
        fitted.repeatability = studies.get(fitted.id)
        fitted.responded = responses.get(fitted.id)
        fitted.checked_daily = fitted.role in checked_daily
    instruments = BenchInstruments(tuple(made), tuple(path))
    gauge = instruments.gauges_in_path[0].instrument
    limits = shop.guard_limits(None, gauge.silent_after_s, CONNECTING_PA_S)
    watch = GuardWatch(limits, clock, on_change)
    for one in instruments.gauges_in_path:
        watch.follow(one.instrument, one.id)
    known_air = BenchAir(air, altitude_known, air_limits)
    for entry in newest_of(store, AirRead):
        known_air.note(entry)
    session = BenchSession(
        shop,
        store,
        clock,
        instruments,
        watch,
        known_air,
        COMMANDS,
        UnitOnBench(shop, store),
        day_book=day_book(store),
    )
    session.signed_in.remember(store, clock.seconds(), clock.utc())
    watch.listeners.append(session.outputs.mute.tell)
    keeper = AlarmKeeper(clock)
    resume_alarms(session, keeper)
    return LiveLoop(session, keeper)
