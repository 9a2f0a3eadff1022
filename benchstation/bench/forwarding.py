"""What this bench and the shop exchange: a thread of its own sends, takes, and waits for neither.

It reads the journal like any other reader, is woken by each append, and holds up none. Whatever
breaks (the line, the server, this program) is taken up from what both sides hold.
"""

import logging
import random
import threading
from collections.abc import Callable
from dataclasses import dataclass, replace
from datetime import datetime, timedelta

from benchstation.driver_api.errors import StationError
from benchstation.quantities.formatter import lately
from benchstation.store.backends.postgresql import ShopAddress
from benchstation.store.backends.postgresql_errors import ShopAwayError
from benchstation.store.engine import Store
from benchstation.store.shop.errors import ForkError
from benchstation.store.shop.exchange import Exchange

LOOK_AGAIN_S = 5.0
"""How often the shop's chain is looked at where nothing of this bench's own is to be sent."""
FIRST_WAIT_S, LONGEST_WAIT_S = 0.5, 60.0
LATE_AFTER = timedelta(minutes=1)
CLOSE_S = 5.0
_LOG = logging.getLogger(__name__)


@dataclass(frozen=True, slots=True)
class ForwardStanding:
    """How this bench and the shop stand to each other."""

    sent: int = 0
    """Entries of this bench that the shop holds, as far as is known."""
    sent_utc: datetime | None = None
    reached_utc: datetime | None = None
    away: bool = False
    """The shop does not answer: nobody at the bench need do anything."""
    problem: str = ""
    """What somebody must see to."""
    fork: str = ""
    """Why nothing is sent any more."""

    def note(self, now: datetime, last: int) -> str:
        """Return what the window says; ``last`` is the number of the journal's last entry."""
        if self.fork:
            return f"Fork: {self.fork}"
        waiting = max(0, last - self.sent)
        said = "1 entry waits" if waiting == 1 else f"{waiting} entries wait"
        if self.problem:
            return f"Shop: {self.problem} {said}." if waiting else f"Shop: {self.problem}"
        if self.reached_utc is None:
            return f"Shop: not reached yet; {said}." if waiting else "Shop: not reached yet."
        if self.away or now - self.reached_utc > LATE_AFTER:
            since = f"not reached since {lately(self.reached_utc, now)}"
            return f"Shop: {since}; {said}." if waiting else f"Shop: {since}."
        sent = f", last sent {lately(self.sent_utc, now)}" if self.sent_utc is not None else ""
        return f"Shop: {said if waiting else 'all is sent'}{sent}."


class Forwarder:
    """Sends what the shop lacks and takes what this bench lacks; the bench never waits for it."""

    def __init__(
        self,
        store: Store,
        address: ShopAddress,
        utc: Callable[[], datetime],
        changed: Callable[[], None] = lambda: None,
    ) -> None:
        """Use ``start``. ``changed`` is called in this thread when the standing is another."""
        self._store, self._address, self._utc, self._changed = store, address, utc, changed
        self.look_again_s = LOOK_AGAIN_S
        self.waits = (FIRST_WAIT_S, LONGEST_WAIT_S)
        self.standing = ForwardStanding()
        self._last = store.head()[0]
        self._wake, self._end = threading.Event(), threading.Event()
        self._exchanging = Exchange(store, address)
        # A server that does not answer must not keep the program from ending.
        self._thread = threading.Thread(target=self._run, name="forwarder", daemon=True)

    def start(self) -> None:
        """Begin; from here on each append wakes it."""
        self._store.on_appended = self._appended
        self._thread.start()

    def note(self, now: datetime) -> str:
        """Return what the window says of it."""
        return self.standing.note(now, self._last)

    def close(self) -> None:
        """End promptly: what is under way is cut, and is sent at the next start."""
        self._store.on_appended = None
        self._end.set()
        self._wake.set()
        self._exchanging.cut()
        if self._thread.is_alive():
            self._thread.join(CLOSE_S)

    def _appended(self, last: int) -> None:
        self._last = last
        self._wake.set()

    # --- in its own thread -----------------------------------------------------------------------

    def _run(self) -> None:
        failures = 0
        try:
            while not self._end.is_set():
                if self._exchange():
                    failures = 0
                    continue
                if self.standing.fork:
                    return
                first, longest = self.waits
                # Twenty benches that lost one server come back one by one.
                spread = random.uniform(0.5, 1.0)  # noqa: S311 - spreads waits, hides nothing
                self._end.wait(min(longest, first * 2 ** min(failures, 16)) * spread)
                failures += 1
        finally:
            self._exchanging.close()

    def _exchange(self) -> bool:
        """Make a step, and wait where it had nothing to do; gives False when it failed."""
        self._wake.clear()
        try:
            done = self._exchanging.step(self._utc())
        except ForkError as fork:
            # What to do stands in the log, and in the shop's own window: QA sees to it.
            self._stand(replace(self.standing, problem="", fork=f"{fork.what} Tell QA."))
            return False
        except StationError as error:
            _LOG.info("nothing is exchanged with the shop: %s", error)
            away = isinstance(error, ShopAwayError)
            self._stand(replace(self.standing, away=away, problem="" if away else error.what))
            return False
        except Exception:  # noqa: BLE001 - this thread tells, it never dies silently
            if not self._end.is_set():
                _LOG.exception("the exchange with the shop failed")
                self._stand(replace(self.standing, problem="the program failed; see its log."))
            return False
        now = self._utc()
        sent_utc = now if done.sent else self.standing.sent_utc
        self._stand(ForwardStanding(done.at_shop, sent_utc, now))
        if not done.sent and not done.took:
            self._wake.wait(self.look_again_s)
        return True

    def _stand(self, standing: ForwardStanding) -> None:
        before, self.standing = self.standing, standing
        if replace(before, reached_utc=None) != replace(standing, reached_utc=None):
            self._changed()
