"""The one place where a refusal stands: why an action is not possible, or what was refused."""

from PySide6.QtCore import Qt
from PySide6.QtWidgets import QSizePolicy, QWidget

from benchstation.screens.model.elements import ActionView, Tone
from benchstation.ui.shell.labels import BoxLabel, set_tone
from benchstation.ui.shell.layouts import across
from benchstation.ui.widgets.readout.mark import Mark

SIZES = (16, 15, 14, 13, 12, 11, 10, 9, 8)


def reason_of(actions: tuple[ActionView, ...]) -> str:
    """Return why not, of the primary action first, in words with the action's name."""
    barred = sorted((a for a in actions if not a.enabled), key=lambda a: (not a.primary, a.aside))
    return f"{barred[0].label}: {barred[0].why_not or 'not possible now'}" if barred else ""


class ReasonLine(QWidget):
    """One line of a size that never changes: what was refused, else why not."""

    def __init__(self, parent: QWidget | None = None) -> None:
        super().__init__(parent)
        self.setObjectName("clear")
        self._reason = self._refused = ""
        self.mark = Mark(18)
        self.words = BoxLabel(SIZES, bold=False)
        row = across(self, spacing=8)
        row.addWidget(self.mark, 0, Qt.AlignmentFlag.AlignVCenter)
        row.addWidget(self.words, 1)
        self.words.setAlignment(Qt.AlignmentFlag.AlignVCenter | Qt.AlignmentFlag.AlignLeft)
        policy = QSizePolicy(QSizePolicy.Policy.Ignored, QSizePolicy.Policy.Ignored)
        self.words.setSizePolicy(policy)
        self._show()

    @property
    def text(self) -> str:
        """Return what stands there."""
        return self._refused or self._reason

    def show_actions(self, actions: tuple[ActionView, ...]) -> None:
        """Show why the first of these that is not possible is not."""
        reason = reason_of(actions)
        if reason != self._reason:
            self._reason = reason
            self._show()

    def refuse(self, words: str) -> None:
        """Show what was refused, until the next thing is done."""
        self._refused = words
        self._show()

    def drop(self) -> None:
        """Take the refusal away."""
        if self._refused:
            self._refused = ""
            self._show()

    def _show(self) -> None:
        tone = Tone.CAUTION if self._refused else Tone.QUIET
        self.words.show_text(self.text)
        set_tone(self.words, tone)
        self.mark.set_tone(tone)
        self.mark.setVisible(bool(self._refused))
        self.setAccessibleName(self.text)
