"""The station is killed at random moments of a unit that is driven through the real window.

After each kill the journal is read from outside; the next start must offer the unit at the same
step with all that was signed, and whatever was live must be proven anew.
"""

import json
import os
import queue
import random
import signal
import subprocess
import sys
import threading
import time
from collections import Counter
from datetime import UTC, datetime

import pytest

from benchstation.app import STORE_FILE
from benchstation.clock import running_clock
from benchstation.demo import shop as demo
from benchstation.demo.hand import VirtualHand
from benchstation.demo.world import make_world, serve_world
from benchstation.domain.events import TareLost, TareProven, UnitFiled
from benchstation.domain.rebuild import fold
from benchstation.quantities.formatter import METRIC
from benchstation.reports.evidence_words import evidence_in_words
from benchstation.store.engine import open_store
from tests.bench.test_random_hands import assert_evidence

SHORT, LONG = 4, 200
PACE = 20.0
LATEST_S = 3.0
PATIENCE_S = 20.0


class Bench(VirtualHand):
    """The virtual bench that outlives every station, and the hand of whoever works at it."""

    def __init__(self, specifications) -> None:
        super().__init__(make_world(9, demo.AIR))
        self.specifications = specifications
        self.served = serve_world(self.world, running_clock(PACE).seconds)
        self.unit = ""

    def bring(self, unit: str, family: str, rho: float) -> None:
        if unit != self.unit:
            self.unit = unit
            self.world.bring_in(self.specifications[family], rho)

    def pour_back(self, step: str) -> None:
        """Undo what is not captured: oil goes back into the jug, or from the tray into the unit."""
        model = self.world.model
        with model.lock:
            if step == "oil":
                model.oil_kg = 0.0
            elif step == "bleed":
                model.oil_kg, model.tray_kg = model.oil_kg + model.tray_kg, 0.0

    def let_go(self) -> None:
        self.set_pour(0.0)
        self.set_valve(0.0)
        self.set_vent(0.0)


class Workers:
    """Starts technicians at a window, listens to them, and kills them."""

    def __init__(self, bench: Bench, folder, script: str = "route") -> None:
        self.bench, self.folder, self.script = bench, folder, script
        self.told: queue.Queue = queue.Queue()
        self.pid = 0
        self.server = subprocess.Popen(
            [sys.executable, "-m", "tests.end_to_end.window_worker"],
            stdin=subprocess.PIPE,
            stdout=subprocess.PIPE,
            env={**os.environ, "QT_QPA_PLATFORM": "offscreen"},
            text=True,
        )
        self._thread = threading.Thread(target=self._listen, daemon=True)
        self._thread.start()

    def _listen(self) -> None:
        for line in self.server.stdout:
            words = json.loads(line)
            if "hand" in words:
                getattr(self.bench, words["hand"])(*words["given"])
            elif "unit" in words:
                self.bench.bring(words["unit"], words["family"], words["rho"])
            else:
                self.told.put(words)

    def run(self, seconds: float, *, steps: int = 0, until=None) -> list[dict]:
        """Let one work and kill it ``seconds`` after so many steps, or when it tells ``until``."""
        pid = self.start()
        end = time.monotonic() + (PATIENCE_S if steps else seconds)
        said = []
        while (left := end - time.monotonic()) > 0:
            words = self.next(left)
            if words is None:
                break
            said.append(words)
            if "failed" in words or "gone" in words or (until is not None and until(words)):
                break
            if "done" in words and steps > 0:
                steps -= 1
                end = time.monotonic() + (seconds if steps == 0 else PATIENCE_S)
        if not any("gone" in words for words in said):
            os.kill(pid, signal.SIGKILL)
            while "gone" not in (words := self.next(PATIENCE_S)):
                said.append(words)
        self.pid = 0
        self.bench.let_go()
        failed = [words["failed"] for words in said if "failed" in words]
        assert not failed, failed[0]
        return said

    def start(self) -> int:
        """Start one and give its process."""
        served = self.bench.served
        given = (str(self.folder), served.scale.url, served.gauge.url, str(PACE), self.script)
        self.server.stdin.write("\t".join(given) + "\n")
        self.server.stdin.flush()
        self.pid = self.next(PATIENCE_S)["worker"]
        return self.pid

    def hear(self, word: str, seconds: float = 2 * PATIENCE_S) -> dict:
        """Wait until this is told."""
        end = time.monotonic() + seconds
        while (left := end - time.monotonic()) > 0:
            words = self.next(left) or {}
            assert "failed" not in words, words["failed"]
            if word in words:
                return words
        raise AssertionError(f"'{word}' was not told")

    def next(self, seconds: float) -> dict | None:
        try:
            return self.told.get(timeout=seconds)
        except queue.Empty:
            return None

    def close(self) -> None:
        if self.pid:
            os.kill(self.pid, signal.SIGKILL)
        self.server.stdin.close()
        self.server.wait(PATIENCE_S)
        self._thread.join(PATIENCE_S)
        self.server.stdout.close()


