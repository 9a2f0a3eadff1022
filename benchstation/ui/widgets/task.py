"""The middle of the bench page: one task, its number, lanes, form, trace and actions."""

from PySide6.QtCore import Qt, Signal
from PySide6.QtWidgets import QFrame, QHBoxLayout, QScrollArea, QVBoxLayout, QWidget

from benchstation.bench_view import TaskView, Tone, TraceView
from benchstation.ui.widgets.actions import Actions
from benchstation.ui.widgets.big_number import BigNumberView
from benchstation.ui.widgets.form import Form
from benchstation.ui.widgets.labels import frame, label, set_role, set_tone
from benchstation.ui.widgets.lanes import Lanes
from benchstation.ui.widgets.mark import Mark

LONG_WORD = 16
"""From this many letters on, the first line beside the number is drawn smaller."""


class MarkedLine(QWidget):
    """Words with the mark of their meaning."""

    def __init__(self, size: int = 22, parent: QWidget | None = None) -> None:
        super().__init__(parent)
        self.mark = Mark(size)
        self.words = label("", "", wrap=True)
        row = QHBoxLayout(self)
        row.setContentsMargins(0, 0, 0, 0)
        row.setSpacing(10)
        row.addWidget(self.mark, 0, Qt.AlignmentFlag.AlignTop)
        row.addWidget(self.words, 1)

    def show_line(self, text: str, tone: Tone, role: str) -> None:
        """Show words; a mark stands only beside those that mean something."""
        self.words.setText(text)
        set_role(self.words, role)
        set_tone(self.words, tone)
        self.mark.set_tone(tone)
        self.mark.setVisible(tone not in (Tone.PLAIN, Tone.QUIET))


class MarkedLines(QWidget):
    """Lines under each other."""

    def __init__(self, parent: QWidget | None = None) -> None:
        super().__init__(parent)
        self.setObjectName("clear")
        self._box = QVBoxLayout(self)
        self._box.setContentsMargins(0, 0, 0, 0)
        self._box.setSpacing(6)
        self.lines: list[MarkedLine] = []
        self._shown: tuple[tuple[str, Tone, str], ...] = ()

    def show_lines(self, lines: tuple[tuple[str, Tone, str], ...]) -> None:
        """Show (words, meaning, role) lines."""
        if lines == self._shown:
            return
        self._shown = lines
        while len(self.lines) < len(lines):
            self.lines.append(MarkedLine(parent=self))
            self._box.addWidget(self.lines[-1])
        for count, widget in enumerate(self.lines):
            if count < len(lines):
                widget.show_line(*lines[count])
            widget.setVisible(count < len(lines))


class Task(QWidget):
    """What to do now."""

    chosen = Signal(str, str)
    refused = Signal(str)

    def __init__(self, parent: QWidget | None = None) -> None:
        super().__init__(parent)
        self.setObjectName("clear")
        outer = QVBoxLayout(self)
        outer.setContentsMargins(0, 0, 0, 0)
        outer.setSpacing(10)
        self.panel = frame("panel")
        box = QVBoxLayout(self.panel)
        box.setContentsMargins(20, 14, 20, 12)
        box.setSpacing(6)
        self.title = label("", "title", wrap=True)
        self.instruction = label("", "large", wrap=True)
        self.cautions = MarkedLines()
        box.addWidget(self.title)
        box.addWidget(self.instruction)
        box.addWidget(self.cautions)
        self.hero = QWidget()
        self.hero.setObjectName("clear")
        hero = QHBoxLayout(self.hero)
        hero.setContentsMargins(0, 4, 0, 0)
        hero.setSpacing(18)
        self.big = BigNumberView()
        self.lines = MarkedLines()
        hero.addWidget(self.big, 3)
        hero.addWidget(self.lines, 2, Qt.AlignmentFlag.AlignVCenter)
        box.addWidget(self.hero)
        self.lanes = Lanes()
        box.addWidget(self.lanes)
        self.scroll = QScrollArea()
        self.scroll.setWidgetResizable(True)
        self.scroll.setFocusPolicy(Qt.FocusPolicy.NoFocus)
        self.scroll.setHorizontalScrollBarPolicy(Qt.ScrollBarPolicy.ScrollBarAlwaysOff)
        inner = QWidget()
        inner.setObjectName("clear")
        column = QVBoxLayout(inner)
        column.setContentsMargins(0, 6, 6, 0)
        column.setSpacing(12)
        self.plain_lines = MarkedLines()
        self.form = Form()
        column.addWidget(self.plain_lines)
        column.addWidget(self.form)
        column.addStretch(1)
        self.scroll.setWidget(inner)
        box.addWidget(self.scroll, 1)
        outer.addWidget(self.panel)
        self.trace_panel = QFrame()
        set_role(self.trace_panel, "panel")
        self._trace_box = QVBoxLayout(self.trace_panel)
        self._trace_box.setContentsMargins(14, 8, 14, 6)
        self.trace: QWidget | None = None
        outer.addWidget(self.trace_panel, 1)
        self.actions = Actions()
        outer.addWidget(self.actions)
        self._outer = outer
        self._step = ""
        self.actions.chosen.connect(self.chosen)
        self.actions.refused.connect(self.refused)
        self.form.submitted.connect(self.actions.press_primary)

    def show_task(self, task: TaskView) -> None:
        """Show a task; a new step starts with an empty form and no question open."""
        new_step = task.step_id != self._step
        if new_step:
            self._step = task.step_id
            self.actions.stop_asking()
        self.title.setText(task.title)
        self.instruction.setText(task.instruction)
        self.instruction.setVisible(bool(task.instruction))
        self.cautions.show_lines(tuple((c, Tone.CAUTION, "") for c in task.cautions))
        self.cautions.setVisible(bool(task.cautions))
        self._show_middle(task)
        self._show_trace(task.trace)
        self.actions.show_actions(task.actions)
        if new_step and task.fields and self.isVisible():
            self.form.focus_first()
        elif new_step and (focused := self.focusWidget()) is not None:
            focused.clearFocus()

    def _show_middle(self, task: TaskView) -> None:
        big = task.big
        self.hero.setVisible(big is not None)
        if big is not None:
            self.big.show_number(big)
        self.lines.show_lines(_roles(task.lines) if big is not None else ())
        plain = tuple((text, tone, "large") for text, tone in task.lines)
        self.plain_lines.show_lines(() if big is not None else plain)
        self.plain_lines.setVisible(big is None and bool(plain))
        self.lanes.show_lanes(task.lanes)
        self.form.show_fields(task.step_id, task.fields)
        scrolls = bool(task.fields) or (big is None and bool(plain))
        self.scroll.setVisible(scrolls)
        # The panel takes the height when there is a form, the trace when there is one.
        self._outer.setStretchFactor(self.panel, 1 if task.trace is None else 0)

    def _show_trace(self, trace: TraceView | None) -> None:
        if trace is not None and self.trace is None:
            # The plot library takes most of the start-up time; it comes when first needed.
            from benchstation.ui.widgets.trace import Trace

            self.trace = Trace()
            self._trace_box.addWidget(self.trace)
        self.trace_panel.setVisible(trace is not None)
        if trace is not None:
            self.trace.show_trace(trace)  # type: ignore[union-attr]


def _roles(lines: tuple[tuple[str, Tone], ...]) -> tuple[tuple[str, Tone, str], ...]:
    """Give the first line the most weight, the others less."""
    shown = []
    for count, (text, tone) in enumerate(lines):
        first = "word" if len(text) < LONG_WORD else "longword"
        shown.append((text, tone, first if count == 0 else "large"))
    return tuple(shown)
