"""The unit's route: every step, where it stands, and the evidence it left."""

from PySide6.QtCore import Qt, QTimer, Slot
from PySide6.QtGui import QFont, QFontMetrics, QResizeEvent
from PySide6.QtWidgets import QFrame, QGridLayout, QVBoxLayout, QWidget

from benchstation.screens.model.bench import BenchView
from benchstation.screens.model.elements import StepState, StepView, Tone
from benchstation.ui.shell.labels import (
    FitLabel,
    fitting_px,
    label,
    set_role,
    set_tone,
    set_wash,
    sized,
)
from benchstation.ui.shell.layouts import across, clear, down
from benchstation.ui.shell.scroller import Scroller
from benchstation.ui.shell.text_scale import px
from benchstation.ui.widgets.readout.mark import Mark

TITLE_SIZES, SUBTITLE_SIZES = (23, 20, 17, 15, 13, 11), (14, 12, 10, 9, 8)
SIDES_PX, ROW_PX, OTHERS_PX = 30, 62, 34
ANY_PX = 10_000
EMPTY = (
    "When a unit is opened, its route stands here: every step, what was found and signed, "
    "and where you are."
)


def _height_of(text: str, room: int, font: QFont) -> int:
    """Return the height that the words under the title take, whether they stand there or not."""
    if not text:
        return 0
    metrics = QFontMetrics(sized(font, fitting_px(text, room, font, SUBTITLE_SIZES)))
    wrap = int(Qt.TextFlag.TextWordWrap)
    return metrics.boundingRect(0, 0, room, ANY_PX, wrap, text).height()


class StepRow(QFrame):
    """One step."""

    def __init__(self, parent: QWidget | None = None) -> None:
        super().__init__(parent)
        self.shown: StepView | None = None
        self.mark = Mark(20)
        self.title = label("", "large", wrap=True)
        self.evidence = label("", "small", wrap=True)
        row = across(self, (8, 3, 6, 4), 10)
        row.addWidget(self.mark, 0, Qt.AlignmentFlag.AlignTop)
        words = QVBoxLayout()
        words.setSpacing(0)
        words.addWidget(self.title)
        words.addWidget(self.evidence)
        row.addLayout(words, 1)

    def show_step(self, step: StepView) -> None:
        """Show a step; does nothing when it is the one that stands there."""
        if step == self.shown:
            return
        self.shown = step
        now = step.state is StepState.NOW
        self.mark.set_state(step.state)
        self.title.setText(step.title)
        set_role(self.title, "strong" if now else "")
        set_tone(self.title, Tone.QUIET if step.state is StepState.WAITING else Tone.PLAIN)
        set_wash(self, Tone.MANDATORY if now else None)
        said = [step.evidence] if step.evidence else []
        if step.state is StepState.REDO:
            said.insert(0, "to be done again")
        if step.hold_point and step.state is not StepState.DONE:
            said.append("hold point")
        self.evidence.setText("; ".join(said))
        self.evidence.setVisible(bool(said))


