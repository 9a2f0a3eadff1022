"""The bench takes a new instrument in place of an old one, live, when no unit is on it."""

from collections.abc import Callable, Mapping, Sequence
from concurrent.futures import Future
from pathlib import Path

from benchstation.bench.assembly import fit
from benchstation.bench.bench_instrument import BenchInstrument
from benchstation.bench.bench_settings import instruments_changed
from benchstation.bench.messages import attention_if
from benchstation.bench.onboarding.instrument import New, Places
from benchstation.bench.outputs.feed import Source
from benchstation.bench.session import BenchSession
from benchstation.bench.virtual import know_sources
from benchstation.config.settings import InstrumentSettings, own_profiles
from benchstation.devices.adding import same_line
from benchstation.devices.profile import share_a_line
from benchstation.domain.instrument_roles import InstrumentRole
from benchstation.domain.materials import Material, Sort
from benchstation.domain.unit_commands import NotAllowedError
from benchstation.driver_api.errors import StationError
from benchstation.store.instrument_history import newest_studies

ANSWER_WITHIN_S = 10.0
Keep = Callable[[InstrumentSettings, str], None]


class BenchKeeper:
    """Takes a proven instrument to a running bench.

    ``ask`` runs a job in the bench's thread. ``keep`` writes an instrument's settings, in place
    of those of another or beside the others. ``urls`` are the ports that the bench reads, by the
    id of the instrument.
    """

    def __init__(
        self,
        session: BenchSession,
        ask: Callable[[Callable[[], str]], Future[str]],
        keep: Keep,
        urls: Mapping[str, str],
        raw_folder: Path | None = None,
    ) -> None:
        self._session, self._ask, self._keep = session, ask, keep
        self._urls = dict(urls)
        self._raw_folder = raw_folder
        self._gone: set[str] = set()

    def begin(self) -> None:
        """Raise when no instrument may be added now, or not by whoever is signed in."""
        self._in_bench_thread(self._may)

    def _in_bench_thread(self, job: Callable[[], str]) -> str:
        try:
            return self._ask(job).result(ANSWER_WITHIN_S)
        except TimeoutError as error:
            raise StationError(
                "the bench does not answer; nothing was changed.", advice="Try again."
            ) from error

    def _may(self) -> str:
        return self._session.act("fit", {})

    def _on_port(self, url: str) -> list[BenchInstrument]:
        """Return the instruments of this port, whether it is read now or was let go."""
        return [one for one in self._session.instruments if same_line(self._urls[one.id], url)]

    def used_by(self, url: str) -> str:
        """Return the title of the instrument that reads this port now, or empty."""
        found = [one for one in self._on_port(url) if one.id not in self._gone]
        return found[0].registered.title if found else ""

    def let_go(self, url: str) -> None:
        """Close this port where the bench reads it; its silence is an alarm of its own."""
        for one in self._on_port(url):
            if one.id not in self._gone:
                self._gone.add(one.id)
                self._stop(one)

    def places(self, role: InstrumentRole, url: str) -> Places:
        """Return whose place an instrument of this role on this port may take.

        Taken for meant: that on its port, else the first one that gives no reading any more.
        """
        fitted = self._session.instruments.of(role)
        here = [one.id for one in fitted if one in self._on_port(url)]
        now = self._session.clock.seconds()
        lost = [one.id for one in fitted if one.good_value(now) is None]
        return Places(
            tuple((one.id, one.registered.title) for one in fitted), next(iter([*here, *lost]), "")
        )

    @staticmethod
    def _stop(fitted: BenchInstrument) -> None:
        try:
            fitted.instrument.stop()
        except TimeoutError as error:
            raise StationError(
                "the port is still in use.",
                where=fitted.registered.title,
                advice="Try again in a few seconds.",
            ) from error

    def take_back(self) -> None:
        """Read again what was let go."""
        for name in sorted(self._gone):
            self._session.instruments.named(name).instrument.connect(self._urls[name])
        self._gone.clear()

    def new_id(self, role: str) -> str:
        """Return a name for the records that no instrument has yet."""
        known = self._session.store.instruments()
        return next(name for n in range(1, len(known) + 2) if (name := f"{role}-{n}") not in known)

    def weights(self) -> Sequence[Material]:
        """Return the check weights on record that may be used today."""
        stock, today = self._session.shop.stock, self._session.today
        return [w for w in stock.of(Sort.WEIGHT) if not stock.why_not(w, today)]

    def save(self, new: New) -> str:
        """Put it on record and into the settings, and read it from now on."""
        self._refuse_clash(new)
        old = self._session.instruments.named(new.instead_of) if new.instead_of else None
        # Made before anything is on record: a profile that cannot be used must change nothing.
        new.keep_profile([own_profiles()])
        fitted = fit(
            new.registered,
            self._session.clock,
            [own_profiles()],
            self._raw_folder,
            use=new.settings.use,
        )
        fitted.repeatability = newest_studies(self._session.store).get(fitted.id)
        fitted.checked = new.checked
        fitted.checked_on = self._session.today
        fitted.checked_daily = any(
            one.checked_daily for one in self._session.instruments if one.role is fitted.role
        )
        # Read before it is exchanged, so that the guard is without a gauge for no longer than it
        # is already.
        fitted.instrument.connect(new.settings.url)
        try:
            said = self._in_bench_thread(lambda: self._exchange(new, fitted))
        except StationError:
            self._stop(fitted)
            raise
        if old is not None:
            if old.id not in self._gone:
                self._stop(old)
            self._gone.discard(old.id)
            del self._urls[old.id]
        self._urls[fitted.id] = new.settings.url
        self.take_back()
        return said

    def _refuse_clash(self, new: New) -> None:
        role, name = new.registered.role, new.registered.instrument_id
        known = self._session.store.instruments().get(name)
        if known is not None and known.role != role:
            raise NotAllowedError(
                f"'{name}' is a {known.role} on record.", advice="Name it otherwise."
            )
        others = [one for one in self._session.instruments if one.id != new.instead_of]
        for other in others:
            shared = share_a_line(other.registered.profile_id, new.registered.profile_id)
            if same_line(self._urls[other.id], new.settings.url) and not shared:
                raise NotAllowedError(
                    f"{other.registered.title} is on this port.",
                    advice="Take its place, or give that one another port first.",
                )
            if other.id.casefold() == name.casefold():
                raise NotAllowedError(
                    f"'{other.id}' stands at this bench.",
                    advice="Take its place, or name it otherwise.",
                )

    def _exchange(self, new: New, fitted: BenchInstrument) -> str:
        """In the bench's thread: facts first, then settings, then the bench."""
        self._may()
        session, role = self._session, fitted.role
        session.refuse_badges(new.registered)
        session.journal(new.events)
        self._keep(new.settings, new.instead_of)
        session.exchange(fitted, new.instead_of)
        know_sources(session, {fitted.id: new.settings.url}, real=session.real_bench)
        session.journal(instruments_changed(session.settings.now, session.store))
        if session.outputs.feed is not None:
            session.outputs.feed.follow(Source(fitted.instrument, fitted.id), new.instead_of)
        locked = fitted.unfit(session.today)
        alone = len(session.instruments.of(role)) == 1
        said = f"{new.registered.title} is {'the' if alone else 'a'} {role} of this bench now."
        return session.say(
            f"{said} Capture is locked: {locked}." if locked else said, attention_if(locked)
        )
