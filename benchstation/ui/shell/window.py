"""The window: the guard strip on top of every page, the page beside the alarms, the status bar."""

import importlib
import time
from collections.abc import Callable, Mapping
from dataclasses import replace
from functools import partial

from PySide6.QtCore import QEvent, Qt, QTimer, Signal, Slot
from PySide6.QtGui import (
    QCloseEvent,
    QColor,
    QKeyEvent,
    QPainter,
    QPaintEvent,
)
from PySide6.QtWidgets import (
    QApplication,
    QVBoxLayout,
    QWidget,
)

from benchstation.screens.model.bench import BenchView, DisplayPreferences
from benchstation.screens.model.elements import TEXTS, ActionView, Tone
from benchstation.screens.model.onboarding import OnboardingService
from benchstation.screens.model.service import DemoHand, StationService
from benchstation.ui.pages.bench import BenchPage
from benchstation.ui.pages.page import Page
from benchstation.ui.shell import text_scale
from benchstation.ui.shell.bridge import Bridge, Message, without_trust
from benchstation.ui.shell.closing import Closing
from benchstation.ui.shell.keys import key_name
from benchstation.ui.shell.layouts import across
from benchstation.ui.shell.page_maker import make_page
from benchstation.ui.shell.page_names import BY_KEY, BY_KEY_OF_SHOP, PAGES, PageNames
from benchstation.ui.shell.pages import Pages
from benchstation.ui.shell.pedal import Pedal
from benchstation.ui.shell.preferences import PreferenceControls, PreferencesKeeper
from benchstation.ui.shell.scans import Scans
from benchstation.ui.shell.sheets import Sheets
from benchstation.ui.shell.sound import Choice, Sounder, listen_for_alarms
from benchstation.ui.shell.status_bar import StatusBar
from benchstation.ui.shell.theme import DARK, LIGHT, Palette
from benchstation.ui.shell.turn import Announcer
from benchstation.ui.widgets.drawings.picture import Picture, picture_of
from benchstation.ui.widgets.readout import alarm_banner
from benchstation.ui.widgets.readout.action_button import same_key
from benchstation.ui.widgets.readout.actions import Actions
from benchstation.ui.widgets.readout.alarm_banner import Banners
from benchstation.ui.widgets.readout.grid import GAP_PX, grid_of
from benchstation.ui.widgets.readout.hold_button import HOLD_MS
from benchstation.ui.widgets.readout.instrument_bar import InstrumentBar

LEAST_SIZE = (1180, 720)
HELP = ("help", "F1")
WRONG = (Tone.CAUTION, Tone.DANGER)
"""The tones of what is wrong: it stands where it is to be put right, not in the status bar."""
LET_GO_MS = 90
HELD_TEXT_MS = 200
TEXT_STEPS = (("Ctrl++", 1), ("Ctrl+=", 1), ("Ctrl+-", -1), ("Ctrl+0", 0))
"""Keys of the text size; the equals sign is the plus key without Shift."""
SOUND, THEME, DEMO = ("sound", "F8"), ("theme", "F9"), ("demo", "F10")
MUTE = ("mute", "Shift+F12")


