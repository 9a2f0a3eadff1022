"""Scrolls what is higher than its place, by wheel and plain arrows; other keys are the page's."""

from PySide6.QtCore import Qt
from PySide6.QtGui import QKeyEvent
from PySide6.QtWidgets import QScrollArea, QWidget


class Scroller(QScrollArea):
    """A scroller with a name; Tab reaches it unless ``focus`` says otherwise."""

    def __init__(
        self,
        inner: QWidget,
        name: str = "",
        *,
        focus: Qt.FocusPolicy = Qt.FocusPolicy.TabFocus,
        parent: QWidget | None = None,
    ) -> None:
        super().__init__(parent)
        self.setWidgetResizable(True)
        self.setHorizontalScrollBarPolicy(Qt.ScrollBarPolicy.ScrollBarAlwaysOff)
        self.setAccessibleName(name)
        self.setFocusPolicy(focus)
        self.setWidget(inner)

    def keyPressEvent(self, event: QKeyEvent) -> None:
        """Scroll by plain keys only: an arrow with Alt may be an action's."""
        if event.modifiers() & ~Qt.KeyboardModifier.KeypadModifier:
            event.ignore()
        else:
            super().keyPressEvent(event)
