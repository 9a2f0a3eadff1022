"""The middle of the bench page: one task, its number, lanes, form, trace and actions."""

from typing import TYPE_CHECKING

from PySide6.QtCore import Qt, QTimer, Signal, Slot
from PySide6.QtGui import QResizeEvent
from PySide6.QtWidgets import (
    QApplication,
    QBoxLayout,
    QLineEdit,
    QPlainTextEdit,
    QScrollArea,
    QVBoxLayout,
    QWidget,
)

from benchstation.screens.model.elements import TaskView, Tone, TraceView
from benchstation.ui.shell.labels import frame, label
from benchstation.ui.shell.layouts import clear, down
from benchstation.ui.shell.scroller import Scroller
from benchstation.ui.shell.text_scale import px
from benchstation.ui.widgets.forms.form import Form
from benchstation.ui.widgets.readout.actions import SAME_FINGER_S, Actions
from benchstation.ui.widgets.readout.big_number import NO_LIMIT
from benchstation.ui.widgets.readout.lanes import Lanes, lane_px
from benchstation.ui.widgets.readout.primary_readout import MarkedLines, PrimaryReadout

if TYPE_CHECKING:
    from benchstation.ui.widgets.plots.trace import Trace

SMALL_HERO_PX = 120
GAP_PX, PANEL_GAP_PX, SIDES_PX = 10, 6, 40
TRACE_LEAST_PX, FORM_LEAST_PX, EMPTY_PX = 108, 110, 22


