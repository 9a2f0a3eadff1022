"""An entry in the applications menu of desktops that follow freedesktop.org's specifications."""

import os
import sys
import sysconfig
from importlib.resources import files
from pathlib import Path

from benchstation.atomic_file import write_private
from benchstation.demo.this_program import NAME, command, is_bundled
from benchstation.driver_api.errors import StationError

ENTRY = """[Desktop Entry]
Type=Application
Version=1.0
Name=Bench station
GenericName=Damper rebuild bench
Comment=Oil weighed, charge watched, every rebuilt damper on record
Exec={command}
Icon={name}
Terminal=false
Categories=Science;Engineering;
Keywords=damper;scale;pressure;nitrogen;certificate;
StartupNotify=true
StartupWMClass={name}
"""
ICON = Path("icons", "hicolor", "scalable", "apps", f"{NAME}.svg")


def quoted(word: str) -> str:
    r"""Return a word as the key ``Exec`` writes it (Desktop Entry Specification 1.5).

    It stands in quotes, in which ``"``, backtick, ``$`` and ``\`` take a backslash; ``%`` is
    doubled, and in a value every backslash is written twice.
    """
    if any(letter < " " for letter in word):
        raise StationError(
            f"the program's path {word!r} holds a letter that no menu entry can name.",
            where="desktop-entry",
            advice="Install it in a folder with an ordinary name.",
        )
    within = "".join(f"\\{letter}" if letter in '"`$\\' else letter for letter in word)
    return f'"{within}"'.replace("\\", "\\\\").replace("%", "%%")


def launcher() -> list[str]:
    """Return the command for a person's menu: the installed script, where there is one."""
    script = Path(sysconfig.get_path("scripts")) / NAME
    return [str(script)] if not is_bundled() and script.is_file() else command()


def entry_text(starts: list[str]) -> str:
    """Return the entry that starts this command."""
    return ENTRY.format(command=" ".join(quoted(word) for word in starts), name=NAME)


def data_folder() -> Path:
    """Return where a person's own applications and icons lie (XDG Base Directory)."""
    given = os.environ.get("XDG_DATA_HOME", "")
    # The specification has a path that is not absolute ignored.
    return Path(given) if Path(given).is_absolute() else Path.home() / ".local" / "share"


def write_entry() -> list[Path]:
    """Write the entry and its icon for this person; return both files.

    Raises :class:`StationError` on systems that know no such entries.
    """
    if sys.platform in ("win32", "darwin"):
        raise StationError(
            "this system has no menu entries of this kind.",
            where="desktop-entry",
            advice="Make a shortcut to the program instead.",
        )
    folder = data_folder()
    contents = {
        folder / "applications" / f"{NAME}.desktop": entry_text(launcher()).encode(),
        folder / ICON: (files("resources") / "icon.svg").read_bytes(),
    }
    for path, content in contents.items():
        path.parent.mkdir(parents=True, exist_ok=True)
        write_private(path, content)
    return list(contents)


def remove_entry() -> list[Path]:
    """Remove what :func:`write_entry` wrote; return what was there."""
    folder = data_folder()
    places = (folder / "applications" / f"{NAME}.desktop", folder / ICON)
    found = [path for path in places if path.exists()]
    for path in found:
        path.unlink()
    return found
