"""Words that accompany a first unit, at the top of the right panel, and what puts them away."""

from PySide6.QtWidgets import QFrame, QWidget

from benchstation.screens.model.elements import ActionView
from benchstation.ui.shell.labels import label, set_role
from benchstation.ui.shell.layouts import across, down
from benchstation.ui.widgets.readout.action_button import ActionButton

HIDE = ActionView("hide_guide", "Hide", "Alt+W")


class Guide(QFrame):
    """A few sentences; hidden where there are none."""

    def __init__(self, parent: QWidget | None = None) -> None:
        super().__init__(parent)
        set_role(self, "card")
        self.words = label("", "", wrap=True)
        self.hide_button = ActionButton(quiet=True)
        self.hide_button.show_action(HIDE)
        box = down(self, (10, 8, 10, 8), 6)
        # Above the words, so that it keeps its place whatever they are.
        head = across(spacing=6)
        head.addWidget(label("First unit", "strong"), 1)
        head.addWidget(self.hide_button)
        box.addLayout(head)
        box.addWidget(self.words)
        self.hide()

    def show_words(self, sentences: tuple[str, ...]) -> None:
        """Show these sentences; none: nothing stands here."""
        self.words.setText(" ".join(sentences))
        self.setVisible(bool(sentences))