def room_for(room: int, lanes: int, *, trace: bool) -> tuple[int, bool]:
    """Return how many lanes and whether the trace fit into ``room`` pixels.

    Of two lanes one goes first, then the trace; the number and its words are never given up.
    """
    for some in range(lanes, 0, -1) if trace else ():
        if room >= some * lane_px() + px(TRACE_LEAST_PX) + GAP_PX:
            return some, True
    if trace and not lanes and room >= px(TRACE_LEAST_PX) + GAP_PX:
        return 0, True
    return min(lanes, max(0, room // lane_px())), False


class Heading(QWidget):
    """Title and instruction, on one line where they fit."""

    def __init__(self, parent: QWidget | None = None) -> None:
        super().__init__(parent)
        self.setObjectName("clear")
        self._unit = self._title = ""
        self.title = label("", "title")
        self.instruction = label("", "large", wrap=True)
        self._box = QBoxLayout(QBoxLayout.Direction.TopToBottom, self)
        self._box.setContentsMargins(0, 0, 0, 0)
        self._box.addWidget(self.title)
        self._box.addWidget(self.instruction, 1)

    def show_heading(self, title: str, instruction: str) -> None:
        """Show both."""
        self._title = title
        named = f"{self._unit}: {title}" if self._unit else title
        if (named, instruction) != (self.title.text(), self.instruction.text()):
            self.title.setText(named)
            self.instruction.setText(instruction)
            self.instruction.setVisible(bool(instruction))
            self._turn()

    def name_unit(self, unit: str) -> None:
        """Name the unit before the step, where it stands nowhere else; empty: leave it out."""
        self._unit = unit
        self.show_heading(self._title, self.instruction.text())

    def _turn(self) -> None:
        self.title.setWordWrap(False)
        title = self.title.sizeHint().width()
        beside = (
            title + 24 + self.instruction.fontMetrics().horizontalAdvance(self.instruction.text())
        )
        way = QBoxLayout.Direction
        row = beside <= self.width()
        self._box.setDirection(way.LeftToRight if row else way.TopToBottom)
        self._box.setSpacing(20 if row else 2)
        self.title.setWordWrap(not row)

    def rescale(self) -> None:
        """Choose one line or two anew."""
        self._turn()

    def resizeEvent(self, event: QResizeEvent) -> None:
        """Choose one line or two for the new width."""
        self._turn()


class Task(QWidget):
    """What to do now."""

    chosen = Signal(str, object)
    refused = Signal(str)
    edited = Signal()
    """The form has something new that the station compares or draws."""

    def __init__(self, parent: QWidget | None = None) -> None:
        super().__init__(parent)
        self.setObjectName("clear")
        self._outer = outer = QVBoxLayout(self)
        outer.setContentsMargins(0, 0, 0, 0)
        outer.setSpacing(GAP_PX)
        self.panel = frame("panel")
        box = down(self.panel, (SIDES_PX // 2, 12, SIDES_PX // 2, 10))
        box.setSpacing(PANEL_GAP_PX)
        self.heading = Heading()
        self.cautions = MarkedLines()
        self.primary_readout = PrimaryReadout()
        self.lanes = Lanes()
        for part in (self.heading, self.cautions, self.primary_readout, self.lanes):
            box.addWidget(part)
        box.addWidget(self._make_scroller(), 1)
        self._filler = clear()
        box.addWidget(self._filler, 1)
        outer.addWidget(self.panel)
        self.trace_panel = frame("panel")
        self._trace_box = down(self.trace_panel, (14, 6, 14, 4))
        self.trace: Trace | None = None
        outer.addWidget(self.trace_panel, 1)
        self.action_bar = Actions(settle_s=SAME_FINGER_S)
        outer.addWidget(self.action_bar)
        self._step = ""
        self._task: TaskView | None = None
        self._fitting = self._fit_again = False
        self.action_bar.chosen.connect(self.chosen)
        self.action_bar.refused.connect(self.refused)
        self.action_bar.turned.connect(self._on_turned)
        self.form.submitted.connect(self.action_bar.press_primary)
        self.form.edited.connect(self.edited)
        application = QApplication.instance()
        assert isinstance(application, QApplication)
        application.focusChanged.connect(self._on_focus)

    def _make_scroller(self) -> QScrollArea:
        inner = clear()
        column = down(inner, (0, 6, 6, 0), 12)
        self.plain_lines = MarkedLines()
        self.form = Form()
        column.addWidget(self.plain_lines)
        column.addWidget(self.form)
        column.addStretch(1)
        self.scroller = Scroller(inner, focus=Qt.FocusPolicy.NoFocus)
        return self.scroller

    @Slot(QWidget, QWidget)
    def _on_focus(self, _: QWidget | None, now: QWidget | None) -> None:
        """Bring the field that has the keyboard into sight, once a new one has its place."""
        if now is not None and self.scroller.isAncestorOf(now):
            QTimer.singleShot(0, self, self._reveal)

    @Slot()
    def _reveal(self) -> None:
        now = self.window().focusWidget()
        if now is not None and self.scroller.isAncestorOf(now):
            self.scroller.ensureWidgetVisible(now, 0, 30)

    def show_task(self, task: TaskView) -> None:
        """Show a task; a new step starts with an empty form and no question open."""
        new_step = task.step_id != self._step
        self._task = task
        if new_step:
            self._step = task.step_id
            self.action_bar.stop_asking()
        self.heading.show_heading(task.title, task.instruction)
        self.cautions.show_lines(tuple((c, Tone.CAUTION, "") for c in task.cautions))
        self.primary_readout.show_hero(task.big, task.lines)
        plain = () if task.big is not None else task.lines
        self.plain_lines.show_lines(tuple((text, tone, "large") for text, tone in plain))
        self.plain_lines.setVisible(bool(plain))
        self.form.show_fields(task.step_id, task.fields)
        self.scroller.setVisible(bool(task.fields or plain))
        self._filler.setVisible(not (task.fields or plain))
        self.action_bar.show_actions(task.actions)
        self._fit(task)
        if new_step:
            self.form.lead_to(self.action_bar.buttons)
            self._begin(task)
            # Once more when the new texts have been laid out.
            QTimer.singleShot(0, self, self._on_turned)

    def begin(self) -> None:
        """Put the keyboard where the step that is shown begins."""
        if self._task is not None:
            self.window().setFocus()
            self._begin(self._task)

    def _begin(self, task: TaskView) -> None:
        """Put the keyboard where the step begins, unless a question elsewhere has it."""
        focused = self.window().focusWidget()
        # A field that goes with its form hands the keyboard to whatever button comes next: only
        # one that is being typed into keeps it.
        typing = isinstance(focused, QLineEdit | QPlainTextEdit) and not self.isAncestorOf(focused)
        if typing:
            return
        if task.fields:
            self.form.focus_first()
        else:
            self.window().setFocus()

    def resizeEvent(self, event: QResizeEvent) -> None:
        """Choose what there is room for."""
        super().resizeEvent(event)
        self._on_turned()

    @Slot()
    def _on_turned(self) -> None:
        if self._task is not None:
            self._fit(self._task)

    def _fit(self, task: TaskView) -> None:
        """Show what there is room for; once more later, when showing it changed the room.

        Showing a widget lays out its parents at once, which leads back here: a hide in the
        middle of a show would leave the widget half shown.
        """
        if self._fitting:
            self._fit_again = True
            return
        self._fitting = True
        try:
            self._fit_once(task)
        finally:
            self._fitting = False
        if self._fit_again:
            self._fit_again = False
            QTimer.singleShot(0, self, self._on_turned)

    def _fit_once(self, task: TaskView) -> None:
        """Show what there is room for.

        The first to go are lanes and trace, then the size of the number, the cautions, the
        heading, and at last the number, which the guard strip has too. The actions never go.
        """
        width, big = max(100, self.width() - SIDES_PX), task.big is not None
        # What is measured, is measured without changing anything: a change asks for a layout.
        heading = _height(self.heading, width) + PANEL_GAP_PX
        cautions = _height(self.cautions, width) + PANEL_GAP_PX if task.cautions else 0
        primary_readout = self.primary_readout.height_at(width, NO_LIMIT)
        room = self._room(task) - heading - cautions - primary_readout - PANEL_GAP_PX * big
        with_cautions = room >= 0 or primary_readout + room >= SMALL_HERO_PX
        if not with_cautions:
            room += cautions
        least = self.primary_readout.least_height() if big else 0
        with_heading = not big or primary_readout + room >= least
        if not with_heading:
            room += heading
        with_hero = big and primary_readout + room >= least
        if big and not with_hero:
            with_heading = primary_readout + room >= heading
        self.heading.setVisible(with_heading)
        self.cautions.setVisible(bool(task.cautions) and with_cautions)
        self.primary_readout.setVisible(with_hero)
        self.primary_readout.limit(NO_LIMIT if room >= 0 else max(0, primary_readout + room))
        lanes, trace = room_for(max(0, room), len(task.lanes), trace=task.trace is not None)
        self.lanes.show_lanes(task.lanes, lanes)
        self._show_trace(task.trace if trace else None)
        # The panel takes the height when there is no trace, else the trace does.
        stretch = 0 if trace else 1
        if self._outer.stretch(self._outer.indexOf(self.panel)) != stretch:
            # Set again to what it is, it would still ask for a layout of the whole page.
            self._outer.setStretchFactor(self.panel, stretch)

    def least_height(self) -> int:
        """Return the height of the actions, and of heading and form where no number stands."""
        least = self.action_bar.height_for(self.width()) + GAP_PX + EMPTY_PX
        if self._task is not None and (self._task.fields or self._task.big is None):
            heading = _height(self.heading, max(100, self.width() - SIDES_PX))
            least += heading + px(FORM_LEAST_PX) + 2 * PANEL_GAP_PX
        return least

    def _room(self, task: TaskView) -> int:
        """Return the height for heading, cautions, number, lanes and trace."""
        form = px(FORM_LEAST_PX) + PANEL_GAP_PX if task.fields else 0
        lanes = PANEL_GAP_PX + 2 if task.lanes else 0
        used = 22 + 2 * PANEL_GAP_PX + form + lanes + GAP_PX
        used += self.action_bar.height_for(self.width())
        return self.height() - used

    def _show_trace(self, trace: TraceView | None) -> None:
        self.trace_panel.setVisible(trace is not None)
        if trace is None:
            return
        if self.trace is None:
            # The plot library takes most of the start-up time; it comes when first needed.
            from benchstation.ui.widgets.plots.trace import Trace

            self.trace = Trace()
            self._trace_box.addWidget(self.trace)
        self.trace.show_trace(trace)


def _height(widget: QWidget, width: int) -> int:
    layout = widget.layout()
    if layout is not None and layout.hasHeightForWidth():
        return layout.totalHeightForWidth(width)
    return widget.sizeHint().height()
