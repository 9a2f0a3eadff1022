"""The bench takes a new instrument in place of an old one, live, when no unit is on it."""

from collections.abc import Callable, Mapping
from concurrent.futures import Future
from pathlib import Path

from benchstation.bench.assembly import fit
from benchstation.bench.bench_instrument import BenchInstrument
from benchstation.bench.messages import attention_if
from benchstation.bench.onboarding.instrument import New
from benchstation.bench.outputs.feed import Source
from benchstation.bench.session import BenchSession
from benchstation.config.settings import InstrumentSettings, own_profiles
from benchstation.devices.adding import same_line
from benchstation.domain.unit_commands import NotAllowedError
from benchstation.driver_api.errors import StationError

ANSWER_WITHIN_S = 10.0
Keep = Callable[[InstrumentSettings, str], None]


class BenchKeeper:
    """Takes a proven instrument to a running bench.

    ``ask`` runs a job in the desk's thread. ``keep`` writes the settings of an instrument in place
    of another one's. ``urls`` are
    the ports that the bench reads, by role.
    """

    def __init__(
        self,
        session: BenchSession,
        ask: Callable[[Callable[[], str]], Future[str]],
        keep: Keep,
        urls: Mapping[str, str],
        raw_folder: Path | None = None,
    ) -> None:
        self._desk, self._ask, self._keep = session, ask, keep
        self._urls = dict(urls)
        self._raw_folder = raw_folder
        self._gone: set[str] = set()

    def begin(self) -> None:
        """Raise when no instrument may be added now, or not by whoever is signed in."""
        self._at_desk(self._may)

    def _at_desk(self, job: Callable[[], str]) -> str:
        try:
            return self._ask(job).result(ANSWER_WITHIN_S)
        except TimeoutError as error:
            raise StationError(
                "the bench does not answer; nothing was changed.", advice="Try again."
            ) from error

    def _may(self) -> str:
        return self._desk.act("fit", {})

    def _fitted(self, role: str) -> BenchInstrument:
        return self._desk.scale if role == "scale" else self._desk.gauge

    def used_by(self, url: str) -> str:
        """Return the title of the instrument that reads this port now, or empty."""
        for role, used in self._urls.items():
            if role not in self._gone and same_line(used, url):
                return self._fitted(role).registered.title
        return ""

    def let_go(self, url: str) -> None:
        """Close this port where the bench reads it; its silence is an alarm of its own."""
        for role, used in self._urls.items():
            if role not in self._gone and same_line(used, url):
                self._gone.add(role)
                self._stop(self._fitted(role))

    @staticmethod
    def _stop(fitted: BenchInstrument) -> None:
        try:
            fitted.instrument.stop()
        except TimeoutError as error:
            raise StationError(
                "the port is not let go yet.",
                where=fitted.registered.title,
                advice="Try again in a few seconds.",
            ) from error

    def take_back(self) -> None:
        """Read again what was let go."""
        for role in sorted(self._gone):
            self._fitted(role).instrument.connect(self._urls[role])
        self._gone.clear()

    def new_id(self, role: str) -> str:
        """Return a name for the records that no instrument has yet."""
        known = self._desk.store.instruments()
        return next(name for n in range(1, len(known) + 2) if (name := f"{role}-{n}") not in known)

    def save(self, new: New) -> str:
        """Put it on record and into the settings, and read it from now on."""
        role = new.registered.role
        self._refuse_clash(new)
        old = self._fitted(role)
        # Made before anything is on record: a profile that cannot be used must change nothing.
        new.keep_profile([own_profiles()])
        fitted = fit(new.registered, self._desk.clock, [own_profiles()], self._raw_folder)
        fitted.checked = new.checked
        # Read before it is exchanged, so that the guard is without a gauge for no longer than it
        # is already.
        fitted.instrument.connect(new.settings.url)
        try:
            said = self._at_desk(lambda: self._exchange(new, fitted))
        except StationError:
            self._stop(fitted)
            raise
        if role not in self._gone:
            self._stop(old)
        self._gone.discard(role)
        self._urls[role] = new.settings.url
        self.take_back()
        return said

    def _refuse_clash(self, new: New) -> None:
        role, name = new.registered.role, new.registered.instrument_id
        known = self._desk.store.instruments().get(name)
        if known is not None and known.role != role:
            raise NotAllowedError(f"'{name}' is a {known.role} on record.", advice="Name it anew.")
        for other, url in self._urls.items():
            if other != role and same_line(url, new.settings.url):
                title = self._fitted(other).registered.title
                raise NotAllowedError(
                    f"{title} is on this port.", advice="Give that one another port first."
                )

    def _exchange(self, new: New, fitted: BenchInstrument) -> str:
        """In the desk's thread: facts first, then settings, then the bench."""
        self._may()
        session, role = self._desk, new.registered.role
        session.refuse_badges(new.registered)
        session.journal(new.events)
        self._keep(new.settings, self._fitted(role).registered.instrument_id)
        if role == "scale":
            session.scale = fitted
        else:
            # The guard goes on with what it knew; only who tells it is another.
            session.gauge.instrument.taps.remove(session.watch.tap)
            fitted.instrument.taps.append(session.watch.tap)
            session.gauge = fitted
        session.watch.set_limits(
            session.shop.limits_at(session.rebuild, session.gauge.instrument.silent_after_s)
        )
        if session.outputs.feed is not None:
            session.outputs.feed.follow(Source(fitted.instrument, fitted.registered.instrument_id))
        locked = fitted.unfit(session.clock.utc().date())
        said = f"{new.registered.title} is the {role} of this bench now."
        return session.say(
            f"{said} Capture is locked: {locked}." if locked else said, attention_if(locked)
        )
