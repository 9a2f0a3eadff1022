"""The alarm panel: one column, the worst first. It has its own place, moves and covers nothing."""

from PySide6.QtCore import Qt, Signal, Slot
from PySide6.QtGui import QResizeEvent
from PySide6.QtWidgets import QFrame, QHBoxLayout, QSizePolicy, QWidget

from benchstation.screens.model.bench import AlarmBannerView
from benchstation.ui.shell.labels import FitLabel, label, set_property, set_role, set_wash
from benchstation.ui.shell.layouts import clear, down
from benchstation.ui.shell.scroller import Scroller
from benchstation.ui.widgets.forms.fields import TextField
from benchstation.ui.widgets.readout.hold_button import HOLD_MS, HoldButton
from benchstation.ui.widgets.readout.mark import Mark

KEY = "F12"
HEADLINE_SIZES, LESSER_SIZES, LOW_SIZES = (22, 20, 18), (17, 16, 15), (14, 13, 12)
MARK_PX, EDGE_PX, GAP_PX = 34, 10, 6
SHORT_ASK = "what happened?"
ASK = "What happened, and what was done? A few words for the record, then Enter."


class Banner(QFrame):
    """One alarm: what, what to do, peak and since; held to acknowledge, with a reason if asked."""

    acknowledged = Signal(str, str)
    """Alarm id and reason."""

    def __init__(self, *, hold_ms: int = HOLD_MS, parent: QWidget | None = None) -> None:
        super().__init__(parent)
        self.shown: AlarmBannerView | None = None
        self._held, self._whole, self._low = False, True, False
        self.mark = Mark(MARK_PX, grows=False)
        self.headline = FitLabel(HEADLINE_SIZES, one_line_from=17)
        self.instruction = label("", "large", wrap=True)
        self.facts = label("", "", wrap=True)
        self.ask = label(ASK, "small", wrap=True)
        self.reason = TextField()
        self.reason.setAccessibleName(ASK)
        self.button = HoldButton(hold_ms)
        fixed = QSizePolicy(QSizePolicy.Policy.Ignored, QSizePolicy.Policy.Fixed)
        self.reason.setSizePolicy(fixed)
        self.button.setSizePolicy(fixed)
        box = down(self, (EDGE_PX, 8, EDGE_PX, 8), 4)
        first = QHBoxLayout()
        first.setSpacing(10)
        first.addWidget(self.mark, 0, Qt.AlignmentFlag.AlignTop)
        first.addWidget(self.headline, 1)
        box.addLayout(first)
        for part in (self.instruction, self.facts, self.ask, self.reason, self.button):
            box.addWidget(part)
        self.button.held.connect(self._on_held)
        self.reason.finished.connect(self._on_reason)

    def resizeEvent(self, event: QResizeEvent) -> None:
        """Fit the button to its words in the new width."""
        super().resizeEvent(event)
        self.button.fit(self.width() - 2 * EDGE_PX)

    def rescale(self) -> None:
        """Show it at the text size in force."""
        if self.shown is not None:
            self.show_alarm(self.shown, whole=self._whole, low=self._low)

    def show_alarm(self, alarm: AlarmBannerView, *, whole: bool, low: bool = False) -> None:
        """Show an alarm; what is typed as its reason stays as long as it is the same alarm.

        Where there is little height, ``low``, the facts give way, never what to do; a lesser one
        is one line then, until it is the first to hold.
        """
        if self.shown is None or self.shown.id != alarm.id:
            self._held = False
            self.reason.clear()
            self.button.forget()
        self.shown, self._whole, self._low = alarm, whole, low
        set_wash(self, alarm.tone if alarm.active else None)
        set_property(self, "outline", "" if alarm.active else str(alarm.tone))
        self.mark.set_tone(alarm.tone)
        self.headline.set_sizes(LOW_SIZES if low else HEADLINE_SIZES if whole else LESSER_SIZES)
        self.headline.show_text(alarm.headline)
        facts = [part for part in (alarm.peak, alarm.since) if part]
        self.facts.setText("   ".join(facts))
        self.facts.setVisible(bool(facts) and not low)
        set_role(self.instruction, "large" if whole and not low else "")
        self.instruction.setText(alarm.instruction)
        line = not whole and low
        self.instruction.setVisible(not line)
        holdable = bool(alarm.hold_label) and not line
        self.button.setVisible(holdable)
        asks = holdable and alarm.needs_reason
        self.ask.setVisible(asks and not low)
        self.reason.setVisible(asks)
        self.reason.setPlaceholderText(SHORT_ASK if low else "")
        if holdable:
            key = f"   ({KEY})" if whole else ""
            self.button.show_text(f"{alarm.hold_label}{key}", alarm.tone)
            self.button.fit(self.width() - 2 * EDGE_PX)
        else:
            self._held = False
        kind = "alarm" if alarm.active else "alarm, back to normal"
        self.setAccessibleName(f"{kind}: {alarm.headline}")

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
        self.setObjectName("clear")
        self._hold_ms = hold_ms
        inner = clear()
        self._box = down(inner, spacing=GAP_PX)
        self._box.addStretch(1)
        self.scroller = Scroller(inner, "alarms", focus=Qt.FocusPolicy.NoFocus)
        down(self).addWidget(self.scroller)
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
        self.setVisible(bool(alarms))
        self._fit()
        return any(
            (alarm.id, True) not in known
            and (bool(alarm.hold_label) or (alarm.id, False) not in known)
            for alarm in alarms
        )

    @property
    def any(self) -> bool:
        """Return True while there is an alarm."""
        return bool(self._shown)

    def resizeEvent(self, event: QResizeEvent) -> None:
        """Show what there is height for."""
        super().resizeEvent(event)
        self._fit()

    def rescale(self) -> None:
        """Show what there is height for at the text size in force."""
        self._fit()

    def _fit(self) -> None:
        """Show all alarms whole where they stand so, else the lesser ones as a line each."""
        self._show_all(low=False)
        if self._shown and self._need() > self.height():
            self._show_all(low=True)

    def _need(self) -> int:
        """Return the height that the alarms take in this width."""
        width = max(1, self.width() - 4)
        layouts = [b.layout() for b in self.banners[: len(self._shown)]]
        high = sum(x.totalHeightForWidth(width) for x in layouts if x is not None)
        return high + GAP_PX * (len(layouts) - 1)

    def _show_all(self, *, low: bool) -> None:
        first = self._first(self._shown)
        for count, banner in enumerate(self.banners):
            if count < len(self._shown):
                banner.show_alarm(self._shown[count], whole=count == first, low=low)
            banner.setVisible(count < len(self._shown))

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
