"""Put a file in place whole or not at all: after a power cut there is the old or the new one."""

import os
import stat
from contextlib import suppress
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


def private_folder(folder: Path) -> None:
    """Make a folder that only its owner may enter; one that is there stays as it is."""
    folder.mkdir(mode=0o700, parents=True, exist_ok=True)


def private_file(path: Path) -> None:
    """Make an empty file that only its owner may read; one that is there is made so."""
    os.close(os.open(path, os.O_WRONLY | os.O_CREAT, 0o600))
    if os.name == "posix" and path.stat().st_mode & 0o077:
        path.chmod(0o600)


def write_private(path: Path, content: bytes) -> Path:
    """Write a file that only its owner may read, whole or not at all. Raises ``OSError``."""
    part = part_of(path)
    part.unlink(missing_ok=True)
    descriptor = os.open(part, os.O_WRONLY | os.O_CREAT | os.O_EXCL, 0o600)
    with open(descriptor, "wb") as file:
        file.write(content)
    return put_in_place(part, path)


def keep_private() -> None:
    """Make all that this process writes from now on its owner's alone: files 0600, folders 0700.

    Also what libraries write: a database's log beside it, a paper, a log that is begun again.
    """
    os.umask(0o077)


OURS = ("rebuilds*", "settings*.json", "bench_key*", "benchstation.log*", "faults*.log")
"""What the program keeps in its folders, beside folders of its own."""
OUR_FOLDERS = ("raw", "profiles", "heads", "last", "proven")


def make_private(folder: Path) -> None:
    """Take from others what an earlier version let them read of ours in ``folder``.

    Somebody else's files may lie beside ours and stay as they are. Links lead nowhere, and what may
    not be changed stops nothing.
    """
    if os.name != "posix":
        return
    _tighten(folder)
    for pattern in OURS:
        for path in folder.glob(pattern):
            _tighten(path)
    for name in OUR_FOLDERS:
        for place, folders, files in os.walk(folder / name):
            for path in (Path(place), *(Path(place, inside) for inside in (*folders, *files))):
                _tighten(path)


def _tighten(path: Path) -> None:
    with suppress(OSError):
        mode = os.lstat(path).st_mode
        if mode & 0o077 and not stat.S_ISLNK(mode):
            os.chmod(path, stat.S_IMODE(mode) & 0o700)
