"""The unit's route: every step, always; words where they fit, marks where they do not."""

from dataclasses import dataclass

from PySide6.QtCore import QRect, Qt, QTimer, Slot
from PySide6.QtGui import QFont, QFontMetrics, QResizeEvent
from PySide6.QtWidgets import QFrame, QWidget

from benchstation.screens.model.bench import BenchView
from benchstation.screens.model.elements import StepState, StepView, Tone
from benchstation.ui.shell.labels import (
    MOST_LINES,
    FitLabel,
    broken,
    fitting_px,
    label,
    set_role,
    set_tone,
    set_wash,
    sized,
)
from benchstation.ui.shell.text_scale import px
from benchstation.ui.shell.theme import BODY_PX, SMALL_PX
from benchstation.ui.widgets.readout.mark import Mark

TITLE_SIZES, SUBTITLE_SIZES = (23, 20, 17, 15, 13, 11), (14, 12, 10, 9, 8)
STEP_SIZES = (BODY_PX, 15, 14, 13, 12)
EDGE_PX, TOP_PX, MARK_PX, BESIDE_PX, ROW_PAD_PX, MARK_GAP_PX = 10, 10, 20, 9, 6, 5
ANY_PX = 10_000
EMPTY = (
    "When a unit is opened, its route stands here: every step, what was found and signed, "
    "and where you are."
)
WRAP = int(Qt.TextFlag.TextWordWrap)


def height_of(
    text: str,
    room: int,
    font: QFont,
    sizes: tuple[int, ...],
    *,
    bold: bool = False,
    one_line: int = 23,
    most_lines: int = MOST_LINES,
) -> int:
    """Return the height that words take in this width, at the size that fits them."""
    if not text:
        return 0
    room = max(1, room)
    text = broken(text, QFontMetrics(sized(font, sizes[-1], bold=bold)), room)
    pixels = fitting_px(
        text, room, font, sizes, bold=bold, one_line_from=one_line, most_lines=most_lines
    )
    metrics = QFontMetrics(sized(font, pixels, bold=bold))
    return metrics.boundingRect(0, 0, room, ANY_PX, WRAP, text).height() + 1


