"""Instruments: link, reading, calibration, the last frames, and what can be done with each."""

from functools import partial

from PySide6.QtCore import Qt, Signal, Slot
from PySide6.QtWidgets import (
    QFrame,
    QHBoxLayout,
    QScrollArea,
    QSizePolicy,
    QVBoxLayout,
    QWidget,
)

from benchstation.screens.model.elements import ActionView, Tone
from benchstation.screens.model.instruments import InstrumentView
from benchstation.screens.model.onboarding import OnboardingService
from benchstation.screens.model.records import SINCE, UNITS_SINCE
from benchstation.ui.pages.calibrations import CalibrationsPage
from benchstation.ui.pages.page import Page
from benchstation.ui.shell import text_scale
from benchstation.ui.shell.bridge import Bridge, Message
from benchstation.ui.shell.labels import label, set_role
from benchstation.ui.shell.layouts import across, clear, down
from benchstation.ui.shell.poll import Poll
from benchstation.ui.shell.scroller import Scroller
from benchstation.ui.widgets.drawings.picture import Callout
from benchstation.ui.widgets.forms.form import Form
from benchstation.ui.widgets.forms.onboarding_steps import AddingSteps
from benchstation.ui.widgets.readout.actions import Actions
from benchstation.ui.widgets.readout.instrument_bar import Reading
from benchstation.ui.widgets.readout.primary_readout import MarkedLine
from benchstation.ui.widgets.readout.terms import Terms

REFRESH_MS = 200
SIDE_BY_SIDE, LEAST_PX = 3, 380
"""More than so many panels keep this width, and the page scrolls."""
ADD = ActionView("begin", "Add an instrument", "Ctrl+N", does="fit")
TO_SETTINGS = ActionView("settings", "Settings of this bench", "Shift+F6")
CALIBRATIONS = ActionView("calibrations", "Calibrations", "Ctrl+B")
FITTED = ActionView("fitted", "Back to the readings", "Ctrl+B")
EMPTY = (
    "No instrument is fitted.\n\nA bench needs a scale and a gauge. When they are "
    "set up, their link, health, calibration and last frames stand here."
)


class Instrument(QFrame):
    """One instrument."""

    chosen = Signal(str, str, object)
    """Id, action and fields."""
    wanted = Signal(str)
    """Words to search the records for."""
    refused = Signal(str)

    def __init__(self, parent: QWidget | None = None) -> None:
        super().__init__(parent)
        set_role(self, "panel")
        self.shown: InstrumentView | None = None
        box = down(self, (18, 14, 12, 12), 8)
        self.title = label("", "title", wrap=True)
        self.reading = Reading()
        self.link = MarkedLine()
        box.addWidget(self.title)
        box.addWidget(self.reading)
        box.addWidget(self.link)
        inner = clear()
        self._box, self._column = box, QVBoxLayout(inner)
        column = self._column
        column.setContentsMargins(0, 0, 10, 0)
        self.terms = Terms()
        self.raw_title = label("Last frames, newest below", "strong")
        self.raw = label("", "raw", wrap=True)
        for part in (self.terms, self.raw_title, self.raw):
            column.addWidget(part)
        column.addStretch(1)
        self.scroller = Scroller(inner)
        box.addWidget(self.scroller, 1)
        self.form = Form()
        self.form.setSizePolicy(QSizePolicy.Policy.Preferred, QSizePolicy.Policy.Fixed)
        bottom = QHBoxLayout()
        bottom.setSpacing(12)
        bottom.addWidget(self.form, 1)
        box.addLayout(bottom)
        self.action_bar = Actions()
        bottom.addWidget(self.action_bar, 1, Qt.AlignmentFlag.AlignBottom)
        self.recall = Actions(quiet=True)
        self.rescale()
        self.form.submitted.connect(self.action_bar.press_primary)
        self.action_bar.chosen.connect(self._on_chosen)
        self.action_bar.refused.connect(self.refused)
        self.recall.chosen.connect(self._on_recall)

    def rescale(self) -> None:
        """Scroll the recall with the figures where large text leaves the panel no room."""
        if text_scale.is_large():
            self._column.insertWidget(0, self.recall)
        else:
            self._box.addWidget(self.recall)

    def show_instrument(self, view: InstrumentView) -> None:
        """Show an instrument; does nothing when it is the one that stands there."""
        if view == self.shown:
            return
        self.shown = view
        self.title.setText(view.title)
        self.reading.show_reading(view.reading)
        self.link.show_line(view.link, view.tone, "")
        self.terms.show_groups(view.groups)
        self.raw.setText("\n".join(view.raw_lines) or "no frame yet")
        self.scroller.setAccessibleName(f"{view.title}: figures and last frames")
        self.form.show_fields(view.id, view.fields)
        self.form.setVisible(bool(view.fields))
        self.action_bar.show_actions(view.actions)
        self.action_bar.setVisible(bool(view.actions))
        self.recall.show_actions(view.recall)
        self.recall.setVisible(bool(view.recall))

    def press_key(self, key: str) -> bool:
        """Do the action on this key."""
        return self.action_bar.press_key(key) or self.recall.press_key(key)

    @Slot(str, object)
    def _on_chosen(self, action: str, given: dict[str, str]) -> None:
        if self.shown is None:
            return
        self.chosen.emit(self.shown.id, action, self.form.values() | given)

    @Slot(str, object)
    def _on_recall(self, action: str, _: dict[str, str]) -> None:
        if self.shown is not None:
            self.wanted.emit(self.shown.id + (SINCE if action == UNITS_SINCE else ""))


