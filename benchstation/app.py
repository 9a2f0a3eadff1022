"""What is wired to what: the window on the demonstration, and on the real bench."""

import logging
import os
import shutil
import subprocess
from collections.abc import Callable, Iterator, Mapping, Sequence
from contextlib import contextmanager
from dataclasses import dataclass
from datetime import UTC, datetime, timedelta
from pathlib import Path
from typing import TYPE_CHECKING, Any

from benchstation.atomic_file import make_private
from benchstation.bench.accepting import Accepting
from benchstation.bench.assembly import Placed, bench_from
from benchstation.bench.bench_air import estimated
from benchstation.bench.bench_settings import BenchSettings, found_changed
from benchstation.bench.clock_check import note_clock
from benchstation.bench.copying import CopyKeeper
from benchstation.bench.lead_signs import lead_signs
from benchstation.bench.onboarding.changing import (
    FoundedError,
    SetUpPlan,
    is_founded,
    plan_set_up,
    put_on_record,
)
from benchstation.bench.onboarding.first_start import FirstStart, Outcome
from benchstation.bench.onboarding.instrument import Adding
from benchstation.bench.onboarding.refitting import BenchKeeper
from benchstation.bench.onboarding.set_up import write_set_up
from benchstation.bench.outputs.assembly import feed_for, lamp_for
from benchstation.bench.session import BenchSession
from benchstation.bench.shop import Shop, shop_from
from benchstation.bench.tare_loss import recover
from benchstation.bench.virtual import know_sources
from benchstation.clock import Clock, running_clock
from benchstation.config.settings import (
    Settings,
    files_beside,
    home_folder,
    load_settings,
    own_profiles,
    save_settings,
)
from benchstation.crash import Crash, CrashHooks, prepare_process
from benchstation.domain.events import Event
from benchstation.domain.guard_limits import HeardAgain
from benchstation.domain.instrument_roles import NEEDED
from benchstation.domain.people import Person
from benchstation.domain.surroundings import Surroundings
from benchstation.driver_api.errors import StationError
from benchstation.screens.instruments.first_start import FirstStartScreens
from benchstation.screens.instruments.onboarding import AddingScreens
from benchstation.screens.model.service import DemoHand
from benchstation.screens.not_whole import NotWholeScreens
from benchstation.screens.records.page import Records
from benchstation.screens.service import Station
from benchstation.store.backends.postgresql import ShopAddress
from benchstation.store.engine import Store, open_store
from benchstation.store.errors import BehindError
from benchstation.store.trust import trust_at
from benchstation.ui.shell.run import display_problem, run_first_start, run_window
from sample_devices.bench_model import LINE_VOLUME_M3

if TYPE_CHECKING:
    from benchstation.demo.past import PastInMaking

STORE_FILE = "rebuilds.sqlite"
DEMO_NOTE = "Demonstration: virtual instruments; records are thrown away at the end."
_LOG = logging.getLogger(__name__)


class NoDisplayError(StationError):
    """There is nothing to draw on."""


class NotSetUpError(StationError):
    """There are no instruments or ratings for this bench yet."""


def require_display() -> None:
    """Raise :class:`NoDisplayError` with what to do when no window can be shown."""
    problem = display_problem()
    if problem:
        raise NoDisplayError(problem)


@dataclass(frozen=True, slots=True)
class _Wiring:
    """What differs between a real bench and the demonstration."""

    shop: Shop
    clock: Clock
    air: Callable[[], Surroundings]
    urls: Mapping[str, str]
    """The port of each instrument, by its id."""
    settings: BenchSettings
    hint: str = ""
    note: str = ""
    hand: DemoHand | None = None
    follow: Callable[[BenchSession], None] | None = None
    on_shown: Callable[[], None] | None = None
    profiles: Sequence[Path] = ()
    raw_folder: Path | None = None
    placed: Sequence[Placed] = ()
    path: Sequence[str] = ()
    real: bool = False
    """Whether this is a bench that was set up for work."""