class Window(QWidget):
    """The bench station's one window."""

    closed = Signal()

    def __init__(
        self,
        port: StationService,
        *,
        demo_hand: DemoHand | None = None,
        adding: OnboardingService | None = None,
        dark: bool = True,
        text_percent: int = 100,
        pedal_key: str = "",
        pages: PageNames = PAGES,
        hold_ms: int = HOLD_MS,
        on_close: Callable[[], None] | None = None,
    ) -> None:
        super().__init__()
        text_scale.choose(text_percent)
        self.setObjectName("ground")
        self.setWindowTitle("Bench station")
        self.setMinimumSize(*LEAST_SIZE)
        self.setFocusPolicy(Qt.FocusPolicy.StrongFocus)
        self.theme: Palette = DARK if dark else LIGHT
        self._on_close, self._adding, self._listed = on_close, adding, pages
        self.view: BenchView | None = None
        self._said = self._who = self._at = ""
        self._barred: Mapping[str, str] = {}
        self._before_help = "bench"
        self._pedal_key, self._pedal = pedal_key, Pedal()
        self._letting_go = QTimer(self)
        self._letting_go.setSingleShot(True)
        self._letting_go.setInterval(LET_GO_MS)
        self._letting_go.timeout.connect(self._let_go_of_alarms)
        self._closing = Closing(self.switch, self.tell)
        self.bridge = Bridge(port, self)
        self.sounder = Sounder(self)
        self.scans = Scans(self)
        self.preferences = PreferencesKeeper(
            self.bridge, PreferenceControls(self._preferred, self._prefer), self.tell
        )
        self._leaving, self._holds_text, self._lost = "", False, False
        self._looking_for_text = QTimer(self)
        self._looking_for_text.setInterval(HELD_TEXT_MS)
        self._looking_for_text.timeout.connect(self._tell_held_text)
        self._display = port.display
        self.strip = InstrumentBar()
        self.banners = Banners(hold_ms=hold_ms, parent=self)
        self.pages = Pages()
        self.bench = BenchPage(self.bridge, demo_hand)
        self.pages.add(self.bench)
        self._announcer = Announcer(self.banners, self.bench.task.primary_readout)
        self.made: dict[str, Page] = {"bench": self.bench}
        """The pages that were asked for so far, by name."""
        self.page = "bench"
        self.status_bar = StatusBar(
            tuple(ActionView(name, title, key) for name, title, key in pages),
            self._switches(demo_hand is not None),
        )
        self.status_bar.show_if_any(MUTE[0], None)
        self.status_bar.show_all_over(self.pages)
        self._box = box = QVBoxLayout(self)
        box.setContentsMargins(0, 0, 0, 0)
        box.setSpacing(0)
        box.addWidget(self.strip)
        self._beside = across(spacing=0)
        self._beside.addWidget(self.pages, 1)
        box.addLayout(self._beside, 1)
        box.addWidget(self.status_bar)
        self._sheets = Sheets()
        self._dress()
        self._mark_page()
        self.bridge.seen.connect(self._on_seen)
        self.bridge.lost.connect(self._on_lost)
        self.bench.told.connect(self.tell)
        self.bench.searched.connect(self._to_records)
        self.banners.acknowledged.connect(self._on_acknowledged)
        self.status_bar.pressed.connect(self.switch)
        self.sounder.changed.connect(self._on_sound)
        listen_for_alarms(self.sounder, port)
        self.scans.scanned.connect(self._on_scan)
        self.scans.written.connect(self._on_written)
        self.scans.stirred.connect(port.stir)

    def start(self) -> None:
        """Show the present moment and keep it so."""
        # Without this the first thing that Tab can reach would take the keys of the page.
        self.setFocus()
        self.scans.watch()
        self._looking_for_text.start()
        self.bridge.start()
        if self.bench.demo is not None:
            self.bench.demo.past_bar.opened.connect(self.close)
            self.bench.demo.stand_beside(self)

    @Slot()
    def get_ready(self) -> None:
        """Load what the first trace will need, so that it does not come late in a pour."""
        importlib.import_module("benchstation.ui.widgets.plots.trace")

    def is_quiet(self) -> bool:
        """Return True when nothing is going on that a pause would disturb."""
        view = self.view
        return view is None or not (view.alarms or view.task.urge > 0 or view.task.trace)

    @Slot(object)
    def _on_seen(self, view: BenchView) -> None:
        self.view = view
        if self._lost:
            # What did not hold holds again: its words do not outlive it.
            self._lost = False
            self._drop_refusal()
        self._show(view)

    def _show(self, view: BenchView) -> None:
        if view.who != self._who:
            self._who = view.who
            self._drop_refusal()
            # A reason that one has begun is not sent by another.
            for bar in self.findChildren(Actions):
                bar.stop_asking()
            for page in self.made.values():
                page.show_person(view.who)
            if view.day_open and self.page == "bench":
                self.switch("day")
        if view.barred != self._barred:
            self._barred = view.barred
            for bar in self.findChildren(Actions):
                bar.show_barred(view.barred)
        at = view.serial + view.task.step_id
        if view.said and view.said != self._said:
            self.tell(Message(view.said, view.said_tone))
        elif at != self._at and view.said_tone in WRONG:
            # What went wrong at a step does not outlive it.
            self.status_bar.line.clear()
        self._said, self._at = view.said, at
        self._show_leaving(view.leaving)
        self.preferences.follow(view)
        self._tell_held_text()
        if self._display is not self.bridge.port.display:
            self._display = self.bridge.port.display
            for page in self.made.values():
                page.reword()
        self.strip.show_view(view)
        new = self.banners.show_alarms(view.alarms)
        self._put_alarms()
        if new:
            # An alarm is on screen before anything else happens.
            self.status_bar.hide_all()
            self.bench.drawer.shut()
            self._box.activate()
            self.banners.repaint()
            QApplication.alert(self)
            self._announcer.announce(view.alarms)
        if self.page == "bench":
            self.bench.show_view(view)
        self._announcer.announce_turn(view)
        self.status_bar.show_if_any(MUTE[0], view.mute)
        self.sounder.update_tones(view.task.urge, alarm=view.rings)

    def _put_alarms(self) -> None:
        """Put the alarms into the bench's right column, or beside another page."""
        right = grid_of(self.width(), self.height()).right
        on_bench = self.page == "bench"
        if self.status_bar.full_message is not None:
            free = right + GAP_PX if on_bench and self.banners.any else 0
            self.status_bar.full_message.keep_free(free)
        if on_bench:
            self._beside.removeWidget(self.banners)
            self.bench.take_alarms(self.banners, shown=self.banners.any)
            return
        self.bench.take_alarms(None)
        self._beside.addWidget(self.banners)
        self.banners.setFixedWidth(right)
        self.banners.setVisible(self.banners.any)

    def _show_leaving(self, words: str) -> None:
        """Warn of the signing out as long as it is near, and take the warning away after."""
        before, self._leaving = self._leaving, words
        if words and words != before:
            self.tell(Message(words, Tone.CAUTION))
        elif before and not words:
            shown = self.status_bar.line.message
            if shown is not None and shown.text == before:
                self.status_bar.line.clear()

    @Slot()
    def _tell_held_text(self) -> None:
        held = any(page.unkept() for page in self.made.values())
        if held != self._holds_text:
            self._holds_text = held
            self.bridge.port.hold_text(held)

    @Slot(str)
    def _on_scan(self, scan: str) -> None:
        """Take a scan that went to no field for a badge; what is none may be the page's."""
        if self.made[self.page].wants_scan():
            fields = {"badge": scan, "or": "the page's"}
            self.bridge.act("badge", fields, partial(self._on_known, scan), self.tell)
        else:
            self.bridge.act("badge", {"badge": scan}, self._on_told, self.tell)

    def _on_known(self, scan: str, sentence: str) -> None:
        if sentence:
            self._on_told(sentence)
        elif self.made[self.page].take_scan(scan):
            self.tell(Message(f"Scanned {scan}.", Tone.GOOD))

    @Slot(str)
    def _on_written(self, scan: str) -> None:
        """Ask whether a burst in a text is somebody's badge before it stays there."""
        fields = {"badge": scan, "or": TEXTS}
        known = partial(self._on_text_known, scan)
        self.bridge.act("badge", fields, known, self._on_text_refused)

    def _on_text_known(self, scan: str, sentence: str) -> None:
        self.scans.settle(is_text=not sentence and not self.made[self.page].chooses(scan))
        if sentence:
            self._on_told(sentence)

    def _on_text_refused(self, message: Message) -> None:
        self.scans.settle(is_text=False)
        self.tell(message)

    @Slot(str)
    def _on_lost(self, why: str) -> None:
        self._lost = True
        self.tell(Message(f"The readings no longer hold. {why}", Tone.DANGER))
        if self.view is not None:
            alarms = self.bridge.port.alarms()
            self._show(replace(without_trust(self.view, "not known now"), alarms=alarms))
        self.sounder.update_tones(0.0, alarm=True)

    @Slot(object)
    def tell(self, message: Message) -> None:
        """Show in the status bar what happened, and on the page what is wrong.

        The bench knows best what its own sentence means.
        """
        if self.view is not None and message.text in (self.view.said, self._leaving):
            happened = message.text == self.view.said
            tone = self.view.said_tone if happened else message.tone
            self.status_bar.line.tell(Message(message.text, tone))
        elif message.tone in WRONG:
            self.status_bar.line.clear()
            self.made[self.page].show_wrong(message)
        else:
            if self.page != "bench":
                self.made[self.page].forgive()
            self.status_bar.line.tell(message)

    @Slot(str, str)
    def _on_acknowledged(self, alarm: str, reason: str) -> None:
        self.bridge.follow(
            lambda: self.bridge.port.acknowledge(alarm, reason), self._on_told, self.tell
        )

    def _mute(self) -> None:
        """Mute through the bench, which puts it on record; where nothing rings, do nothing."""
        if self.view is not None and self.view.mute is not None:
            self.bridge.act(MUTE[0], {}, self._on_told, self.tell)

    def _on_told(self, sentence: str) -> None:
        self.tell(Message(sentence, Tone.GOOD))
        self.bridge.refresh()

    # --- pages and switches --------------------------------------------------------------------

    @Slot(str)
    def switch(self, name: str) -> None:
        """Go to a page, or turn a switch."""
        if name == "theme":
            self.set_theme(LIGHT if self.theme is DARK else DARK)
        elif name == "sound":
            self.sounder.next_choice()
        elif name == MUTE[0]:
            self._mute()
        elif name == HELP[0]:
            self.show_help()
        elif name == "demo":
            demo = self.bench.demo
            if demo is not None:
                demo.setVisible(not demo.isVisible())
        else:
            self._go(name)

    def _drop_refusal(self) -> None:
        """Take away what was refused to another person or on another page."""
        self.made[self.page].forgive()

    def _go(self, name: str) -> None:
        if name != self.page:
            self._drop_refusal()
        if name not in self.made:
            self.made[name] = self._make(name)
            self.pages.add(self.made[name])
            for bar in self.made[name].findChildren(Actions):
                bar.show_barred(self._barred)
            self.made[name].show_person(self._who)
        self.page = name
        self._sheets.dress(self.made[name])
        self._put_alarms()
        self.pages.show_page(self.made[name])
        self._mark_page()
        if self.view is not None and name == "bench":
            self.bench.show_view(self.view)
            keyboard = self.focusWidget()
            if keyboard is None or not self.bench.isAncestorOf(keyboard):
                # Else what is typed next goes nowhere: the step was begun on another page.
                self.bench.task.begin()

    def _make(self, name: str) -> Page:
        page = make_page(name, self.bridge, self._adding, self._picture_of)
        page.told.connect(self.tell)
        for signal, does in (
            ("to_bench", self._to_bench),
            ("wanted", self._to_records),
            ("turned", self.switch),
            ("leads", self._to_place),
        ):
            if (there := getattr(page, signal, None)) is not None:
                there.connect(does)
        return page

    @Slot()
    def _to_bench(self) -> None:
        self._go("bench")
        # The page that goes would hand its keyboard to whatever comes next.
        self.bench.task.begin()

    @Slot(str)
    def _to_records(self, words: str) -> None:
        """Go to Records and search for these words."""
        self._go("records")
        self.made["records"].search_for(words)  # type: ignore[attr-defined]

    @Slot(str, str)
    def _to_place(self, page: str, place: str) -> None:
        """Go to a page and to what stands there: a search of the records, or a row."""
        if page == "records":
            self._to_records(place)
            return
        self._go(page)
        self.made[page].go_to(place)

    def _picture_of(self, name: str, width: int) -> Picture | None:
        """Draw a page that has been seen; the help has text alone about one that has not."""
        page = self.made.get(name)
        return None if page is None else picture_of(page, page.callouts(), width)

    def _draw_help_anew(self) -> None:
        page = self.made.get(HELP[0])
        if page is not None and self.page == HELP[0]:
            page.show_topic(page.topic)  # type: ignore[attr-defined]

    def _mark_page(self) -> None:
        for name, title, key in self._listed:
            self.status_bar.show_switch(ActionView(name, title, key, primary=name == self.page))

    def _switches(self, demo: bool) -> tuple[ActionView, ...]:
        shown = [
            ActionView(MUTE[0], "Mute", MUTE[1]),
            ActionView(HELP[0], "Help", HELP[1]),
            ActionView(*SOUND[:1], self.sounder.words, SOUND[1]),
        ]
        shown.append(ActionView(THEME[0], "Theme", THEME[1]))
        if demo:
            shown.insert(0, ActionView(DEMO[0], "Hand", DEMO[1]))
        return tuple(shown)

    @Slot()
    def _on_sound(self) -> None:
        self.status_bar.show_switch(ActionView(SOUND[0], self.sounder.words, SOUND[1]))

    def set_theme(self, palette: Palette) -> None:
        """Take on another light."""
        self.theme = palette
        self._dress()
        self.update()
        self._draw_help_anew()

    def _dress(self) -> None:
        """Put the theme on what is shown; a page that is not takes it when it comes."""
        bar, page = self.status_bar, self.made[self.page]
        over = (self.pages.verticalScrollBar(), bar.full_message, self.bench.demo)
        self._sheets.change(self.theme, (self.strip, self.banners, bar, *over, page))

    def _preferred(self) -> DisplayPreferences:
        """Return how the window looks and sounds now."""
        return DisplayPreferences(
            "", self.theme.name, text_scale.percent(), self.sounder.choice is Choice.ALL
        )

    def _prefer(self, chosen: DisplayPreferences) -> None:
        """Show and sound what was chosen."""
        self.set_theme(LIGHT if chosen.theme == LIGHT.name else DARK)
        if chosen.pour_tone != self._preferred().pour_tone:
            self.sounder.choose(Choice.ALL if chosen.pour_tone else Choice.ALARMS)
        if chosen.text_scale != text_scale.percent():
            self.set_text_size(chosen.text_scale)

    def set_text_size(self, percent: int) -> None:
        """Take on another text size, in every page that is made."""
        text_scale.choose(percent)
        self._dress()
        text_scale.rescale_all(self.findChildren(QWidget))
        if self.view is not None:
            self._show(self.view)
        self._draw_help_anew()
        self.tell(Message(f"Text at {text_scale.percent()} %.", Tone.GOOD))

    # --- keys ----------------------------------------------------------------------------------

    def keyPressEvent(self, event: QKeyEvent) -> None:
        """Take the keys that no field wanted: those typed into a field never come here."""
        if event.isAutoRepeat():
            return
        key = key_name(event)
        if same_key(key, self._pedal_key):
            self._step_on_pedal()
        else:
            self._press(key)

    def _press(self, key: str) -> None:
        if same_key(key, alarm_banner.KEY):
            # Some systems send a release between repeats of a key that is held.
            self._letting_go.stop()
            if (button := self.banners.to_hold) is not None:
                button.press()
            return
        if same_key(key, HELP[1]):
            self.show_help()
            return
        if self.status_bar.press_key(key):
            return
        by_key = BY_KEY if self._listed is PAGES else BY_KEY_OF_SHOP
        pages = ((name, its_key) for name, _, its_key in (*self._listed, *by_key))
        for name, wanted in (*pages, SOUND, THEME, DEMO, MUTE):
            if same_key(key, wanted):
                self.switch(name)
                return
        for wanted, step in TEXT_STEPS:
            if same_key(key, wanted):
                self.set_text_size(text_scale.stepped(step) if step else text_scale.PERCENTS[0])
                return
        demo = self.bench.demo
        if demo is not None and demo.press_key(key):
            return
        if self.made[self.page].press_key(key):
            return
        if same_key(key, "Esc"):
            self.made[self.page].forgive()
            self.status_bar.line.clear()

    def keyReleaseEvent(self, event: QKeyEvent) -> None:
        """End what is done only while a key is held."""
        if event.isAutoRepeat():
            return
        key = key_name(event)
        if same_key(key, self._pedal_key):
            self._pedal.release()
        elif same_key(key, alarm_banner.KEY):
            self._letting_go.start()
        elif self.bench.demo is not None:
            self.bench.demo.release_key(key)

    def _step_on_pedal(self) -> None:
        """Do the primary action of the step that is seen, once, and nothing unseen."""
        if not self._pedal.press(time.monotonic()):
            return
        if self.page != "bench":
            self.tell(Message("The pedal does the step's action: go to Bench (F2).", Tone.CAUTION))
        elif self._holds_typing():
            self.tell(Message("Finish what is being typed before the pedal.", Tone.CAUTION))
        else:
            self.bench.step_on_pedal()

    def _holds_typing(self) -> bool:
        """Return True while a PIN or a text outside the step's own form is being typed."""
        reasons = [banner.reason for banner in self.banners.banners]
        begun = any(field.isVisible() and field.text().strip() for field in reasons)
        return begun or self.bench.task.action_bar.asking or self.scans.pin_begun()

    @Slot()
    def show_help(self) -> None:
        """Open the help about the page that is shown; on the help itself, go back."""
        if self.page == HELP[0]:
            self.switch(self._before_help)
            return
        self._before_help = self.page
        self._go(HELP[0])
        page = self.made[HELP[0]]
        page.show_topic(self._before_help)  # type: ignore[attr-defined]

    @Slot()
    def _let_go_of_alarms(self) -> None:
        for banner in self.banners.banners:
            banner.button.release()

    def paintEvent(self, _: QPaintEvent) -> None:
        """Paint the ground; everything else stands on it."""
        QPainter(self).fillRect(self.rect(), QColor(self.theme.ground))

    def changeEvent(self, event: QEvent) -> None:
        """Release held keys when another window comes to the front."""
        super().changeEvent(event)
        if event.type() == QEvent.Type.ActivationChange and not self.isActiveWindow():
            self._let_go_of_alarms()
            self._pedal.release()
            if self.bench.demo is not None:
                self.bench.demo.let_go()

    @Slot()
    def end_session(self) -> None:
        """Close without a question from now on: the desktop's session ends."""
        self._closing.end_session()

    def closeEvent(self, event: QCloseEvent) -> None:
        """Stop timers and sound, then let the station go; but end nothing without a word."""
        unkept = [(name, page.unkept()) for name, page in self.made.items()]
        if not self._closing.may_close(self.view, unkept):
            event.ignore()
            return
        self._looking_for_text.stop()
        self.bridge.close()
        self.sounder.close()
        if self._on_close is not None:
            on_close, self._on_close = self._on_close, None
            on_close()
        event.accept()
        self.closed.emit()