class Route(QFrame):
    """Unit and steps; scrolls to where the work is."""

    def __init__(self, parent: QWidget | None = None) -> None:
        super().__init__(parent)
        set_role(self, "panel")
        box = down(self, (8, 12, 6, 8), 4)
        self.title = FitLabel(TITLE_SIZES, one_line_from=20)
        self.subtitle = FitLabel(SUBTITLE_SIZES, bold=False)
        set_tone(self.subtitle, Tone.QUIET)
        head = QGridLayout()
        head.setContentsMargins(8, 0, 8, 4)
        head.addWidget(self.title, 0, 0)
        head.addWidget(self.subtitle, 1, 0)
        box.addLayout(head)
        self.empty = label(EMPTY, "quiet", wrap=True)
        self.empty.setContentsMargins(8, 8, 8, 8)
        self.empty.setAlignment(Qt.AlignmentFlag.AlignTop)
        box.addWidget(self.empty, 1)
        inner = clear()
        self._rows = down(inner, (0, 0, 4, 0), 1)
        self._rows.addStretch(1)
        self.scroller = Scroller(inner, focus=Qt.FocusPolicy.NoFocus)
        # What was signed last grows by its evidence, and pushes the step at hand down.
        self.scroller.verticalScrollBar().rangeChanged.connect(self._show_now)
        box.addWidget(self.scroller, 1)
        self.filler = clear()
        box.addWidget(self.filler, 1)
        self.rows: list[StepRow] = []
        self._now = self._subtitle = self._place = ""
        self._shown: tuple[object, ...] = ()
        self._brief = False

    def show_view(self, view: BenchView) -> None:
        """Show the route of a moment."""
        shown = view.unit_title, view.unit_subtitle, view.steps, view.no_route
        if shown == self._shown:
            return
        self._shown = shown
        self.title.show_text(view.unit_title)
        self.empty.setText(view.no_route or EMPTY)
        steps = view.steps
        at = next((n for n, s in enumerate(steps, 1) if s.state is StepState.NOW), 0)
        self._subtitle = view.unit_subtitle
        self._place = f"step {at} of {len(steps)}" if at else ""
        while len(self.rows) < len(steps):
            self.rows.append(StepRow(self))
            self._rows.insertWidget(self._rows.count() - 1, self.rows[-1])
        for count, row in enumerate(self.rows):
            if count < len(steps):
                row.show_step(steps[count])
            row.setVisible(count < len(steps))
        self._show_parts()
        now = next((s.id for s in steps if s.state is StepState.NOW), "")
        if now != self._now:
            self._now = now
            QTimer.singleShot(0, self, self._show_now)

    def fit(self, width: int, height: int) -> None:
        """Show all of it, in less height the unit alone, and nothing where even that is cut."""
        self._brief = height < self._least_height(width, brief=False)
        self._show_parts()
        self.setVisible(height >= self._least_height(width, brief=self._brief))

    @Slot()
    def _show_parts(self) -> None:
        second = self._place if self._brief else self._subtitle
        self.subtitle.show_text(second)
        self.subtitle.setVisible(bool(second))
        steps = any(not row.isHidden() for row in self.rows)
        teaches = not steps and not self._brief and self._teaches_whole()
        self.empty.setVisible(teaches)
        self.scroller.setVisible(steps and not self._brief)
        self.filler.setVisible(self._brief or not (steps or teaches))

    def _least_height(self, width: int, *, brief: bool) -> int:
        """Return the height in which the title and one step, or the title alone, stand whole."""
        room = max(1, width - SIDES_PX)
        steps = 0 if brief else px(ROW_PX)
        if not brief:
            # The scrolled steps claim a height too; less would be taken from the actions below.
            steps = max(steps, self.scroller.minimumSizeHint().height())
        second = _height_of(self._place if brief else self._subtitle, room, self.subtitle.font())
        return self.title.heightForWidth(room) + second + steps + OTHERS_PX

    def resizeEvent(self, event: QResizeEvent) -> None:
        """Keep the step at hand in view."""
        super().resizeEvent(event)
        # Later: a hide in the middle of a show would leave the words half shown.
        QTimer.singleShot(0, self, self._show_parts)
        QTimer.singleShot(0, self, self._show_now)

    def _teaches_whole(self) -> bool:
        """Return True when the words about the empty route stand whole here."""
        room = max(1, self.width() - SIDES_PX)
        head = self.title.heightForWidth(room) + OTHERS_PX
        return self.empty.heightForWidth(room) + head <= self.height()

    @Slot()
    def _show_now(self) -> None:
        for row in self.rows:
            if row.shown is not None and row.shown.id == self._now and row.isVisible():
                spare = max(0, self.scroller.viewport().height() - row.height())
                self.scroller.ensureWidgetVisible(row, 0, min(row.height(), spare // 2))
