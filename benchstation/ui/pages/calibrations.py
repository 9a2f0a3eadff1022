"""Calibrations of what is fitted: in force, history with its drift, and a new one to sign."""

from collections.abc import Mapping, Sequence
from concurrent.futures import Future
from functools import partial

from PySide6.QtCore import QTimer, Signal, Slot
from PySide6.QtGui import QResizeEvent
from PySide6.QtWidgets import QVBoxLayout, QWidget

from benchstation.screens.model.elements import CurveView, TaskView, Tone
from benchstation.screens.model.instruments import EDIT, END_STUDY, WORK_OUT
from benchstation.screens.model.lists import ListDetail, ListRow
from benchstation.screens.model.records import UNITS_OF
from benchstation.ui.pages.listing import LEAVE, ListingPage
from benchstation.ui.shell.bridge import Message
from benchstation.ui.shell.layouts import clear, down
from benchstation.ui.shell.text_scale import px

CURVE_PX, TALL_PX, FOLLOW_MS = 190, 520, 400


class CalibrationsPage(ListingPage):
    """What is fitted at the left, the calibrations of one at the right."""

    name = "calibrations"
    judged_as: Mapping[str, str] = {WORK_OUT: "calibrate"}
    wanted = Signal(str)
    """Words to search the records for."""

    def _lay_out(self) -> None:
        super()._lay_out()
        self.curves = clear()
        self._curve_box = down(self.curves)
        self.column.addWidget(self.curves)
        self.curves.hide()
        # A short window has no room for it below the figures: there it scrolls with them.
        inner = self.terms.parentWidget()
        layout = inner.layout() if inner is not None else None
        assert isinstance(layout, QVBoxLayout)
        self._scrolled = layout
        self._plot: QWidget | None = None
        # A run goes on by itself: what it waits for is asked while it is seen.
        self._follow = QTimer(self)
        self._follow.setInterval(FOLLOW_MS)
        self._follow.timeout.connect(self._follow_run)
        self._follow.start()

    def resizeEvent(self, event: QResizeEvent) -> None:
        """Place the drift below the figures where there is room, else among them."""
        super().resizeEvent(event)
        tall = self.height() >= px(TALL_PX)
        column = self.column if tall else self._scrolled
        if column.indexOf(self.curves) < 0:
            column.insertWidget(column.count() if tall else 1, self.curves)

    def fetch_rows(self) -> Future[Sequence[ListRow]]:
        """Ask for everything that is fitted."""
        return self._bridge.port.calibrations()

    def fetch(self, key: str) -> Future[ListDetail]:
        """Ask for one instrument."""
        return self._bridge.port.open_calibration(key)

    def do(self, action: str, fields: dict[str, str]) -> None:
        """Work a certificate out, or have the bench put it on record."""
        if action == WORK_OUT:
            self._begin()
            work_out = partial(self._bridge.port.work_out_calibration, fields)
            self._bridge.follow(work_out, self._on_worked_out, self._on_failed)
        elif action == LEAVE:
            self._ask()
        elif action == UNITS_OF and self.opened is not None:
            self.wanted.emit(self.opened.row.key)
        else:
            super().do(action, fields)

    def _on_worked_out(self, detail: ListDetail) -> None:
        self._busy = False
        self.told.emit(
            Message("Calculated, nothing is written yet: review it, then sign.", Tone.GOOD)
        )
        self.opened = detail
        self.close_form()

    def show_detail(self, detail: ListDetail) -> None:
        """Show what is open, with its drift where there is a history."""
        super().show_detail(detail)
        if self.form_open is None:
            self._show_curves(detail.curves)

    def _open_form(self, task: TaskView) -> None:
        self.curves.hide()
        super()._open_form(task)

    def _show_curves(self, views: Sequence[CurveView]) -> None:
        self.curves.setVisible(bool(views))
        if not views:
            return
        # Imported here: the plotting library takes half a second.
        from benchstation.ui.widgets.plots.curves import Curves

        if self._plot is None:
            self._plot = Curves(self)
            self._plot.setFixedHeight(px(CURVE_PX))
            self._curve_box.addWidget(self._plot)
        assert isinstance(self._plot, Curves)
        self._plot.show_curves(views[0])

    @Slot()
    def _follow_run(self) -> None:
        opened = self.opened
        runs = opened is not None and any(a.id == END_STUDY for a in opened.actions)
        if runs and self.isVisible() and self.form_open is None:
            self._ask()

    @property
    def editing(self) -> bool:
        """Return True while a form is open or a worked-out certificate waits to be signed."""
        opened = self.opened
        return self.form_open is not None or (opened is not None and EDIT in opened.forms)
