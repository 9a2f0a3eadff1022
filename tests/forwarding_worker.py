"""A bench in a process of its own that works units and forwards them, to be killed by tests.

    python -m tests.forwarding_worker FILE HOME BENCH URL [UNITS]

The password is in the environment. It says the number of the last durable entry a line each time;
a line ``forwarder`` on its input makes it drop its forwarder and begin with another one, a line
``end`` ends it when all is sent. With UNITS it works so many and then ends by itself.
"""

import os
import sys
import threading
import time
from pathlib import Path

from benchstation.bench.forwarding import Forwarder
from benchstation.domain.events import RebuildAbandoned
from benchstation.store.backends.postgresql import shop_address
from benchstation.store.connections import WRITER_PRAGMAS
from tests.store.shop.conftest import JoinedBench

WORD = "BENCHSTATION_SHOP_PASSWORD"
BETWEEN_S = 0.02


class Working(JoinedBench):
    """A bench that has no hold on the shop but its own login."""

    def __init__(self, path: Path, home: Path, name: str) -> None:
        self.shop, self.name, self.path, self.home = None, name, path, home
        self.store = self.opened()
        self.units = self.store.head()[0]
        self._now = self.store.last_utc()
        if (unit := self.store.open_unit()) is not None:
            self.add(RebuildAbandoned(unit, "the program was killed"))


def main(file: str, home: str, bench: str, url: str, units: str = "") -> None:
    # A killed program loses nothing that it gave to the system; only a power cut would.
    WRITER_PRAGMAS["synchronous"] = 0
    work = Working(Path(file), Path(home), bench)
    address = shop_address(url, os.environ[WORD])
    said: list[str] = []
    threading.Thread(target=lambda: said.extend(iter(sys.stdin.readline, "")), daemon=True).start()

    def forwarder() -> Forwarder:
        made = Forwarder(work.store, address, work.now)
        made.look_again_s, made.waits = 0.05, (0.01, 0.1)
        made.start()
        return made

    running, left = forwarder(), int(units or -1)
    while left and "end\n" not in said:
        if "forwarder\n" in said:
            said.remove("forwarder\n")
            running.close()
            running = forwarder()
        work.file_unit()
        left -= 1
        print(work.store.head()[0], flush=True)
        time.sleep(BETWEEN_S if not units else 0)
    until = time.monotonic() + 60
    while running.standing.sent < work.store.head()[0] and time.monotonic() < until:
        time.sleep(0.01)
    running.close()
    work.store.close()
    sys.exit(0 if running.standing.sent else running.note(work.now()))


if __name__ == "__main__":
    main(*sys.argv[1:])
