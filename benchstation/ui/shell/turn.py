"""What to do about the number now, in words for a screen reader."""

from benchstation.screens.model.bench import BenchView


def turn_of(view: BenchView) -> str:
    """Return what to do about the number, and the number, in words to be said."""
    big, lines = view.task.big, view.task.lines
    if big is None or not lines:
        return ""
    old = ", too old" if big.stale else ""
    return f"{lines[0][0]}. {big.caption} {big.number} {big.unit}{old}"
