"""A folder that is thrown away: when it is closed, or by the next one after a kill."""

import os
import shutil
import tempfile
from pathlib import Path

LOCK = "held"


class ThrownAway:
    """A folder in the system's place for temporary files, held by this process.

    A kill leaves it behind, and the system lets go of what held it: so the next one of the same
    ``prefix`` takes it away. On a system without such locks a killed one stays.
    """

    def __init__(self, prefix: str) -> None:
        sweep(prefix)
        self._folder = tempfile.TemporaryDirectory(prefix=prefix, ignore_cleanup_errors=True)
        self.path = Path(self._folder.name)
        self._lock = _hold(self.path)

    def close(self) -> None:
        """Throw it away."""
        self._folder.cleanup()
        if self._lock is not None:
            os.close(self._lock)
            self._lock = None


def sweep(prefix: str) -> None:
    """Take away the folders of this prefix that a process held which is gone."""
    for folder in Path(tempfile.gettempdir()).glob(f"{prefix}*"):
        lock = _taken(folder / LOCK)
        if lock is not None:
            shutil.rmtree(folder, ignore_errors=True)
            os.close(lock)


def _hold(folder: Path) -> int | None:
    try:
        from fcntl import LOCK_EX, flock
    except ImportError:
        return None
    # Held before it has its name, so that nobody finds it and thinks that it is free.
    begun = folder / f"{LOCK}.new"
    lock = os.open(begun, os.O_CREAT | os.O_RDWR, 0o600)
    flock(lock, LOCK_EX)
    begun.rename(folder / LOCK)
    return lock


def _taken(path: Path) -> int | None:
    """Take a lock that is there, ours, and held by nobody; ``None`` if it is not so."""
    try:
        from fcntl import LOCK_EX, LOCK_NB, flock

        lock = os.open(path, os.O_RDONLY | os.O_NOFOLLOW)
    except (ImportError, OSError):
        return None
    try:
        if os.fstat(lock).st_uid == os.getuid():
            flock(lock, LOCK_EX | LOCK_NB)
            return lock
    except BlockingIOError:
        pass
    os.close(lock)
    return None
