"""The running bench of a rehearsal: the station's own loop over real lines of virtual devices."""

import time
from collections.abc import Callable
from dataclasses import dataclass, field

from benchstation.bench.assembly import bench_from
from benchstation.bench.loop import LiveLoop
from benchstation.bench.tare_loss import recover
from benchstation.bench.virtual import know_sources
from benchstation.clock import Clock
from benchstation.demo import shop as demo
from benchstation.demo.technician import RehearsalError
from benchstation.demo.world import ServedWorld, make_world, serve_world
from benchstation.link.statistics import LinkState
from benchstation.store.engine import Store

LIVE_WITHIN_S = 600.0
"""Bench time, so that a busy machine, which slows the bench down, has longer to answer."""
TICK_S = 0.004


def _nothing() -> None:
    pass


@dataclass(slots=True)
class Stage:
    """A store, a virtual bench behind two lines, and the station that reads them."""

    store: Store
    clock: Clock
    served: ServedWorld
    step: Callable[[], None] = _nothing
    """Called while the bench waits: lets a clock go on that waits for the hand."""
    live: LiveLoop = field(init=False)

    def __post_init__(self) -> None:
        """Put the station together; it reads nothing before :meth:`start`."""
        self._assemble()

    def _assemble(self) -> None:
        shop = demo.demo_shop(self.store)
        self.live = bench_from(self.store, shop, self.clock, lambda: demo.AIR)

    def start(self) -> None:
        """Connect both lines, wait until they bring readings, and go on with an open unit."""
        session = self.live.session
        urls = {
            session.scale.id: self.served.scale.url,
            session.gauge.id: self.served.gauge.url,
        }
        know_sources(session, urls, real=False)
        session.scale.instrument.connect(self.served.scale.url)
        session.gauge.instrument.connect(self.served.gauge.url)
        session.watch.arm()
        end = self.clock.seconds() + LIVE_WITHIN_S
        links = (session.scale.instrument, session.gauge.instrument)
        while any(link.link_state is not LinkState.LIVE for link in links):
            if self.clock.seconds() > end:
                words = "; ".join(f"{link.title}: {link.link_words}" for link in links)
                raise RehearsalError(f"the virtual devices do not answer: {words}")
            time.sleep(TICK_S)
            self.step()
        recover(session)

    def restart(self, meanwhile: Callable[[], None] = _nothing) -> None:
        """End the station and start it anew, as after a power cut; bench and journal stay."""
        self.stop()
        meanwhile()
        self._assemble()
        self.start()

    def stop(self) -> None:
        """Stop reading."""
        self.live.session.scale.instrument.stop()
        self.live.session.gauge.instrument.stop()

    def close(self) -> None:
        """Stop reading and pull both plugs."""
        self.stop()
        self.served.close()


def make_stage(store: Store, clock: Clock, seed: int, step: Callable[[], None] = _nothing) -> Stage:
    """Serve a fresh virtual bench for the demonstration's shop."""
    if not store.people():
        demo.found(store)
    return Stage(store, clock, serve_world(make_world(seed, demo.AIR), clock.seconds), step)