class StepRow(QFrame):
    """One step: its mark, and beside it its title and what it left, where there is room."""

    def __init__(self, parent: QWidget | None = None) -> None:
        super().__init__(parent)
        self.shown: StepView | None = None
        self.mark = Mark(MARK_PX, parent=self)
        self.title = FitLabel(STEP_SIZES, bold=False, one_line_from=14, most_lines=3)
        self.evidence = label("", "small", wrap=True)
        for part in (self.title, self.evidence):
            part.setParent(self)
            part.setAlignment(Qt.AlignmentFlag.AlignTop | Qt.AlignmentFlag.AlignLeft)

    @property
    def now(self) -> bool:
        """Return True for the step at hand."""
        return self.shown is not None and self.shown.state is StepState.NOW

    def show_step(self, step: StepView) -> None:
        """Show a step; does nothing when it is the one that stands there."""
        if step == self.shown:
            return
        self.shown = step
        self.mark.set_state(step.state)
        self.title.show_text(step.title)
        quiet = step.state is StepState.WAITING
        set_tone(self.title, Tone.QUIET if quiet else Tone.PLAIN)
        set_wash(self, Tone.MANDATORY if self.now else None)
        said = [step.evidence] if step.evidence else []
        if step.state is StepState.REDO:
            said.insert(0, "to be done again")
        if step.hold_point and step.state not in (StepState.DONE, StepState.DIFFERS):
            said.append("hold point")
        self.evidence.setText("; ".join(said))
        self.setAccessibleName(f"{step.title}: {step.state}")
        self.setToolTip("")

    def size_in(self, width: int) -> int:
        """Return the size at which the title stands well in a row of this width."""
        room, sizes = max(1, self._room(width)), STEP_SIZES
        return fitting_px(
            self.title.text(), room, self.font(), sizes, one_line_from=14, most_lines=2
        )

    def title_height(self, width: int, size: int) -> int:
        """Return the height of the title in a row of this width, at this size."""
        self.title.set_sizes((size,))
        return height_of(self.title.text(), self._room(width), self.font(), (size,))

    def evidence_height(self, width: int) -> int:
        """Return the height of what it left, in a row of this width."""
        metrics = QFontMetrics(sized(self.font(), SMALL_PX))
        text = self.evidence.text()
        room = max(1, self._room(width))
        return metrics.boundingRect(0, 0, room, ANY_PX, WRAP, text).height() if text else 0

    @staticmethod
    def _room(width: int) -> int:
        return width - px(MARK_PX) - BESIDE_PX - 2 * ROW_PAD_PX

    def place(self, box: QRect, title: int, evidence: int) -> None:
        """Take a place, with so much height for title and evidence; 0 leaves either out."""
        self.setGeometry(box)
        inside = title + evidence
        top = max(0, (box.height() - inside) // 2) if title else 0
        mark_top = max(1, top + (min(title, px(BODY_PX + 6)) - px(MARK_PX)) // 2) if title else 1
        self.mark.move(ROW_PAD_PX if title else 1, mark_top)
        left = ROW_PAD_PX + px(MARK_PX) + BESIDE_PX
        room = max(1, self._room(box.width()))
        self.title.setGeometry(left, top, room, title)
        self.title.setVisible(title > 0)
        self.evidence.setGeometry(left, top + title, room, evidence)
        self.evidence.setVisible(evidence > 0)


@dataclass(frozen=True, slots=True)
class Placing:
    """How the steps are shown: heights of title and evidence of each; 0 and 0 is a mark."""

    heights: tuple[tuple[int, int], ...]
    pad: int


class Route(QFrame):
    """Unit and steps. Every step has its mark; the one at hand and its neighbours have words."""

    def __init__(self, parent: QWidget | None = None) -> None:
        super().__init__(parent)
        set_role(self, "panel")
        self.title = FitLabel(TITLE_SIZES, one_line_from=20)
        self.subtitle = FitLabel(SUBTITLE_SIZES, bold=False)
        self.empty = label(EMPTY, "quiet", wrap=True)
        self.empty.setAlignment(Qt.AlignmentFlag.AlignTop)
        for part in (self.title, self.subtitle, self.empty):
            part.setParent(self)
        set_tone(self.subtitle, Tone.QUIET)
        self.rows: list[StepRow] = []
        self._shown: tuple[object, ...] = ()

    def show_view(self, view: BenchView) -> None:
        """Show the route of a moment."""
        shown = view.unit_title, view.unit_subtitle, view.steps, view.no_route
        if shown == self._shown:
            return
        self._shown = shown
        self.title.show_text(view.unit_title)
        self.empty.setText(view.no_route or EMPTY)
        self.subtitle.show_text(view.unit_subtitle)
        self.subtitle.setVisible(bool(view.unit_subtitle))
        while len(self.rows) < len(view.steps):
            self.rows.append(StepRow(self))
        for count, row in enumerate(self.rows):
            if count < len(view.steps):
                row.show_step(view.steps[count])
            row.setVisible(count < len(view.steps))
        self._place()

    def resizeEvent(self, event: QResizeEvent) -> None:
        """Place the steps in the new room."""
        super().resizeEvent(event)
        self._place()

    def rescale(self) -> None:
        """Place the steps at the text size in force, once every part has taken it."""
        QTimer.singleShot(0, self, self._place)

    def _steps(self) -> list[StepRow]:
        return [row for row in self.rows if not row.isHidden()]

    @Slot()
    def _place(self) -> None:
        width = max(1, self.width() - 2 * EDGE_PX)
        top = TOP_PX
        high = height_of(self.title.text(), width, self.font(), TITLE_SIZES, bold=True, one_line=20)
        self.title.setGeometry(EDGE_PX, top, width, high)
        top += high
        if self.subtitle.text():
            high = height_of(self.subtitle.text(), width, self.font(), SUBTITLE_SIZES)
            self.subtitle.setGeometry(EDGE_PX, top + 2, width, high)
            top += high + 2
        top += 6
        steps, room = self._steps(), self.height() - top - TOP_PX
        need = self.empty.heightForWidth(width)
        self.empty.setVisible(not steps and need <= room)
        self.empty.setGeometry(EDGE_PX, top + 6, width, max(0, room))
        if steps:
            self._place_steps(steps, QRect(EDGE_PX - ROW_PAD_PX + 2, top, width + 6, max(1, room)))

    def _place_steps(self, steps: list[StepRow], room: QRect) -> None:
        placing = self._placing(steps, room.width(), room.height())
        top, left = room.top(), room.left()
        mark = px(MARK_PX) + MARK_GAP_PX
        for row, (title, evidence) in zip(steps, placing.heights, strict=True):
            if not title:
                if left + mark > room.right():
                    top, left = top + mark, room.left()
                row.place(QRect(left, top, mark, mark), 0, 0)
                left += mark
                continue
            if left > room.left():
                top, left = top + mark, room.left()
            high = max(px(MARK_PX), title + evidence) + placing.pad
            row.place(QRect(room.left(), top, room.width(), high), title, evidence)
            top += high

    def _placing(self, steps: list[StepRow], width: int, height: int) -> Placing:
        """Return the most that fits: evidence of all, of the step at hand, or marks for most."""
        size = min(row.size_in(width) for row in steps)
        titles = [row.title_height(width, size) for row in steps]
        lines = [row.evidence_height(width) for row in steps]
        # Room for a line of evidence is kept before there is one: signing moves no other step.
        line = QFontMetrics(sized(self.font(), SMALL_PX)).height()
        kept = [max(line, evidence) for evidence in lines]
        now = next((n for n, row in enumerate(steps) if row.now), -1)
        mark = px(MARK_PX)
        for pad in (8, 4):
            whole = sum(max(mark, t + k) + pad for t, k in zip(titles, kept, strict=True))
            if whole <= height:
                return Placing(tuple(zip(titles, kept, strict=True)), pad)
        for pad in (10, 6, 2):
            # One line more is kept for the step at hand, whichever it is.
            words = sum(max(mark, t) + pad for t in titles) + line
            if words <= height:
                own = [line if n == now else 0 for n in range(len(steps))]
                return Placing(tuple(zip(titles, own, strict=True)), pad)
        near = range(max(0, now - 1), now + 2) if now >= 0 else range(0)
        own = [t if n in near else 0 for n, t in enumerate(titles)]
        return Placing(tuple((t, 0) for t in own), 4)
