"""The way of an instrument, or of a whole bench, from the first question to saved."""

from functools import partial

from PySide6.QtCore import Qt, Signal, Slot
from PySide6.QtGui import QResizeEvent
from PySide6.QtWidgets import QFrame, QSizePolicy, QWidget

from benchstation.screens.model.elements import StepView, Tone
from benchstation.screens.model.onboarding import AddingView, OnboardingService
from benchstation.ui.shell.bridge import Answers, Message
from benchstation.ui.shell.labels import label, set_role
from benchstation.ui.shell.layouts import across, clear, down
from benchstation.ui.shell.poll import Poll
from benchstation.ui.shell.scroller import Scroller
from benchstation.ui.shell.text_scale import px
from benchstation.ui.widgets.forms.choices import Cards, ChoiceList
from benchstation.ui.widgets.forms.form import Form
from benchstation.ui.widgets.forms.frame_marker import FrameMarker
from benchstation.ui.widgets.readout.actions import Actions
from benchstation.ui.widgets.readout.primary_readout import OTHER, MarkedLines, PrimaryReadout
from benchstation.ui.widgets.readout.reason_line import ReasonLine
from benchstation.ui.widgets.readout.route import StepRow
from benchstation.ui.widgets.readout.terms import Terms

REFRESH_MS = 100
MOST_NUMBER_PX, SHORT_NUMBER_PX = 150, 110
SHORT_PX = 660
WIDEST_TERMS_PX = 860
FILLS = 20
"""Stretch of what takes all the room that there is."""
LEAST_REASON_PX = 44


class Steps(QFrame):
    """The steps and where it stands."""

    def __init__(self, parent: QWidget | None = None) -> None:
        super().__init__(parent)
        set_role(self, "panel")
        self._box = down(self, (8, 14, 8, 8), 2)
        self._box.addStretch(1)
        self.rows: list[StepRow] = []

    def show_steps(self, steps: tuple[StepView, ...]) -> None:
        """Show the steps; hidden without any."""
        self.setVisible(bool(steps))
        while len(self.rows) < len(steps):
            self.rows.append(StepRow(self))
            self._box.insertWidget(self._box.count() - 1, self.rows[-1])
        for count, row in enumerate(self.rows):
            if count < len(steps):
                row.show_step(steps[count])
            row.setVisible(count < len(steps))


