"""Alarm banners: they push the page down and cover nothing. The worst is drawn whole."""

from PySide6.QtCore import Qt, Signal, Slot
from PySide6.QtWidgets import QFrame, QGridLayout, QWidget

from benchstation.screens.model.bench import AlarmBannerView
from benchstation.ui.shell.labels import FitLabel, label, set_property, set_role, set_wash
from benchstation.ui.shell.layouts import down
from benchstation.ui.shell.text_scale import px
from benchstation.ui.widgets.forms.fields import TextField
from benchstation.ui.widgets.readout.hold_button import HOLD_MS, HoldButton
from benchstation.ui.widgets.readout.mark import Mark

KEY = "F12"
HOLD_WIDTH_PX, LOW_HOLD_PX, LESSER_HOLD_PX, ROOMY_PX = 330, 400, 250, 700
"""Of the button: usually, beside the reason, and where a lesser alarm leaves little height."""
HEADLINE_SIZES, LESSER_SIZES, LOW_SIZES = (27, 23, 19), (19, 17, 16), (23, 19)
MARK_PX, SIDES_PX = 44, 40
ASK = "What happened, and what was done? A few words for the record, then Enter."


class Banner(QFrame):
    """One alarm: what, what to do, peak and since; held to acknowledge, with a reason if asked."""

    acknowledged = Signal(str, str)
    """Alarm id and reason."""

    def __init__(self, *, hold_ms: int = HOLD_MS, parent: QWidget | None = None) -> None:
        super().__init__(parent)
        self.shown: AlarmBannerView | None = None
        self._held, self._whole = False, True
        self.mark = Mark(MARK_PX, grows=False)
        self.headline = FitLabel(HEADLINE_SIZES)
        self.instruction = label("", "large", wrap=True)
        self.facts = label("", "")
        self.facts.setAlignment(Qt.AlignmentFlag.AlignRight | Qt.AlignmentFlag.AlignVCenter)
        self.reason = TextField()
        self.reason.setPlaceholderText(ASK)
        self.reason.setAccessibleName(ASK)
        self.button = HoldButton(hold_ms)
        self.button.setMinimumWidth(HOLD_WIDTH_PX)
        self._grid = QGridLayout(self)
        self._grid.setContentsMargins(14, 8, 12, 8)
        self._grid.setHorizontalSpacing(14)
        self._grid.setVerticalSpacing(4)
        self._grid.setColumnStretch(1, 1)
        self._low: bool | None = None
        self._arrange(low=False)
        self.button.held.connect(self._on_held)
        self.reason.finished.connect(self._on_reason)

    def _arrange(self, *, low: bool) -> None:
        """Put the button at the right, or where there is little height, beside the reason."""
        if low == self._low:
            return
        self._low = low
        middle = Qt.AlignmentFlag.AlignVCenter
        parts: tuple[tuple[QWidget, tuple[int, int, int, int], Qt.AlignmentFlag | None], ...]
        if low:
            parts = (
                (self.mark, (0, 0, 2, 1), middle),
                (self.headline, (0, 1, 1, 3), None),
                (self.instruction, (1, 1, 1, 3), None),
                (self.reason, (2, 0, 1, 3), None),
                (self.button, (2, 3, 1, 1), None),
            )
        else:
            parts = (
                (self.mark, (0, 0, 2, 1), middle),
                (self.headline, (0, 1, 1, 1), None),
                (self.instruction, (1, 1, 1, 1), None),
                (self.facts, (0, 2, 2, 1), middle),
                (self.button, (0, 3, 2, 1), middle),
                (self.reason, (2, 0, 1, 4), None),
            )
        for widget, place, align in parts:
            self._grid.removeWidget(widget)
            self._grid.addWidget(widget, *place, align or Qt.AlignmentFlag(0))

    def rescale(self) -> None:
        """Choose what there is height for anew."""
        if self.shown is not None:
            self.show_alarm(self.shown, whole=self._whole)

    def show_alarm(self, alarm: AlarmBannerView, *, whole: bool) -> None:
        """Show an alarm; what is typed as its reason stays as long as it is the same alarm."""
        if self.shown is None or self.shown.id != alarm.id:
            self._held = False
            self.reason.clear()
            self.button.forget()
        self.shown, self._whole = alarm, whole
        set_wash(self, alarm.tone if alarm.active else None)
        set_property(self, "outline", "" if alarm.active else str(alarm.tone))
        self.mark.set_tone(alarm.tone)
        # Where there is little height, the button takes width; the facts give way, never the
        # instruction.
        roomy = self.window().height() >= px(ROOMY_PX)
        self._arrange(low=not roomy and alarm.needs_reason)
        tight = LOW_HOLD_PX if self._low else LESSER_HOLD_PX
        self.button.setMinimumWidth(HOLD_WIDTH_PX if roomy else max(HOLD_WIDTH_PX, px(tight)))
        sizes = (LOW_SIZES if self._low else HEADLINE_SIZES) if whole else LESSER_SIZES
        self.headline.set_sizes(sizes)
        self.headline.show_text(alarm.headline)
        facts = [part for part in (alarm.peak, alarm.since) if part]
        self.facts.setText("\n".join(facts))
        self.facts.setVisible((whole or roomy) and not self._low)
        set_role(self.instruction, "large" if whole and roomy else "")
        self.instruction.setText(self._with_facts(alarm, facts) if self._low else alarm.instruction)
        # Where there is little height a lesser alarm is one line, until it is the first to hold.
        line = not whole and not roomy
        self.instruction.setVisible(not line)
        holdable = bool(alarm.hold_label) and not line
        self.button.setVisible(holdable)
        self.reason.setVisible(holdable and alarm.needs_reason)
        if holdable:
            key = f"   ({KEY})" if whole else ""
            self.button.show_text(f"{alarm.hold_label}{key}", alarm.tone)
        else:
            self._held = False
        kind = "alarm" if alarm.active else "alarm, gone back"
        self.setAccessibleName(f"{kind}: {alarm.headline}")

    def _with_facts(self, alarm: AlarmBannerView, facts: list[str]) -> str:
        """Put as many facts behind the instruction as need no other line."""
        room = self.window().width() - 2 * MARK_PX - SIDES_PX
        words = alarm.instruction
        for fact in facts:
            longer = f"{words}   {fact}"
            if self.instruction.fontMetrics().horizontalAdvance(longer) <= room:
                words = longer
        return words

    @Slot()
    def _on_held(self) -> None:
        alarm = self.shown
        if alarm is None:
            return
        if alarm.needs_reason and not self.reason.text().strip():
            self._held = True
            self.reason.setFocus(Qt.FocusReason.OtherFocusReason)
            return
        self._send()

    @Slot()
    def _on_reason(self) -> None:
        """Enter in the reason: sends it when the button was held, else asks for that."""
        if self._held and self.reason.text().strip():
            self._send()
        self.reason.clearFocus()

    def _send(self) -> None:
        if self.shown is not None:
            self._held = False
            self.acknowledged.emit(self.shown.id, self.reason.text().strip())


