"""The one place where a refusal stands: why an action is not possible, or what was refused."""

from PySide6.QtCore import Qt
from PySide6.QtGui import QFontMetrics
from PySide6.QtWidgets import QFrame, QSizePolicy, QWidget

from benchstation.screens.model.elements import ActionView, Tone
from benchstation.ui.shell.labels import BoxLabel, set_tone, set_wash, sized
from benchstation.ui.shell.layouts import across
from benchstation.ui.shell.text_scale import px
from benchstation.ui.widgets.readout.mark import Mark

SIZES = (16, 15, 14, 13, 12, 11, 10, 9, 8)
MARK_PX, GAP_PX, EDGE_PX = 18, 8, 6


def barred_in(actions: tuple[ActionView, ...]) -> tuple[str, ...]:
    """Return why not, of each action that is not possible, the primary one first."""
    barred = sorted((a for a in actions if not a.enabled), key=lambda a: (not a.primary, a.aside))
    return tuple(f"{a.label}: {a.why_not or 'not possible now'}" for a in barred)


class ReasonLine(QFrame):
    """One line where it says why not; what was refused is large, and takes the lines it needs.

    A refusal lies over what is above it and moves nothing. It goes with the next thing that is
    done, with its step, and when it is no longer so.
    """

    def __init__(self, parent: QWidget | None = None) -> None:
        super().__init__(parent)
        self._barred: tuple[str, ...] = ()
        self._refused = ""
        self.mark = Mark(MARK_PX)
        self.words = BoxLabel(SIZES, bold=False)
        row = across(self, spacing=GAP_PX)
        row.addWidget(self.mark, 0, Qt.AlignmentFlag.AlignVCenter)
        row.addWidget(self.words, 1)
        self.words.setAlignment(Qt.AlignmentFlag.AlignVCenter | Qt.AlignmentFlag.AlignLeft)
        policy = QSizePolicy(QSizePolicy.Policy.Ignored, QSizePolicy.Policy.Ignored)
        self.words.setSizePolicy(policy)
        self._show()

    @property
    def text(self) -> str:
        """Return what stands there."""
        return self._refused or (self._barred[0] if self._barred else "")

    @property
    def refused(self) -> str:
        """Return what was refused and still stands."""
        return self._refused

    def show_actions(self, actions: tuple[ActionView, ...]) -> None:
        """Show why the first of these that is not possible is not."""
        barred = barred_in(actions)
        if barred == self._barred:
            return
        if self._refused in self._barred and self._refused not in barred:
            # What was refused is possible by now: it does not outlive its reason.
            self._refused = ""
        self._barred = barred
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

    def need(self, width: int, least: int) -> int:
        """Return the height that the words take in this width, and never less than a line."""
        if not self._refused:
            return least
        room = max(60, width - px(MARK_PX) - GAP_PX - 2 * EDGE_PX)
        metrics = QFontMetrics(sized(self.font(), SIZES[0]))
        wrap = int(Qt.TextFlag.TextWordWrap)
        high = metrics.boundingRect(0, 0, room, 10_000, wrap, self._refused).height()
        return max(least, high + 2 * EDGE_PX)

    def _show(self) -> None:
        tone = Tone.CAUTION if self._refused else Tone.QUIET
        edge = EDGE_PX if self._refused else 0
        layout = self.layout()
        if layout is not None:
            layout.setContentsMargins(edge, 0, edge, 0)
        set_wash(self, tone if self._refused else None)
        self.words.show_text(self.text)
        set_tone(self.words, Tone.PLAIN if self._refused else Tone.QUIET)
        self.mark.set_tone(tone)
        self.mark.setVisible(bool(self._refused))
        self.setAccessibleName(self.text)
        if self._refused:
            self.raise_()
