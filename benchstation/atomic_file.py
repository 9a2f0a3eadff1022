"""Put a file in place whole or not at all: after a power cut there is the old or the new one."""

import os
from pathlib import Path


def part_of(path: Path) -> Path:
    """Return the name under which the new content of ``path`` is written first."""
    return path.with_name(path.name + ".part")


def put_in_place(part: Path, path: Path) -> Path:
    """Return a file that was written under another name its own, and give ``path``.

    Its bytes are on the disk before the name is, and the name is before this returns. Both stand in
    one folder. Raises ``OSError``; then ``part`` is gone and what was at ``path`` is as it was.
    """
    try:
        with part.open("rb+") as file:
            os.fsync(file.fileno())
        part.replace(path)
    except OSError:
        part.unlink(missing_ok=True)
        raise
    _sync_folder(path.parent)
    return path


def _sync_folder(folder: Path) -> None:
    # Makes the rename itself durable; a folder cannot be opened so on Windows.
    if os.name != "posix":
        return
    descriptor = os.open(folder, os.O_RDONLY)
    try:
        os.fsync(descriptor)
    finally:
        os.close(descriptor)