class Banners(QWidget):
    """All alarms, the worst first."""

    acknowledged = Signal(str, str)

    def __init__(self, *, hold_ms: int = HOLD_MS, parent: QWidget | None = None) -> None:
        super().__init__(parent)
        self._hold_ms = hold_ms
        self._box = down(self, (12, 8, 12, 0), 6)
        self.banners: list[Banner] = []
        self._shown: tuple[AlarmBannerView, ...] = ()
        self.hide()

    def show_alarms(self, alarms: tuple[AlarmBannerView, ...]) -> bool:
        """Show these alarms; says whether one is new, or is to be acknowledged anew."""
        if alarms == self._shown:
            return False
        known = {(alarm.id, bool(alarm.hold_label)) for alarm in self._shown}
        self._shown = alarms
        self._order(alarms)
        first = self._first(alarms)
        for count, banner in enumerate(self.banners):
            if count < len(alarms):
                banner.show_alarm(alarms[count], whole=count == first)
            banner.setVisible(count < len(alarms))
        self.setVisible(bool(alarms))
        return any(
            (alarm.id, True) not in known
            and (bool(alarm.hold_label) or (alarm.id, False) not in known)
            for alarm in alarms
        )

    def _order(self, alarms: tuple[AlarmBannerView, ...]) -> None:
        """Put the banners in the order of these alarms.

        Each alarm keeps its banner: what is held and typed for one is never taken for another.
        """
        ids = {alarm.id for alarm in alarms}
        own = {b.shown.id: b for b in self.banners if b.shown is not None and b.shown.id in ids}
        free = [banner for banner in self.banners if banner not in own.values()]
        ordered = []
        for place, alarm in enumerate(alarms):
            banner = own.get(alarm.id) or (free.pop(0) if free else self._add())
            if self._box.indexOf(banner) != place:
                self._box.removeWidget(banner)
                self._box.insertWidget(place, banner)
            ordered.append(banner)
        self.banners = [*ordered, *free]

    def _add(self) -> Banner:
        banner = Banner(hold_ms=self._hold_ms, parent=self)
        banner.acknowledged.connect(self.acknowledged)
        return banner

    @staticmethod
    def _first(alarms: tuple[AlarmBannerView, ...]) -> int:
        holdable = [count for count, alarm in enumerate(alarms) if alarm.hold_label]
        return holdable[0] if holdable else 0

    @property
    def to_hold(self) -> HoldButton | None:
        """Return the button that the key holds: that of the worst alarm not yet acknowledged."""
        if not self._shown:
            return None
        first = self._first(self._shown)
        return self.banners[first].button if self._shown[first].hold_label else None