def _run(store: Store, wiring: _Wiring, log_folder: Path) -> int:
    """Read both instruments, run the bench, show the window; everything ends with it."""
    waking: list[Station] = []

    def tell(crash: Crash) -> None:
        for station in waking:
            station.report(crash.words)

    def wake() -> None:
        for station in waking:
            station.wake()

    live = bench_from(
        store,
        wiring.shop,
        wiring.clock,
        wiring.air,
        on_change=wake,
        profiles=wiring.profiles,
        raw_folder=wiring.raw_folder,
        placed=wiring.placed,
        path=wiring.path,
    )
    live.session.guiding.everybody = wiring.hand is not None
    if wiring.follow is not None:
        live.followers.append(wiring.follow)
    session = live.session
    settings = wiring.settings.now
    if settings.lamp is not None:
        session.outputs.show_on(lamp_for(settings.lamp, session))
    if settings.feed_port is not None:
        session.outputs.send_to(feed_for(settings.feed_port, session))
    session.go_by(wiring.settings)
    know_sources(session, wiring.urls, real=wiring.real)
    recover(session)
    station = Station(live, Records(store), hint=wiring.hint, note=wiring.note)
    station.display = settings.unit_system
    waking.append(station)
    keeper = BenchKeeper(
        session, station.ask, wiring.settings.keep_instrument, wiring.urls, wiring.raw_folder
    )
    adding = Adding(keeper)
    for fitted in session.instruments:
        fitted.instrument.connect(wiring.urls[fitted.id])
    session.watch.arm()
    station.start()
    for output in (session.outputs.lamp, session.outputs.feed):
        if output is not None:
            output.start()
    if settings.backup_folders:
        places = settings.backup_folders
        copies = CopyKeeper(store, places, wiring.clock.utc, files_beside)
        session.keep_copies(copies)
        store.on_signed = copies.wake
        copies.start()
    end_exchange = _exchange_with_shop(store, session, station.wake)
    hooks = CrashHooks(log_folder, tell)
    hooks.install()
    try:
        return run_window(
            station,
            demo_hand=wiring.hand,
            adding=AddingScreens(adding),
            dark=settings.theme == "dark",
            text_percent=settings.text_scale,
            pedal_key=settings.pedal_key,
            on_shown=wiring.on_shown,
        )
    finally:
        hooks.close()
        if session.copies is not None:
            store.on_signed = None
            session.copies.close()
        end_exchange()
        adding.close()
        if session.outputs.lamp is not None:
            session.outputs.lamp.close()
        if session.outputs.feed is not None:
            session.outputs.feed.close()
        station.close()
        for fitted in session.instruments:
            fitted.instrument.stop()


def _exchange_with_shop(
    store: Store, session: BenchSession, changed: Callable[[], None]
) -> Callable[[], None]:
    """Start what this bench and its shop exchange, where it joined one; return what ends it."""
    url = session.settings.now.shop_url
    if url is None:
        return lambda: None
    from benchstation.bench.forwarding import Forwarder
    from benchstation.store.shop.passwords import login_at

    try:
        forwarder = Forwarder(store, login_at(url), session.clock.utc, changed)
    except StationError as error:
        # The bench works without its shop; the window says what is wrong.
        problem = f"Shop: {error.what}"
        session.say_of_shop(lambda now: problem)
        return lambda: None
    session.say_of_shop(forwarder.note)
    forwarder.start()
    return forwarder.close


def run_whole_shop(
    settings: Settings, login: ShopAddress, *, hint: str = "", note: str = ""
) -> int:
    """Show the window of a whole shop: its records, and people's words on them."""
    from benchstation.bench.without_instruments import QuietLoop, session_without_instruments
    from benchstation.screens.whole_shop.service import ShopStation
    from benchstation.store.shop.shop_store import open_shop

    prepare_process()
    with open_shop(login, trust_at(home_folder())) as store:
        store.catch_up()
        name = settings.shop or store.name()
        session = session_without_instruments(store, name, running_clock(), settings)
        station = ShopStation(QuietLoop(session), store, hint=hint, note=note)
        station.display = settings.unit_system
        hooks = CrashHooks(home_folder(), lambda crash: station.report(crash.words))
        hooks.install()
        station.start()
        try:
            return run_window(
                station,
                dark=settings.theme == "dark",
                text_percent=settings.text_scale,
                whole_shop=True,
            )
        finally:
            hooks.close()
            station.close()


