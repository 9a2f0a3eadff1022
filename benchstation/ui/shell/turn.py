"""What a screen reader is told: the worst alarm at once, and the number when its advice changes."""

from PySide6.QtGui import QAccessible, QAccessibleAnnouncementEvent
from PySide6.QtWidgets import QWidget

from benchstation.screens.model.bench import AlarmBannerView, BenchView


class Announcer:
    """Announces at two parts of the window: its alarms and its number."""

    def __init__(self, alarms: QWidget, number: QWidget) -> None:
        self._alarms, self._number, self._turn = alarms, number, ""

    def announce(self, alarms: tuple[AlarmBannerView, ...]) -> None:
        """Announce the worst alarm at once."""
        event = QAccessibleAnnouncementEvent(self._alarms, alarms[0].headline)
        event.setPoliteness(QAccessible.AnnouncementPoliteness.Assertive)
        QAccessible.updateAccessibility(event)

    def announce_turn(self, view: BenchView) -> None:
        """Announce the number when what to do about it changes.

        Every new reading would be a babble; the words beside the number change when it matters.
        """
        words = turn_of(view)
        turn = "".join(letter for letter in words if not letter.isdigit())
        if turn == self._turn:
            return
        self._turn = turn
        if words:
            event = QAccessibleAnnouncementEvent(self._number, words)
            event.setPoliteness(QAccessible.AnnouncementPoliteness.Polite)
            QAccessible.updateAccessibility(event)


def turn_of(view: BenchView) -> str:
    """Return what to do about the number, and the number, in words to be said."""
    big, lines = view.task.big, view.task.lines
    if big is None or not lines:
        return ""
    old = ", too old" if big.stale else ""
    return f"{lines[0][0]}. {big.caption} {big.number} {big.unit}{old}"
