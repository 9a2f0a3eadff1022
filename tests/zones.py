"""Another zone for this process, as a computer that is carried elsewhere has it."""

import os
import time
from collections.abc import Iterator
from contextlib import contextmanager

import pytest

VIENNA = "CET-1CEST,M3.5.0,M10.5.0/3"
NEW_YORK = "EST5EDT,M3.2.0,M11.1.0"
needs_zones = pytest.mark.skipif(
    not hasattr(time, "tzset"), reason="this system sets no zone for a process"
)


@contextmanager
def zone(name: str) -> Iterator[None]:
    """Let the wall's clock be that of a zone, as POSIX writes its rules."""
    before = os.environ.get("TZ")
    os.environ["TZ"] = name
    time.tzset()
    try:
        yield
    finally:
        os.environ.pop("TZ") if before is None else os.environ.update(TZ=before)
        time.tzset()