class _Row(QWidget):
    """The instruments side by side, as high as there is room: each scrolls its own figures."""

    def heightForWidth(self, width: int) -> int:
        """Return the least height: with all figures in full the buttons would be out of view.

        Large text leaves no room to keep them there: then the page scrolls as a whole.
        """
        whole = super().heightForWidth(width)
        return whole if text_scale.is_large() else min(whole, self.minimumSizeHint().height())


class InstrumentsPage(Page):
    """All instruments side by side."""

    wanted = Signal(str)
    """Words to search the records for."""
    turned = Signal(str)
    """Another page is asked for, by name."""

    def __init__(
        self, bridge: Bridge, adding: OnboardingService | None = None, parent: QWidget | None = None
    ) -> None:
        super().__init__(parent)
        self._bridge, self._adding = bridge, adding
        box = down(self, (12, 10, 12, 0), 10)
        self.fitted = _Row()
        self.fitted.setObjectName("clear")
        self._row = across(self.fitted, spacing=10)
        self._scroller = QScrollArea()
        self._scroller.setWidgetResizable(True)
        self._scroller.setFrameShape(QFrame.Shape.NoFrame)
        self._scroller.setAccessibleName("the instruments")
        self._scroller.setWidget(self.fitted)
        box.addWidget(self._scroller, 1)
        self.more = Actions(quiet=True)
        self.more.chosen.connect(self._on_more)
        self.more.refused.connect(self.refuse)
        box.addWidget(self.more, 0, Qt.AlignmentFlag.AlignLeft)
        self.steps: AddingSteps | None = None
        self.calibrations: CalibrationsPage | None = None
        self._offer()
        if adding is not None:
            self.steps = AddingSteps(bridge, adding)
            self.steps.hide()
            self.steps.told.connect(self.told)
            self.steps.ended.connect(self._show_fitted)
            box.addWidget(self.steps, 1)
        self.empty = label(EMPTY, "quiet", wrap=True)
        self.empty.setAlignment(Qt.AlignmentFlag.AlignTop)
        self._row.addWidget(self.empty, 1)
        self.instruments: list[Instrument] = []
        self.poll = Poll(self, self._ask, self._show, self.told.emit, REFRESH_MS)

    def _ask(self) -> tuple[InstrumentView, ...]:
        return self._bridge.port.instruments()

    def _show(self, views: tuple[InstrumentView, ...]) -> None:
        while len(self.instruments) < len(views):
            panel = Instrument(self)
            panel.chosen.connect(self._on_chosen)
            panel.refused.connect(self.refuse)
            panel.wanted.connect(self.wanted)
            self.instruments.append(panel)
            self._row.addWidget(panel, 1)
        for count, panel in enumerate(self.instruments):
            if count < len(views):
                panel.show_instrument(views[count])
            panel.setVisible(count < len(views))
            panel.setMinimumWidth(text_scale.px(LEAST_PX) if len(views) > SIDE_BY_SIDE else 0)
        self.empty.setVisible(not views)

    def callouts(self) -> tuple[Callout, ...]:
        """Explain the first instrument; the others are alike."""
        if self.calibrations is not None and self.calibrations.isVisible():
            return self.calibrations.callouts()
        if not self.instruments:
            return ()
        first = self.instruments[0]
        return (
            (first.reading, "the reading, how sound and how old it is"),
            (first.link, "how it is connected"),
            (first.scroller, "calibration, checks, and the last frames as they came"),
            (first.action_bar, "checks that are signed and kept"),
            (first.recall, "the units that rest on it, for a recall"),
        )

    def press_key(self, key: str) -> bool:
        """Do the action on this key."""
        if self.steps is not None and self.steps.isVisible():
            return self.steps.press_key(key)
        if self.more.press_key(key):
            return True
        if self.calibrations is not None and self.calibrations.isVisible():
            return self.calibrations.press_key(key)
        return any(panel.press_key(key) for panel in self.instruments)

    def wants_scan(self) -> bool:
        """Return True where a check weight can be chosen."""
        return any(panel.isVisible() and panel.form.wants_scan() for panel in self.instruments)

    def take_scan(self, scan: str) -> bool:
        """Choose the check weight that was scanned; says whether it is offered."""
        return any(panel.form.choose_scanned(scan) for panel in self.instruments)

    def unkept(self) -> str:
        """Return that a certificate is typed and not signed."""
        page = self.calibrations
        return "a certificate that is not signed" if page is not None and page.editing else ""

    def reword(self) -> None:
        """Show the calibrations in other units."""
        if self.calibrations is not None and self.calibrations.isVisible():
            self.calibrations.reword()

    def go_to(self, place: str) -> None:
        """Show the calibrations of one instrument."""
        if self.calibrations is None or not self.calibrations.isVisible():
            self._turn()
        assert self.calibrations is not None
        self.calibrations.go_to(place)

    def _offer(self) -> None:
        """Offer what can be done with all instruments."""
        shown = self.calibrations is not None and not self.calibrations.isHidden()
        add = (ADD,) if self._adding is not None and not shown else ()
        self.more.show_actions((*add, FITTED if shown else CALIBRATIONS, TO_SETTINGS))

    def _turn(self) -> None:
        """Show the calibrations, or what is fitted again."""
        if self.calibrations is None:
            self.calibrations = CalibrationsPage(self._bridge)
            self.calibrations.told.connect(self.told)
            self.calibrations.wanted.connect(self.wanted)
            self.calibrations.hide()
            box = self.layout()
            assert isinstance(box, QVBoxLayout)
            box.insertWidget(0, self.calibrations, 1)
        shown = self.calibrations.isVisible()
        self.calibrations.setVisible(not shown)
        self._scroller.setVisible(shown)
        self._offer()
        if shown:
            self.window().setFocus()
            self.poll.once()

    @Slot(str, object)
    def _on_more(self, action: str, _: dict[str, str]) -> None:
        if action == TO_SETTINGS.id:
            self.turned.emit(action)
        elif action in (CALIBRATIONS.id, FITTED.id):
            self._turn()
        elif self._adding is not None:
            begin = partial(self._adding.adding_act, action, {})
            self._bridge.follow(begin, self._on_begun, self.told.emit)

    def _on_begun(self, sentence: str) -> None:
        if self.steps is None:
            return
        self.told.emit(Message(sentence, Tone.GOOD))
        for part in (self._scroller, self.more):
            part.hide()
        self.steps.show()

    @Slot()
    def _show_fitted(self) -> None:
        if self.steps is None or not self.steps.isVisible():
            return
        self.steps.hide()
        for part in (self._scroller, self.more):
            part.show()
        self.window().setFocus()
        self.poll.once()

    @Slot(str, str, object)
    def _on_chosen(self, name: str, action: str, fields: dict[str, str]) -> None:
        self.told.emit(Message("Working…", Tone.QUIET))
        self._bridge.act(action, {**fields, "instrument": name}, self._on_done, self.told.emit)

    def _on_done(self, sentence: str) -> None:
        self.told.emit(Message(sentence, Tone.GOOD))
        self.poll.once()