def run_demo(*, units: int | None = None) -> int:
    """Show the window on virtual devices and the demo shop, in a folder that is thrown away.

    Where the shop's past is not kept from an earlier start of the month, the window opens without
    it; it is made beside, and opened when somebody asks for it.
    """
    from benchstation.demo import history
    from benchstation.demo import shop as demo
    from benchstation.demo.past import PastInMaking, carry_over
    from sample_devices.thrown_away import ThrownAway

    require_display()
    prepare_process()
    thrown_away = ThrownAway("benchstation-demo-")
    now = datetime.now(UTC)
    past = PastInMaking(now.date(), units or history.UNITS)
    full, first = thrown_away.path / STORE_FILE, thrown_away.path / "first.sqlite"
    try:
        if past.file is not None:
            shutil.copyfile(past.file, full)
            with open_store(full, demo.BENCH) as store:
                return _run_morning(store, thrown_away.path, now, None)
        with open_store(first, demo.BENCH) as store:
            demo.found(store, history.founded_at(now.date(), units or history.UNITS))
            founded, _ = store.head()
            code = _run_morning(store, thrown_away.path, now, past)
            if not past.wanted or past.file is None:
                return code
            shutil.copyfile(past.file, full)
            with open_store(full, demo.BENCH) as whole:
                carry_over(store, whole, founded)
        with open_store(full, demo.BENCH) as store:
            return _run_virtual(store, thrown_away.path, datetime.now(UTC), {})
    finally:
        past.close()
        thrown_away.close()


def _run_morning(store: Store, folder: Path, now: datetime, past: "PastInMaking | None") -> int:
    """Show the window on a shop whose day begins when the window is open."""
    from benchstation.demo import shop as demo
    from benchstation.demo.past import Morning

    store.append(demo.air_instruments(now.date()), person=demo.LEAD, utc=now - timedelta(hours=15))
    morning = Morning(store, now, past.start if past is not None else bool)
    try:
        return _run_virtual(store, folder, now, {}, past, morning.start)
    finally:
        morning.close()


def _run_virtual(
    store: Store,
    folder: Path,
    now: datetime,
    given: Mapping[str, Any],
    past: "PastInMaking | None" = None,
    on_shown: Callable[[], None] | None = None,
) -> int:
    """Show the window on virtual devices, with what is given beside the demo's settings."""
    from benchstation.demo import shop as demo
    from benchstation.demo.hand import VirtualHand
    from benchstation.demo.world import make_world, serve_world

    clock = running_clock()
    world = make_world(now.microsecond, demo.AIR)
    hand = VirtualHand(world, past)
    served = serve_world(world, clock.seconds)
    try:
        camera = _camera(folder, now.microsecond)
        wiring = _Wiring(
            demo.demo_shop(store),
            clock,
            lambda: demo.AIR,
            {
                "scale-1": served.scale.url,
                "gauge-1": served.gauge.url,
                "thermometer-1": served.thermometer.url,
                "barometer-1": served.barometer.url,
            },
            hint=demo.HINT,
            note=DEMO_NOTE,
            hand=hand,
            follow=hand.follow,
            on_shown=on_shown,
            settings=BenchSettings(demo_settings(photo_folder=camera, **given)),
        )
        return _run(store, wiring, folder)
    finally:
        served.close()


def run_demo_shop(benches: int, tell: Callable[[int, int], None]) -> int:
    """Show a window for each of several benches and one of their whole shop, all thrown away.

    The benches are processes of their own; they end with the shop's window. Raises
    :class:`StationError` where no PostgreSQL is installed.
    """
    from benchstation.demo import several
    from benchstation.demo import shop as demo
    from benchstation.store.backends.own_server import OwnServer, require_programs
    from benchstation.store.shop.members import new_password
    from sample_devices.thrown_away import ThrownAway

    require_display()
    programs = require_programs()
    records, server_folder = ThrownAway("benchstation-demo-"), ThrownAway("benchstation-shop-")
    # The server's own user must get through to its folder.
    server_folder.path.chmod(0o711)
    server = OwnServer(programs, server_folder.path / "server", new_password())
    running: list[subprocess.Popen[bytes]] = []
    try:
        server.make()
        owner = server.address(server.new_database())
        folder = records.path
        made = several.make_shop(owner, folder, benches, datetime.now(UTC), STORE_FILE, tell)
        for bench in made.benches:
            save_settings(
                Settings(bench_id=bench.name, shop_url=bench.login.address.text),
                bench.home / "settings.json",
            )
            running.append(_start_bench(bench.home, bench.login.address.password))
        os.environ["BENCHSTATION_HOME"] = str(folder)
        settings = Settings(desk_url=made.desk.address.text)
        return run_whole_shop(settings, made.desk.address, hint=demo.HINT, note=DEMO_NOTE)
    finally:
        for process in running:
            process.terminate()
        for process in running:
            process.wait()
        server.stop(at_once=True)
        server_folder.close()
        records.close()