class AddingSteps(QWidget):
    """Shows what ``port`` gives while it is seen, and hands it what a person chooses."""

    told = Signal(object)
    """A :class:`Message`."""
    went_on = Signal()
    """What was refused before is put right: nothing is left to be told."""
    ended = Signal()
    """Nothing is being brought in any more."""

    def __init__(
        self, answers: Answers, port: OnboardingService, parent: QWidget | None = None
    ) -> None:
        super().__init__(parent)
        self.setObjectName("clear")
        self._answers, self._port = answers, port
        self.shown: AddingView | None = None
        row = across(self, spacing=10)
        self.steps = Steps()
        row.addWidget(self.steps, 2)
        row.addWidget(self._make_task(), 7)
        self.poll = Poll(self, port.adding, self._on_view, self.told.emit, REFRESH_MS)

    def _make_task(self) -> QWidget:
        task = QFrame()
        set_role(task, "panel")
        around = down(task, (16, 10, 12, 14))
        body = clear()
        box = down(body, (4, 4, 4, 4), 10)
        self.title = label("", "headline", wrap=True)
        self.instruction = label("", "large", wrap=True)
        self.primary_readout = PrimaryReadout()
        self.primary_readout.number_only(MOST_NUMBER_PX)
        self.lines = MarkedLines()
        self.cards = Cards()
        self.rows = ChoiceList()
        self.terms = Terms()
        inner = clear()
        column = down(inner, (0, 0, 10, 0))
        self.terms.setMaximumWidth(WIDEST_TERMS_PX)
        column.addWidget(self.terms)
        column.addStretch(1)
        self.groups = Scroller(inner, "what will be kept")
        self.frames = FrameMarker()
        self.raw_title = label("Bytes as they came, newest below", "strong")
        self.raw = label("", "raw", wrap=True)
        self.raw.setAlignment(Qt.AlignmentFlag.AlignTop)
        self.form = Form()
        self.form.setSizePolicy(QSizePolicy.Policy.Preferred, QSizePolicy.Policy.Maximum)
        self.action_bar = Actions()
        for part in (self.title, self.instruction, self.primary_readout, self.lines):
            box.addWidget(part)
        box.addWidget(self.cards, 2)
        box.addWidget(self.rows, FILLS)
        box.addWidget(self.groups, FILLS)
        box.addWidget(self.frames, FILLS)
        box.addWidget(self.raw_title)
        box.addWidget(self.raw)
        box.addWidget(self.form)
        box.addStretch(1)
        # An alarm banner takes room away: then it scrolls, and its actions stay in view.
        around.addWidget(Scroller(body, "the question"), 1)
        self.reason = ReasonLine()
        self.reason.hide()
        around.addWidget(self.reason)
        around.addWidget(self.action_bar)
        self.form.changed.connect(self.forgive)
        self.form.submitted.connect(self.action_bar.press_primary)
        self.action_bar.chosen.connect(self._on_chosen)
        self.action_bar.refused.connect(self._on_refused)
        self.cards.chosen.connect(self._on_card)
        return task

    def _on_view(self, view: AddingView | None) -> None:
        if view is None:
            self.shown = None
            self.ended.emit()
        elif view != self.shown:
            self._show(view)

    def _show(self, view: AddingView) -> None:
        new = self.shown is None or view.step_id != self.shown.step_id
        self.shown = view
        self.steps.show_steps(view.steps)
        self.title.setText(view.title)
        self.instruction.setText(view.instruction)
        self.instruction.setVisible(bool(view.instruction))
        self.primary_readout.show_hero(view.big, ())
        self.lines.show_lines(tuple((text, tone, OTHER) for text, tone in view.lines))
        self.lines.setVisible(bool(view.lines))
        self.cards.show_cards(view.cards)
        self.cards.setVisible(bool(view.cards))
        self.rows.show_rows(view.rows_name, view.rows, view.row)
        self.rows.setVisible(bool(view.rows))
        self.terms.show_groups(view.groups)
        self.groups.setVisible(bool(view.groups))
        self.frames.show_frames(view.frames)
        self.frames.setVisible(view.frames is not None)
        self.raw.setText("\n".join(view.raw_lines))
        self._fit()
        self.form.show_fields(view.step_id, view.fields)
        self.form.setVisible(bool(view.fields))
        self.action_bar.show_actions(view.actions)
        self.action_bar.setVisible(bool(view.actions))
        if new:
            if view.rows and view.fields:
                self.setTabOrder(self.rows, self.form.rows[0].editor)
            self.form.lead_to(self.action_bar.buttons)
            self._take_keys(view)

    def resizeEvent(self, event: QResizeEvent) -> None:
        """Leave out the bytes under a number where there is no room for both."""
        super().resizeEvent(event)
        self._fit()

    def _fit(self) -> None:
        view, short = self.shown, self.height() < SHORT_PX
        self.primary_readout.number_only(SHORT_NUMBER_PX if short else MOST_NUMBER_PX)
        if view is not None:
            for part in (self.raw, self.raw_title):
                part.setVisible(bool(view.raw_lines) and not (short and view.big))

    def _take_keys(self, view: AddingView) -> None:
        """Put the keyboard where the question is answered."""
        if view.rows:
            self.rows.setFocus(Qt.FocusReason.OtherFocusReason)
        elif view.fields and not view.busy:
            self.form.focus_first()
        else:
            self.window().setFocus()

    def press_key(self, key: str) -> bool:
        """Do the action on this key."""
        return self.cards.press_key(key) or self.action_bar.press_key(key)

    @Slot(str)
    def _on_card(self, action: str) -> None:
        self._on_chosen(action, {})

    @Slot(str, object)
    def _on_chosen(self, action: str, _: dict[str, str]) -> None:
        fields = {**self.form.values(), **self.frames.chosen(), "row": self.rows.chosen()}
        self._answers.follow(
            partial(self._port.adding_act, action, fields), self._on_done, self._on_failed
        )

    @property
    def refusal(self) -> str:
        """Return what was refused and still stands, above the actions or at a field."""
        at_fields = (row.error.text() for row in self.form.rows if row.error.text())
        return self.reason.refused or next(at_fields, "")

    @Slot()
    def forgive(self) -> None:
        """Take what was refused away: something else is done."""
        self.reason.drop()
        self.reason.hide()

    def _refuse(self, message: Message) -> None:
        """Tell what is wrong at its field, else above the actions; the foot says nothing of it."""
        self.went_on.emit()
        self.forgive()
        if message.field and self.form.show_error(message.field, message.text):
            return
        self.reason.refuse(message.text)
        self.reason.setMinimumHeight(self.reason.need(self.width() // 2, px(LEAST_REASON_PX)))
        self.reason.show()

    def _on_done(self, sentence: str) -> None:
        self.forgive()
        self.form.show_error("", "")
        self.poll.once()
        if sentence:
            self.told.emit(Message(sentence, Tone.GOOD))
        else:
            self.went_on.emit()

    def _on_failed(self, message: Message) -> None:
        self.form.clear_secrets()
        self.poll.once()
        self._refuse(message)
        self.form.go_back(message.field)

    @Slot(str)
    def _on_refused(self, why: str) -> None:
        self._refuse(Message(why, Tone.CAUTION))
