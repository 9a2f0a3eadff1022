"""What every test gets: Qt without a screen, and failure when a test leaves a thread running."""

import argparse
import gc
import os
import sys
import threading
from functools import cache

os.environ.setdefault("QT_QPA_PLATFORM", "offscreen")

import pytest
from hypothesis import settings
from sqlalchemy import create_engine

from benchstation.devices import registry
from benchstation.domain import people
from benchstation.store import checks, connections
from tests.shop_server import empty_database, shop, shop_server, shop_template
from tests.waiting import eventually

__all__ = ["empty_database", "shop", "shop_server", "shop_template"]

PATIENCE_S = 2.0
LITTLE_COST = 16
# How long an example takes is the machine's; on the build machine each run tries the same ones.
settings.register_profile(
    "bench station", deadline=None, print_blob=True, derandomize="CI" in os.environ
)
settings.load_profile("bench station")


def pytest_collection_finish():
    """Leave what is loaded by now out of every later search for garbage."""
    gc.collect()
    gc.freeze()


@pytest.fixture(scope="session", autouse=True)
def own_home(tmp_path_factory):
    """Keep settings, key and heads of tests out of the user's own."""
    with pytest.MonkeyPatch.context() as patch:
        patch.setenv("BENCHSTATION_HOME", str(tmp_path_factory.mktemp("home")))
        yield


@pytest.fixture(scope="session", autouse=True)
def quick():
    """Hash PINs at little cost, and do not wait for the disk: both have tests of their own.

    A hash names its cost, so another process reads it all the same. What a program has written
    stays when it is killed; only a power cut would take it. What is installed is looked up once.
    """
    with pytest.MonkeyPatch.context() as patch:
        patch.setattr(registry, "entry_points", cache(registry.entry_points))
        patch.setattr(connections, "create_engine", engines_alike())
        patch.setattr(checks, "create_engine", connections.create_engine)
        # What a command's help says is not looked up in catalogues of translations.
        patch.setattr(argparse, "_", str)
        patch.setenv("COLUMNS", "80")
        patch.setenv("LINES", "24")
        patch.setattr(people, "COST", LITTLE_COST)
        patch.setitem(connections.WRITER_PRAGMAS, "synchronous", 0)
        yield


def engines_alike():
    """Return what makes an engine on a file that knows the statements which others have compiled.

    A program opens one file and compiles each statement once; the tests open thousands of files.
    """
    first = create_engine("sqlite+pysqlite://", query_cache_size=3000)

    def make(*given, **more):
        engine = create_engine(*given, **more)
        engine.dialect = engine.pool._dialect = first.dialect
        engine._compiled_cache = first._compiled_cache
        return engine

    return make


@pytest.fixture(autouse=True)
def no_lingering_windows():
    """Delete what a test closed now, not when garbage is cleared in the midst of a later one.

    Qt deletes it when a loop runs next; what Python clears before that still hears events.
    """
    yield
    if core := sys.modules.get("PySide6.QtCore"):
        core.QCoreApplication.sendPostedEvents(None, core.QEvent.Type.DeferredDelete)


@pytest.fixture(autouse=True)
def no_leaked_threads(request):
    """Fail a test that leaves a thread of its own running: a test closes what it opens."""
    before = set(threading.enumerate())
    yield

    def leaked() -> list[str]:
        running = (t for t in threading.enumerate() if t not in before and t.is_alive())
        return sorted(thread.name for thread in running)

    if leaked():
        eventually(
            lambda: not leaked(),
            PATIENCE_S,
            lambda: f"{request.node.name} left threads running: {', '.join(leaked())}",
        )
