"""What every test gets: Qt without a screen, and failure when a test leaves a thread running."""

import os
import threading
import time

os.environ.setdefault("QT_QPA_PLATFORM", "offscreen")

import pytest

PATIENCE_S = 2.0


@pytest.fixture(autouse=True)
def no_leaked_threads(request):
    """Fail a test that leaves a thread of its own running: a test closes what it opens."""
    before = set(threading.enumerate())
    yield
    deadline = time.monotonic() + PATIENCE_S
    while leaked := [t for t in threading.enumerate() if t not in before and t.is_alive()]:
        if time.monotonic() > deadline:
            names = ", ".join(sorted(thread.name for thread in leaked))
            pytest.fail(f"{request.node.name} left threads running: {names}")
        time.sleep(0.01)