def _start_bench(home: Path, password: str) -> "subprocess.Popen[bytes]":
    from benchstation.demo import this_program

    own = {"BENCHSTATION_HOME": str(home), "BENCHSTATION_SHOP_PASSWORD": password}
    command = this_program.command("demo", "--bench-at", str(home))
    return subprocess.Popen(command, env={**os.environ, **own})  # noqa: S603 - this program


def run_demo_bench(home: Path) -> int:
    """Show the window of one bench of the demonstration of several; its records stand there."""
    require_display()
    prepare_process()
    kept = load_settings(home / "settings.json")
    file = home / "data" / STORE_FILE
    with open_store(file, kept.bench_id, trust=trust_at(home)) as store:
        given = {"bench_id": kept.bench_id, "shop_url": kept.shop_url}
        return _run_virtual(store, home, datetime.now(UTC), given)


def demo_settings(**given: Any) -> Settings:
    """Return the settings of the demonstration's bench, with what is given beside its own."""
    from benchstation.demo import shop as demo

    return Settings(
        shop=demo.NAME,
        path_ratings=demo.RATINGS,
        fill_tool_volume_m3=LINE_VOLUME_M3,
        barometer_pa=demo.AIR.pressure_pa,
        bench_temperature_k=demo.AIR.temperature_k,
        daily_check=False,
        start_of_day=False,
        **given,
    )


def _camera(folder: Path, seed: int) -> Path:
    """Make the folder of the demonstration's camera, with one picture in it."""
    from benchstation.demo.picture import demo_png

    camera = folder / "camera"
    camera.mkdir(exist_ok=True)
    (camera / "piston.png").write_bytes(demo_png(seed))
    return camera


def _opened(file: Path, settings: Settings) -> Store:
    """Open the bench's records; records that lack something are shown in a window as well."""
    try:
        if settings.shop_url is not None:
            _require_level(file, settings.bench_id, settings.shop_url)
        trust = trust_at(home_folder(), settings.backup_folders)
        return open_store(file, settings.bench_id, trust=trust)
    except BehindError as error:
        asked = Accepting(
            file,
            settings.bench_id,
            lambda: trust_at(home_folder(), settings.backup_folders),
            f"{error.where}: {error.what}",
        )
        run_first_start(NotWholeScreens(asked), dark=settings.theme == "dark")
        if asked.store is None:
            raise
        return asked.store


def _require_level(file: Path, bench: str, url: str) -> None:
    """Raise :class:`BehindError` for a file that this computer never signed, and is an old copy."""
    from benchstation.store.shop.giving_back import require_level
    from benchstation.store.shop.passwords import login_at

    try:
        require_level(file, bench, login_at(url), trust_at(home_folder()).known)
    except BehindError:
        raise
    except StationError as error:
        # The bench never waits for its shop; the exchange says what is wrong with it.
        _LOG.warning("the shop was not queried for what it holds of this bench: %s", error)


def write_settings(settings: Settings) -> None:
    """Write the settings in their place."""
    save_settings(settings)


def note_settings(settings: Settings, store: Store) -> None:
    """Put on record what in the settings weighs on evidence and is not as it was last."""
    if changed := found_changed(settings, store):
        store.append(list(changed), person="set-up", utc=datetime.now(UTC))


