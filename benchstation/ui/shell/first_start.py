"""The window of the first start: one question a screen, help on F1, and the end leads on."""

from PySide6.QtCore import Qt, Signal, Slot
from PySide6.QtGui import QCloseEvent, QKeyEvent
from PySide6.QtWidgets import QStackedWidget, QWidget

from benchstation.screens.model.elements import ActionView
from benchstation.screens.model.onboarding import OnboardingService
from benchstation.ui.pages.page import Page
from benchstation.ui.shell.bridge import Answers
from benchstation.ui.shell.keys import key_name
from benchstation.ui.shell.layouts import down
from benchstation.ui.shell.status_bar import StatusBar
from benchstation.ui.shell.theme import DARK, LIGHT, Palette, style_sheet
from benchstation.ui.widgets.forms.onboarding_steps import AddingSteps
from benchstation.ui.widgets.readout.action_button import same_key

HELP, THEME = ActionView("help", "Help", "F1"), ActionView("theme", "Theme", "F9")
LEAST_SIZE = (1180, 720)
TOPIC = "instruments"


class FirstStartWindow(QWidget):
    """Shows what ``port`` asks until it asks no more."""

    closed = Signal()

    def __init__(self, port: OnboardingService, *, dark: bool = True) -> None:
        super().__init__()
        self.setObjectName("ground")
        self.setWindowTitle("Bench station")
        self.setMinimumSize(*LEAST_SIZE)
        self.setFocusPolicy(Qt.FocusPolicy.StrongFocus)
        self.theme: Palette = DARK if dark else LIGHT
        self.answers = Answers(self)
        self.steps = AddingSteps(self.answers, port)
        self.pages = QStackedWidget()
        self.pages.addWidget(self.steps)
        self.status_bar = StatusBar((), (HELP, THEME))
        self.status_bar.show_all_over(self.pages)
        inside = down(margins=(12, 12, 12, 0))
        inside.addWidget(self.pages)
        box = down(self, spacing=0)
        box.addLayout(inside, 1)
        box.addWidget(self.status_bar)
        self.setStyleSheet(style_sheet(self.theme))
        self.status_bar.pressed.connect(self.switch)
        self.steps.told.connect(self.status_bar.line.tell)
        self.steps.went_on.connect(self.status_bar.line.clear)
        self.steps.ended.connect(self.close)

    @Slot(str)
    def switch(self, name: str) -> None:
        """Turn the theme, or show the help and go back from it."""
        if name == THEME.id:
            self.theme = LIGHT if self.theme is DARK else DARK
            self.setStyleSheet(style_sheet(self.theme))
        elif self.pages.currentWidget() is not self.steps:
            self.pages.setCurrentWidget(self.steps)
        else:
            self._show_help()

    def _show_help(self) -> None:
        from benchstation.ui.pages.help import HelpPage

        if self.pages.count() == 1:
            self.pages.addWidget(HelpPage())
        page = self.pages.widget(1)
        assert isinstance(page, HelpPage)
        self.pages.setCurrentWidget(page)
        page.show_topic(TOPIC)

    def keyPressEvent(self, event: QKeyEvent) -> None:
        """Take the keys that no field wanted."""
        if event.isAutoRepeat():
            return
        key = key_name(event)
        for action in (HELP, THEME):
            if same_key(key, action.key):
                self.switch(action.id)
                return
        if self.status_bar.press_key(key):
            return
        page = self.pages.currentWidget()
        assert isinstance(page, AddingSteps | Page)
        if not page.press_key(key) and same_key(key, "Esc"):
            self.status_bar.line.clear()

    def closeEvent(self, event: QCloseEvent) -> None:
        """Ask no more."""
        self.answers.close()
        event.accept()
        self.closed.emit()