class Journal:
    """What a reader from outside finds on disk."""

    def __init__(self, folder, specifications) -> None:
        with open_store(folder / STORE_FILE, "", read_only=True) as store:
            self.entries = store.entries()
            unit = store.open_unit()
        own = [e for e in self.entries if unit and getattr(e.event, "unit_id", "") == unit]
        self.rebuild = fold(own, specifications[own[0].event.specification_id]) if own else None
        self.hashes = [e.hash for e in self.entries]
        self.filed = [e for e in self.entries if isinstance(e.event, UnitFiled)]

    @property
    def step(self) -> str:
        """What a start must offer."""
        if self.rebuild is None:
            return "open"
        return self.rebuild.current.id if self.rebuild.current else "file"


def assert_offered(offered: dict, before: Journal) -> None:
    """Hold what the window showed after a start against what was on disk before it."""
    assert offered["offered"] == before.step
    if before.rebuild is None:
        return
    assert before.rebuild.opened.serial in offered["unit_title"]
    shown = {step: evidence for step, state, evidence in offered["steps"] if state == "done"}
    assert shown == {
        step: evidence_in_words(s.evidence, METRIC) for step, s in before.rebuild.signatures.items()
    }
    if before.step in ("oil", "bleed"):
        assert offered["tare"], "a tare is never taken for granted"


def kill_at_random_moments(folder, kills: int, seed: int) -> Counter:
    """Kill the station again and again; every fact stays and the work goes on."""
    chance, counted = random.Random(seed), Counter()
    with open_store(folder / STORE_FILE, demo.BENCH) as store:
        demo.found(store, datetime.now(UTC))
        found = demo.demo_shop(store).specifications
    specifications = {name: s for (name, _), s in found.items()}
    bench = Bench(specifications)
    workers = Workers(bench, folder)
    try:
        before = Journal(folder, specifications)
        for _ in range(kills):
            # Some die while they start, some in the first step, some after a few steps more.
            steps = chance.choice((0, 0, 1, 2, 4))
            said = workers.run(chance.uniform(0.0 if steps else 0.1, LATEST_S), steps=steps)
            now = Journal(folder, specifications)
            assert now.hashes[: len(before.hashes)] == before.hashes, "a fact was lost"
            for offered in (words for words in said if "offered" in words):
                assert_offered(offered, before)
                counted["offered again"] += before.rebuild is not None
            if before.rebuild is not None and before.rebuild.tare is not None:
                new = [e.event for e in now.entries[len(before.entries) :]]
                own = [e for e in new if isinstance(e, TareLost | TareProven)]
                if own or any("offered" in words for words in said):
                    assert isinstance(own[0], TareLost)
                    counted["tare lost"] += 1
            counted[f"killed at {now.step}"] += 1
            before = now
        while not any(words.get("done") == "file" for words in said):
            said = workers.run(4 * PATIENCE_S, until=lambda words: words.get("done") == "file")
            assert any("offered" in words for words in said)
            assert_offered(next(words for words in said if "offered" in words), before)
            before = Journal(folder, specifications)
    finally:
        workers.close()
        bench.served.close()
    end = Journal(folder, specifications)
    per_unit = Counter(e.event.unit_id for e in end.filed)
    assert end.filed
    assert set(per_unit.values()) == {1}
    for filed in end.filed:
        assert_evidence(end.entries, filed, found)
    # Opened as the next start does: a killed program left its log to be taken in.
    with open_store(folder / STORE_FILE, "") as store:
        verified = store.verify()
    assert verified.ok, verified.problem
    counted.update(filed=len(end.filed), entries=verified.entries)
    return counted


pytestmark = pytest.mark.skipif(not hasattr(os, "fork"), reason="needs fork to be quick")


@pytest.mark.timeout(120)
def test_killed_at_random_moments_nothing_signed_is_lost(tmp_path):
    counted = kill_at_random_moments(tmp_path, SHORT, 3)
    assert counted["offered again"] > 0


@pytest.mark.soak
@pytest.mark.timeout(3600)
def test_killed_at_two_hundred_random_moments_nothing_signed_is_lost(tmp_path):
    counted = kill_at_random_moments(tmp_path, LONG, 4)
    print(dict(sorted(counted.items())))
    assert counted["offered again"] > LONG / 3
    assert counted["tare lost"] > 3