@contextmanager
def founded_store(*known: Settings) -> Iterator[Store | None]:
    """Open the records of a bench that is founded, by any of these settings; ``None``: none is."""
    for settings in known:
        file = settings.data_path / STORE_FILE
        if file.is_file():
            with open_store(file, "", trust=trust_at(home_folder())) as store:
                if is_founded(store):
                    yield store
                    return
    yield None


def write_bench(settings: Settings, events: Sequence[Event]) -> int:
    """Found a bench: its facts on record, its settings in their place; gives how many are new."""
    file, trust = settings.data_path / STORE_FILE, trust_at(home_folder())
    with open_store(file, settings.bench_id, trust=trust) as store:
        if is_founded(store):
            raise FoundedError(
                "this bench is founded already.", where=str(file), advice="A lead signs changes."
            )
        written = write_set_up(store, list(events))
    save_settings(settings)
    return written


def write_founded(store: Store, plan: SetUpPlan, lead: Person, reason: str) -> int:
    """Change a founded bench as a lead signed it; gives how many facts are new."""
    written = put_on_record(store, plan, lead, reason, datetime.now(UTC))
    save_settings(plan.settings)
    return written


class FoundedRecords:
    """What the first start asks of records that are there already."""

    def there(self, settings: Settings) -> bool:
        """Return True where people are on record."""
        with founded_store(load_settings(), settings) as store:
            return store is not None

    def prove(self, settings: Settings, name: str, pin: str) -> None:
        """Raise unless this is a lead's PIN."""
        with founded_store(load_settings(), settings) as store:
            assert store is not None
            lead_signs(store, name, pin, datetime.now(UTC))

    def changes(self, settings: Settings, events: Sequence[Event]) -> tuple[str, ...]:
        """Return each difference in words."""
        with founded_store(load_settings(), settings) as store:
            assert store is not None
            return plan_set_up(store, load_settings(), settings, events).changes

    def write(
        self, settings: Settings, events: Sequence[Event], name: str, pin: str, reason: str
    ) -> None:
        """Put it on record as the lead signs it."""
        with founded_store(load_settings(), settings) as store:
            assert store is not None
            plan = plan_set_up(store, load_settings(), settings, events)
            lead = lead_signs(store, name, pin, datetime.now(UTC))
            write_founded(store, plan, lead, reason)


def first_start() -> Outcome:
    """Offer the demonstration or four questions in a window, and give what came of it.

    Raises :class:`NotSetUpError` where there is no display.
    """
    if display_problem():
        raise NotSetUpError(
            "this bench is not set up yet.",
            advice="Try 'benchstation demo', or write 'benchstation set-up --example' to a file, "
            "change what is yours, and run 'benchstation set-up FILE'.",
        )

    start = FirstStart(write_bench, founded=FoundedRecords())
    try:
        run_first_start(FirstStartScreens(start))
        return start.outcome
    finally:
        start.close()


def run_bench(settings: Settings) -> int:
    """Show the window on the real bench, after the questions of a first start."""
    if not all(settings.of_role(role) for role in NEEDED) or not settings.path_ratings:
        outcome = first_start()
        if outcome is Outcome.DEMO:
            return run_demo()
        if outcome is Outcome.NOTHING:
            return 0
        settings = load_settings()
    require_display()
    prepare_process()
    data = settings.data_path
    data.mkdir(parents=True, exist_ok=True)
    for folder in (home_folder(), data):
        make_private(folder)
    air = estimated(settings)
    with _opened(data / STORE_FILE, settings) as store:
        name = settings.shop or settings.bench_id
        kept = BenchSettings(settings, write_settings)
        note_clock(store, datetime.now(UTC))
        note_settings(settings, store)
        wiring = _Wiring(
            shop_from(
                store,
                name,
                settings.bench_id,
                settings.path_ratings,
                settings.fill_tool_volume_m3,
                HeardAgain(settings.alarm_again_rise, settings.alarm_again_after_s),
            ),
            running_clock(),
            lambda: air,
            {instrument.id: instrument.url for instrument in settings.instruments},
            profiles=[own_profiles()],
            raw_folder=data / "raw",
            placed=[Placed(i.id, i.role, i.use) for i in settings.instruments],
            path=settings.path_gauges,
            settings=kept,
            real=True,
        )
        return _run(store, wiring, data)
