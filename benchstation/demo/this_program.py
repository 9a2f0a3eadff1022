"""How this very program is started once more, whether it was installed or bundled."""

import sys

NAME = "benchstation"


def is_bundled() -> bool:
    """Return whether it runs from a bundle that brings its own Python."""
    return bool(getattr(sys, "frozen", False))


def command(*arguments: str) -> list[str]:
    """Return the command that runs this program with these arguments."""
    start = [sys.executable] if is_bundled() else [sys.executable, "-m", NAME]
    return [*start, *arguments]
