"""The middle of the bench page: one task, its number, lanes, form, trace and actions.

Every part has its place from the grid. What there is no room for gives way, the trace first, then
the lanes; the heading, the number, the reason and the actions never move and never go.
"""

from typing import TYPE_CHECKING

from PySide6.QtCore import QRect, Qt, QTimer, Signal, Slot
from PySide6.QtGui import QResizeEvent
from PySide6.QtWidgets import (
    QApplication,
    QLineEdit,
    QPlainTextEdit,
    QScrollArea,
    QWidget,
)

from benchstation.screens.model.bench import BenchView
from benchstation.screens.model.elements import TaskView, TraceView
from benchstation.ui.shell.labels import frame
from benchstation.ui.shell.layouts import clear, down
from benchstation.ui.shell.scroller import Scroller
from benchstation.ui.shell.text_scale import px, soft
from benchstation.ui.widgets.drawings.live_damper import LiveDamper
from benchstation.ui.widgets.forms.choice_buttons import MOST
from benchstation.ui.widgets.forms.fields import CheckField
from benchstation.ui.widgets.forms.form import Form
from benchstation.ui.widgets.readout.action_slots import ActionSlots
from benchstation.ui.widgets.readout.actions import SAME_FINGER_S
from benchstation.ui.widgets.readout.grid import GAP_PX, PAD_PX, ROW_GAP_PX, Grid, grid_of
from benchstation.ui.widgets.readout.heading import CautionLine, Heading
from benchstation.ui.widgets.readout.lanes import Lanes, lane_px
from benchstation.ui.widgets.readout.primary_readout import MarkedLines, PrimaryReadout
from benchstation.ui.widgets.readout.proof_panel import MomentCard, ProofPanel
from benchstation.ui.widgets.readout.reason_line import ReasonLine

if TYPE_CHECKING:
    from benchstation.ui.widgets.plots.trace import Trace

SPACE = "Space"
DAMPER_PX, FORM_ROOMY_PX = 80, 340
TRACE_LEAST_PX, FORM_LEAST_PX, FIELD_LEAST_PX, TOP_PX = 84, 110, 48, 10


