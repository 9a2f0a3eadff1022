"""Help about the page that is open, and about the computation; our own text, kept as Markdown."""

from functools import cache
from importlib.resources import files

from PySide6.QtCore import Qt, Slot
from PySide6.QtWidgets import QHBoxLayout, QTextBrowser, QVBoxLayout, QWidget

from benchstation.bench_view import ActionView
from benchstation.ui.pages.page import Page
from benchstation.ui.widgets.actions import Actions
from benchstation.ui.widgets.labels import set_role

TOPICS = (
    "bench",
    "records",
    "specifications",
    "instruments",
    "people",
    "stores",
    "computation",
)


@cache
def help_text(topic: str) -> str:
    """Give a topic's text; the computation when there is none of that name."""
    name = topic if topic in TOPICS else TOPICS[-1]
    text = (files("resources") / "help" / f"{name}.md").read_text("utf-8")
    return text.replace("```worked", "```")


class HelpPage(Page):
    """Topics at the left, the text at the right; arrows and Page keys scroll it."""

    def __init__(self, parent: QWidget | None = None) -> None:
        super().__init__(parent)
        self.topic = ""
        row = QHBoxLayout(self)
        row.setContentsMargins(12, 10, 12, 0)
        row.setSpacing(10)
        self.topics = Actions(columns=1, quiet=True)
        left = QVBoxLayout()
        left.addWidget(self.topics)
        left.addStretch(1)
        self.text = QTextBrowser()
        set_role(self.text, "panel")
        self.text.setOpenLinks(False)
        self.text.setFocusPolicy(Qt.FocusPolicy.StrongFocus)
        row.addLayout(left, 1)
        row.addWidget(self.text, 5)
        self.topics.chosen.connect(self._on_chosen)

    def show_topic(self, topic: str) -> None:
        """Show a topic from its beginning."""
        if topic != self.topic:
            self.topic = topic
            self.text.setMarkdown(help_text(topic))
            self.text.setAccessibleName(f"help: {topic}")
        self.topics.show_actions(
            tuple(
                ActionView(name, name.capitalize(), str(n), primary=name == topic)
                for n, name in enumerate(TOPICS, 1)
            )
        )
        self.text.setFocus(Qt.FocusReason.OtherFocusReason)

    def press_key(self, key: str) -> bool:
        """Choose a topic."""
        return self.topics.press_key(key)

    @Slot(str, str)
    def _on_chosen(self, topic: str, _: str) -> None:
        self.show_topic(topic)
