"""The window's service on the records of a whole shop: one more thread keeps its lists up."""

import logging
import threading
from dataclasses import replace

from benchstation.bench.loop import LiveLoop
from benchstation.driver_api.errors import StationError
from benchstation.screens.model.bench import AlarmBannerView, BenchView
from benchstation.screens.records.page import Records
from benchstation.screens.service import Station
from benchstation.screens.whole_shop.page import ShopStanding, shop_view
from benchstation.store.shop.shop_store import ShopStore
from benchstation.store.shop.status import status_of

LOOK_AGAIN_S = 5.0
STOP_WITHIN_S = 10.0
log = logging.getLogger(__name__)


class ShopStation(Station):
    """A station without instruments. What the benches send is listed by a thread of its own."""

    def __init__(
        self,
        live: LiveLoop,
        store: ShopStore,
        *,
        hint: str = "",
        note: str = "",
    ) -> None:
        """Use :meth:`start`."""
        self.standing = ShopStanding()
        self._store = store
        self._end = threading.Event()
        super().__init__(live, Records(store), hint=hint, note=note)
        self._listing = threading.Thread(target=self._list, name="shop", daemon=True)

    def start(self) -> None:
        """Start the threads."""
        super().start()
        self._listing.start()

    def close(self) -> None:
        """End all threads."""
        self._end.set()
        if self._listing.ident is not None:
            self._listing.join(STOP_WITHIN_S)
        super().close()

    def view(self) -> BenchView:
        """Return the last view built: nothing is measured here that could be too old."""
        return self._shown[0]

    def alarms(self) -> tuple[AlarmBannerView, ...]:
        """Return nothing: no gauge is watched here."""
        return ()

    def look(self) -> None:
        """Bring the lists up to the chains, and note how these stand. Slow after a long time."""
        before = self.standing
        try:
            caught = self._store.catch_up(self._end.is_set)
            chains = tuple(status_of(self._store))
        except StationError as error:
            self.standing = replace(before, problem=f"Not up to date: {error.what}")
            return
        broken = "; ".join(f"{bench}: {why}" for bench, why in caught.broken.items())
        self.standing = ShopStanding(chains, broken and f"Not read further: {broken}")

    def _list(self) -> None:
        while not self._end.is_set():
            try:
                self.look()
            except Exception:  # this thread tells, it never dies silently
                log.exception("the lists of the shop were not brought up to date")
                self.standing = replace(
                    self.standing, problem="Not up to date: the program failed; see its log."
                )
            self._end.wait(LOOK_AGAIN_S)

    def _build(self) -> BenchView:
        return shop_view(self.live.session, self.standing, hint=self._hint, note=self._note)