def room_for(room: int, lanes: int, *, trace: bool) -> tuple[int, bool]:
    """Return how many lanes and whether the trace fit into ``room`` pixels: the lanes first."""
    some = min(lanes, max(0, room // lane_px()))
    left = room - some * lane_px()
    return some, trace and some == lanes and left >= px(TRACE_LEAST_PX) + ROW_GAP_PX


class Task(QWidget):
    """What to do now."""

    chosen = Signal(str, object)
    refused = Signal(str)
    edited = Signal()
    """The form has something new that the station compares or draws."""
    more = Signal()
    """All cautions are wanted in full."""

    def __init__(self, parent: QWidget | None = None) -> None:
        super().__init__(parent)
        self.setObjectName("clear")
        self._task: TaskView | None = None
        self._step = ""
        self._grid: Grid | None = None
        self.panel = frame("panel")
        self.panel.setParent(self)
        self.heading = Heading(self.panel)
        self.cautions = CautionLine(self.panel)
        self.primary_readout = PrimaryReadout(self.panel)
        self.lanes = Lanes(self.panel)
        self._make_scroller().setParent(self.panel)
        self.damper = LiveDamper(self.panel)
        self.trace_panel = clear(self.panel)
        self._trace_box = down(self.trace_panel)
        self.trace: Trace | None = None
        self.proof = ProofPanel(self.panel)
        self.moment = MomentCard(parent=self)
        self.reason = ReasonLine(self.panel)
        self.action_bar = ActionSlots(settle_s=SAME_FINGER_S, parent=self.panel)
        self.action_bar.chosen.connect(self.chosen)
        self.action_bar.refused.connect(self.refused)
        self.action_bar.turned.connect(self._place)
        self.cautions.opened.connect(self.more)
        self.form.submitted.connect(self.action_bar.press_primary)
        self.form.edited.connect(self.edited)
        application = QApplication.instance()
        assert isinstance(application, QApplication)
        application.focusChanged.connect(self._on_focus)

    def _make_scroller(self) -> QScrollArea:
        inner = clear()
        column = down(inner, (0, 6, 6, 0), 12)
        self.plain_lines = MarkedLines()
        self.form = Form(buttons_up_to=MOST)
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

    def refuse(self, words: str, field: str = "") -> None:
        """Tell what was refused: at its field where there is one, else above the actions."""
        if not (field and self.form.show_error(field, words)):
            self.reason.refuse(words)
        self.form.go_back(field)
        self.action_bar.ask_again(field)
        self._place()

    @property
    def refusal(self) -> str:
        """Return what was refused and still stands, above the actions or at a field."""
        at_fields = (row.error.text() for row in self.form.rows if row.error.text())
        return self.reason.refused or next(at_fields, "")

    def forgive(self) -> None:
        """Take every refusal away: something else is done."""
        self.reason.drop()
        self.form.show_error("", "")
        self._place()

    def show_proof(self, unit: str, view: BenchView) -> None:
        """Show a filed unit's proof, and a result that is new for a moment."""
        self.proof.show_proof(view.filed)
        self.damper.show_live(view.damper)
        if self.moment.follow(unit, view.moments):
            self._place()

    def show_task(self, task: TaskView) -> None:
        """Show a task; a new step starts with an empty form and no question open."""
        new_step = task.step_id != self._step
        self._task = task
        if new_step:
            self._step = task.step_id
            self.action_bar.stop_asking()
            self.reason.drop()
        self.heading.show_heading(task.title, task.instruction)
        self.cautions.show_cautions(task.cautions)
        self.primary_readout.show_hero(task.big, task.lines)
        plain = () if task.big is not None else task.lines
        self.plain_lines.show_lines(tuple((text, tone, "large") for text, tone in plain))
        self.plain_lines.setVisible(bool(plain))
        asked = len(self.form.rows)
        self.form.show_fields(task.step_id, task.fields)
        if new_step:
            # Where the last step was read to its end, this one is not.
            self.scroller.verticalScrollBar().setValue(0)
        self.scroller.setVisible(bool(task.fields or plain))
        self.action_bar.show_actions(task.actions)
        self.reason.show_actions(task.actions)
        self._place()
        if new_step:
            self.form.lead_to(self.action_bar.buttons)
            self._begin(task)
            # Once more when the new texts have been laid out.
            QTimer.singleShot(0, self, self._place)
        elif len(task.fields) > asked and not any(a.key == SPACE for a in task.actions):
            self._begin_with_more()

    def _begin_with_more(self) -> None:
        """Put the keyboard into what is asked only now, unless something is being entered.

        A space bar that is meant for the new tick would take the last one back.
        """
        focused = self.window().focusWidget()
        ticked = isinstance(focused, CheckField) and focused.isChecked()
        if ticked or focused in (None, self.window()):
            self.form.focus_first()

    def begin(self) -> None:
        """Put the keyboard where the step that is shown begins."""
        if self._task is not None:
            self.window().setFocus()
            self._begin(self._task)

    def begin_again(self) -> None:
        """Put the keyboard back into the form, where nothing has it."""
        keyboard = self.window().focusWidget()
        if keyboard is None or not keyboard.isVisible():
            self.begin()

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

    def set_grid(self, grid: Grid) -> None:
        """Take the places of the grid."""
        if grid != self._grid:
            self._grid = grid
            self.primary_readout.set_grid(grid)
            self._place()

    def rescale(self) -> None:
        """Place everything at the text size in force."""
        self._place()

    def resizeEvent(self, event: QResizeEvent) -> None:
        """Place everything in the new room."""
        super().resizeEvent(event)
        self._place()

    @property
    def grid(self) -> Grid:
        """Return the places in force; where no page has given them, those of this widget alone."""
        if self._grid is not None:
            return self._grid
        from_window = grid_of(self.window().width(), self.window().height())
        return from_window

    @Slot()
    def _place(self) -> None:
        """Place every part, from the top down, and from the foot up."""
        task, grid = self._task, self.grid
        self.panel.setGeometry(self.rect())
        width = min(grid.inner, self.width() - 2 * PAD_PX)
        if task is None or width <= 0:
            return
        number = TOP_PX + grid.heading + grid.caution + 2 * ROW_GAP_PX
        self.moment.place(grid, 0, 0, self.width(), number)
        foot = self._place_foot(grid, width)
        top, wide = TOP_PX, self.width() - 2 * PAD_PX
        with_number = task.big is not None
        heading = grid.heading
        if not with_number and self.heading.below(wide):
            heading = max(heading, self.heading.full_height(wide))
        self.heading.setGeometry(PAD_PX, top, wide, heading)
        top += heading + ROW_GAP_PX
        if with_number or task.cautions:
            # In the least window at the largest text the field has their line; the drawer has them.
            short = with_number and bool(task.fields)
            short = short and self._form_room(grid, top, foot) < FIELD_LEAST_PX
            self.cautions.setVisible(bool(task.cautions) and not short)
            self.cautions.setGeometry(PAD_PX, top, width, grid.caution)
            top += 0 if short else grid.caution + ROW_GAP_PX
        if with_number:
            self.primary_readout.setGeometry(PAD_PX, top, width, grid.readout)
            top += grid.readout + ROW_GAP_PX
        self._place_rest(task, QRect(PAD_PX, top, width, max(0, foot - top)))

    @staticmethod
    def _form_room(grid: Grid, top: int, foot: int) -> int:
        """Return the height that a form has below the cautions and the number."""
        return foot - top - grid.caution - grid.readout - 2 * ROW_GAP_PX

    def _place_foot(self, grid: Grid, width: int) -> int:
        """Place the actions and the reason above them; return the height where they begin."""
        bar = self.action_bar
        bar.set_height(grid.actions)
        high = bar.height_for(width)
        low = self.height() - GAP_PX
        bar.setGeometry(PAD_PX, low - high, width, high)
        top = low - grid.actions - ROW_GAP_PX - grid.reason
        # What was refused needs more lines: it lies over what is above, and moves nothing.
        told = min(self.reason.need(width, grid.reason), max(grid.reason, top))
        self.reason.setGeometry(PAD_PX, top + grid.reason - told, width, told)
        self.reason.setVisible(not bar.asking)
        return min(top, low - high) - ROW_GAP_PX

    def _place_rest(self, task: TaskView, room: QRect) -> None:
        """Place what there is room for between the number and the reason."""
        form = bool(task.fields) or self.plain_lines.isVisibleTo(self.panel)
        left = room.height() - (px(FORM_LEAST_PX) if form else 0)
        lanes_only = min(len(task.lanes), max(0, left // lane_px())) * lane_px()
        drawn = left - lanes_only >= soft(DAMPER_PX)
        # The drawing comes before the trace.
        left -= soft(DAMPER_PX) + ROW_GAP_PX if drawn and task.big is not None else 0
        lanes, trace = room_for(left, len(task.lanes), trace=task.trace is not None and not form)
        self.lanes.show_lanes(task.lanes, lanes)
        top = self._place_damper(task, room, lanes)
        if lanes:
            high = lanes * lane_px()
            self.lanes.setGeometry(room.left(), top, room.width(), high)
            top += high + ROW_GAP_PX
        rest = QRect(room.left(), top, room.width(), max(0, room.bottom() + 1 - top))
        self.scroller.setGeometry(rest)
        self.proof.setGeometry(rest)
        self._show_trace(task.trace if trace else None)
        self.trace_panel.setGeometry(rest)

    def _place_damper(self, task: TaskView, room: QRect, lanes: int) -> int:
        """Place the drawing where the rest leaves it room; return where the rest begins."""
        high, rest = soft(DAMPER_PX), room.height() - lanes * lane_px()
        kept = 0 if task.big is not None else px(FORM_ROOMY_PX)
        kept = px(FORM_LEAST_PX) if task.big is not None and task.fields else kept
        there, live = rest >= high + kept + ROW_GAP_PX, self.damper.live is not None
        self.damper.setVisible(there and live)
        if not there or (task.big is None and not live):
            return room.top()
        self.damper.setGeometry(room.left(), room.top(), room.width(), high)
        return room.top() + high + ROW_GAP_PX

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
