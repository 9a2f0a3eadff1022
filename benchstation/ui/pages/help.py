"""Help about the page that is open, and about the computation; our own text, kept as Markdown."""

import re
from collections.abc import Callable
from functools import cache
from importlib.resources import files

from PySide6.QtCore import Qt, QTimer, QUrl, Slot
from PySide6.QtGui import QResizeEvent
from PySide6.QtWidgets import QTextBrowser, QWidget

from benchstation.screens.model.elements import ActionView
from benchstation.ui.pages.page import Page
from benchstation.ui.shell.labels import set_role
from benchstation.ui.shell.layouts import across, clear, down
from benchstation.ui.shell.scroller import Scroller
from benchstation.ui.shell.text_scale import px
from benchstation.ui.widgets.drawings.picture import Picture
from benchstation.ui.widgets.readout.actions import Actions

TOPICS = (
    "bench",
    "day",
    "queue",
    "records",
    "quality",
    "specifications",
    "instruments",
    "devices",
    "profiles",
    "drivers",
    "people",
    "materials",
    "settings",
    "set-up",
    "yardsticks",
    "computation",
)
KEYS = "1234567890ABCDEF"
"""One for each topic."""
PICTURE, PICTURE_SHARE, LEAST_PICTURE_PX = "picture:page", 0.62, 480
WIDEST_PX = 1150
"""Of a line of text: about 120 letters, more lose the eye on its way back."""


@cache
def help_text(topic: str) -> str:
    """Return a topic's text; the computation when there is none of that name."""
    name = topic if topic in TOPICS else TOPICS[-1]
    text = (files("resources") / "help" / f"{name}.md").read_text("utf-8")
    return re.sub(r"```(?:worked|profile|request)\b", "```", text)


class HelpText(QTextBrowser):
    """The text, and below its heading the picture with a list of what its numbers are."""

    def __init__(self, parent: QWidget | None = None) -> None:
        super().__init__(parent)
        self.picture: Picture | None = None

    def show_help(self, text: str, picture: Picture | None) -> None:
        """Show a topic from its beginning."""
        self.picture = picture
        if picture is not None:
            numbers = "\n".join(f"{n}. {words}" for n, words in enumerate(picture.words, 1))
            head, _, rest = text.partition("\n")
            text = f"{head}\n\n![the page, numbered as below]({PICTURE})\n\n{numbers}\n\n{rest}"
        self.setMarkdown(text)

    def rescale(self) -> None:
        """Break lines before they are too long to be read."""
        mode = QTextBrowser.LineWrapMode
        wide = self.viewport().width() > px(WIDEST_PX)
        self.setLineWrapMode(mode.FixedPixelWidth if wide else mode.WidgetWidth)
        if wide:
            self.setLineWrapColumnOrWidth(px(WIDEST_PX))

    def resizeEvent(self, event: QResizeEvent) -> None:
        """Break lines anew."""
        super().resizeEvent(event)
        self.rescale()

    def loadResource(self, kind: int, name: QUrl | str) -> object:
        """Return the picture; nothing else is ever loaded."""
        return self.picture.pixmap if self.picture is not None else None


class HelpPage(Page):
    """Topics at the left, the text at the right; arrows and Page keys scroll it."""

    def __init__(
        self,
        picture: Callable[[str, int], Picture | None] = lambda topic, width: None,
        parent: QWidget | None = None,
    ) -> None:
        super().__init__(parent)
        self.topic = ""
        self._picture = picture
        row = across(self, (12, 10, 12, 0), 10)
        self.topics = Actions(columns=1, quiet=True)
        inner = clear()
        left = down(inner)
        left.addWidget(self.topics)
        left.addStretch(1)
        self.text = HelpText()
        set_role(self.text, "panel")
        self.text.setOpenLinks(False)
        self.text.setFocusPolicy(Qt.FocusPolicy.StrongFocus)
        self._scroller = Scroller(inner, "topics")
        row.addWidget(self._scroller, 1)
        row.addWidget(self.text, 5)
        self.topics.chosen.connect(self._on_chosen)

    def show_topic(self, topic: str) -> None:
        """Show a topic from its beginning."""
        # Anew each time: the picture is of the page as it is now, in this light and size.
        self.topic = topic
        self.text.show_help(help_text(topic), self._picture(topic, self._picture_width()))
        self.text.setAccessibleName(f"help: {topic}")
        self.topics.show_actions(
            tuple(
                ActionView(name, name.capitalize(), key, primary=name == topic)
                for key, name in zip(KEYS, TOPICS, strict=True)
            )
        )
        # After the buttons have their places.
        QTimer.singleShot(0, self._show_chosen)
        self.text.setFocus(Qt.FocusReason.OtherFocusReason)

    @Slot()
    def _show_chosen(self) -> None:
        """Scroll the topics to the one that is shown."""
        for button in self.topics.buttons:
            if button.action.id == self.topic:
                self._scroller.ensureWidgetVisible(button)

    def _picture_width(self) -> int:
        return max(LEAST_PICTURE_PX, round(PICTURE_SHARE * self.width()))

    def press_key(self, key: str) -> bool:
        """Choose a topic."""
        return self.topics.press_key(key)

    @Slot(str, object)
    def _on_chosen(self, topic: str, _: dict[str, str]) -> None:
        self.show_topic(topic)
