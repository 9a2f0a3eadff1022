"""The last hours of a line on disk: recordings one after the other, the oldest deleted.

Every file is a whole recording (see ``recording``), so any of them can be replayed. A disk that is
full or gone costs the files and never a reading: memory goes on, and the log says so once.
"""

import logging
from collections.abc import Callable
from datetime import datetime
from pathlib import Path

from benchstation.link.ports import LinkError
from benchstation.link.raw_log import Direction, RawLog
from benchstation.link.recording import Recorder

log = logging.getLogger(__name__)
ENDING = ".rec"
STAMP = f"{'[0-9]' * 8}T{'[0-9]' * 12}"
"""The time in a file's name; another instrument's name may begin like this one's."""


class RawRing(RawLog):
    """A raw log that also fills files in ``folder``, ``files`` of ``most_bytes`` data at most.

    Names begin with ``name`` and the UTC time at which the file was begun.
    """

    def __init__(
        self,
        folder: Path,
        name: str,
        utc: Callable[[], datetime],
        *,
        files: int = 8,
        most_bytes: int = 1_000_000,
        url: str = "",
        profile: str = "",
    ) -> None:
        super().__init__()
        if files < 1 or most_bytes < 1:
            raise ValueError("a ring has at least one file of at least one byte")
        self._folder = folder
        self._name = name
        self._utc = utc
        self._files = files
        self._most_in_file = most_bytes
        self._url = url
        self._profile = profile
        self._recorder: Recorder | None = None
        self._written = 0
        self._failed = False

    @property
    def failed(self) -> bool:
        """Return True when the disk could not be written, so that memory alone keeps the bytes."""
        return self._failed

    def add(self, at: float, direction: Direction, data: bytes) -> None:
        """Keep bytes, and write them while the disk can be written."""
        super().add(at, direction, data)
        if self._failed:
            return
        try:
            self._write(at, direction, data)
        except (OSError, LinkError) as error:
            self._failed = True
            log.warning("the raw bytes of %s are no longer written: %s", self._name, error)
            self._let_go()

    def close(self) -> None:
        """Close the file that is open."""
        if self._recorder is not None:
            self._recorder.close()
            self._recorder = None

    def paths(self) -> list[Path]:
        """Return the files, oldest first."""
        return sorted(self._folder.glob(f"{self._name}-{STAMP}{ENDING}"))

    def _write(self, at: float, direction: Direction, data: bytes) -> None:
        if self._recorder is None or self._written >= self._most_in_file:
            self._begin()
        assert self._recorder is not None
        self._recorder.add(at, direction, data)
        self._written += len(data)

    def _begin(self) -> None:
        self.close()
        begun = self._utc()
        name = f"{self._name}-{begun:%Y%m%dT%H%M%S%f}{ENDING}"
        self._folder.mkdir(parents=True, exist_ok=True)
        self._recorder = Recorder(
            self._folder / name,
            url=self._url,
            profile=self._profile,
            begun=begun.isoformat(timespec="microseconds"),
        )
        self._written = 0
        for path in self.paths()[: -self._files]:
            path.unlink(missing_ok=True)

    def _let_go(self) -> None:
        try:
            self.close()
        except OSError as error:
            log.debug("closing the raw file of %s: %s", self._name, error)
        self._recorder = None
