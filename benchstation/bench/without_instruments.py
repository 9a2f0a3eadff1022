"""A session of people without instruments and without a unit: the desk of a whole shop."""

from benchstation.bench.alarm_journal import AlarmKeeper
from benchstation.bench.bench_air import BenchAir, estimated
from benchstation.bench.bench_instrument import BenchInstruments
from benchstation.bench.bench_settings import BenchSettings
from benchstation.bench.commands.table import COMMANDS
from benchstation.bench.day_start import DayBook
from benchstation.bench.guard_watch import GuardWatch
from benchstation.bench.loop import LiveLoop
from benchstation.bench.session import BenchSession, Commands
from benchstation.bench.shop import shop_from
from benchstation.bench.unit_on_bench import UnitOnBench
from benchstation.clock import Clock
from benchstation.config.settings import Settings
from benchstation.domain.guard_limits import GuardLimits
from benchstation.store.chain_store import ChainStore

OF_THE_SHOP = (
    "sign_in", "badge", "sign_out", "units", "place_order", "change_order", "withdraw",
    "import_units", "dispose", "release_together", "release_set", "note_shown",
    "set_release_rule", "amend", "ship", "take_returned", "examine", "tell_customer", "draft",
    "approve", "enrol", "take_back", "change_roles", "reset_pin", "take_off", "change_pin",
    "register_badge", "drop_badge", "prefer",
    "receive_certificate", "receive_hydrometer", "receive_two_densities", "use_up",
    "withdraw_lot", "receive_material", "use_up_material", "withdraw_material",
    "settle_shop", "settle_bench", "settle_both", "save_search", "give_notice",
)  # fmt: skip
"""What is done where nothing is measured; everything else is done at a bench."""
NO_LIMITS = GuardLimits(1e5, 2e5, "no gauge")


def commands_of_the_shop() -> Commands:
    """Return what people do at a desk, by its name."""
    return {name: COMMANDS[name] for name in OF_THE_SHOP}


def session_without_instruments(
    store: ChainStore, name: str, clock: Clock, settings: Settings
) -> BenchSession:
    """Return a session on the records of a shop; nobody is signed in yet."""
    shop, air = shop_from(store, name, store.bench, {}), estimated(settings)
    session = BenchSession(
        shop,
        store,
        clock,
        BenchInstruments(()),
        GuardWatch(NO_LIMITS, clock, lambda: None),
        BenchAir(lambda: air),
        commands_of_the_shop(),
        UnitOnBench(shop, store),
        settings=BenchSettings(settings),
        day_book=DayBook(),
    )
    session.signed_in.remember(store, clock.seconds(), clock.utc())
    session.signed_in.idle.sign_out_after(settings.sign_out_after_s)
    return session


class QuietLoop(LiveLoop):
    """Moves such a session on with time: whoever has gone is signed out, what waits is written."""

    def __init__(self, session: BenchSession) -> None:
        super().__init__(session, AlarmKeeper(session.clock))

    def _take_all(self) -> None:
        """Take nothing: there is no instrument."""
