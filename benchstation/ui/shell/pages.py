"""The pages of the window: they give way where the height is short, and scroll before they cut."""

from PySide6.QtCore import QEvent, QObject, QSize, Qt
from PySide6.QtGui import QKeyEvent, QResizeEvent
from PySide6.QtWidgets import QFrame, QScrollArea, QStackedWidget, QWidget

from benchstation.ui.pages.page import Page
from benchstation.ui.shell.layouts import clear

CLEAR = "QScrollArea#pages { background: transparent; border: 0; } " + (
    "QWidget#clear { background: transparent; }"
)
"""The same in every theme: what is worn here would be worked out for every page."""


class Pages(QScrollArea):
    """One page at a time. It asks for no height: strip, alarms and status bar stay whole."""

    def __init__(self, parent: QWidget | None = None) -> None:
        super().__init__(parent)
        self.setWidgetResizable(True)
        self.setFrameShape(QFrame.Shape.NoFrame)
        self.setHorizontalScrollBarPolicy(Qt.ScrollBarPolicy.ScrollBarAlwaysOff)
        self.setFocusPolicy(Qt.FocusPolicy.NoFocus)
        self.setObjectName("pages")
        self.setStyleSheet(CLEAR)
        # Without a layout: one would ask for the height that the page would like to have.
        self._inner = clear()
        self.stack = QStackedWidget(self._inner)
        self.stack.setObjectName("clear")
        self.setWidget(self._inner)
        self._inner.installEventFilter(self)

    def hasHeightForWidth(self) -> bool:
        """Return False: no page needs a height of its own."""
        return False

    def sizeHint(self) -> QSize:
        """Ask for nothing."""
        return QSize(0, 0)

    def minimumSizeHint(self) -> QSize:
        """Ask for nothing."""
        return QSize(0, 0)

    def add(self, page: Page) -> None:
        """Take a page in."""
        self.stack.addWidget(page)
        page.installEventFilter(self)

    def show_page(self, page: Page) -> None:
        """Show a page that was taken in, from its top."""
        self.stack.setCurrentWidget(page)
        self.verticalScrollBar().setValue(0)
        self._fit()

    def rescale(self) -> None:
        """Ask the page anew what it needs."""
        self._fit()

    def keyPressEvent(self, event: QKeyEvent) -> None:
        """Leave every key to the window; Tab brings what it reaches into sight."""
        event.ignore()

    def resizeEvent(self, event: QResizeEvent) -> None:
        """Ask the page what it needs in the new width."""
        super().resizeEvent(event)
        self._fit()

    def eventFilter(self, watched: QObject, event: QEvent) -> bool:
        """Follow what the page needs, and give it the room there is."""
        if event.type() is QEvent.Type.Resize and watched is self._inner:
            self.stack.resize(self._inner.size())
        if event.type() is QEvent.Type.LayoutRequest and watched is self.stack.currentWidget():
            self._fit()
        return super().eventFilter(watched, event)

    def _fit(self) -> None:
        """Return page the height in which nothing is cut; what is more than there is, scrolls."""
        page = self.stack.currentWidget()
        if isinstance(page, Page):
            self._inner.setMinimumHeight(page.least_height(self.viewport().width()))
