"""What spoke in an instrument's place, in words; on record it is a code."""

DEMONSTRATION = "demonstration"
_WORDS = {
    "recording": "a recording",
    "loop": "a line that hears itself",
    "terminal": "a program on a pseudo-terminal",
    "program": "a program on this computer",
    DEMONSTRATION: "a virtual one of the demonstration",
}


def no_device_words(code: str) -> str:
    """Return in words what spoke there; a code that this program does not know stays as it is."""
    return _WORDS.get(code, code)
