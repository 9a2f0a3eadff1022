"""Who wears the style sheet: the parts of the window and the page that is shown, the others later.

A style sheet at the window itself would be worked out for every widget of every page that was made
so far, seen or not.
"""

from collections.abc import Iterable

from PySide6.QtWidgets import QWidget

from benchstation.ui.shell.labels import set_sheet
from benchstation.ui.shell.theme import Palette, style_sheet


class Sheets:
    """The style sheet in force, and who has it."""

    def __init__(self) -> None:
        self._sheet = ""

    def change(self, palette: Palette, shown: Iterable[QWidget | None]) -> None:
        """Put another one, or the same at another text size, on everything that is shown."""
        self._sheet = style_sheet(palette)
        for widget in shown:
            if widget is not None:
                self.dress(widget)

    def dress(self, widget: QWidget) -> None:
        """Put the one in force on a widget that has another."""
        set_sheet(widget, self._sheet)
