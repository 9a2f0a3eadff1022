"""What showed that a scale was alive when a mass was captured, as it is on record."""

from enum import StrEnum


class Alive(StrEnum):
    """Digits that went back and forth by themselves, or that answered a touch."""

    NOT_SHOWN = ""
    DIGITS = "digits"
    TOUCH = "touch"


def touched(alive: str) -> str:
    """Return the words for a mass whose scale had to be touched; empty for any other."""
    return "no digit changed; it answered a touch" if alive == Alive.TOUCH else ""
