"""Several to choose from: a list of large rows, and cards for the few great ways to go on."""

from PySide6.QtCore import Signal, Slot
from PySide6.QtWidgets import QFrame, QWidget

from benchstation.screens.model.onboarding import CardView, ChoiceRow
from benchstation.ui.shell.labels import label, set_role
from benchstation.ui.shell.layouts import across, down
from benchstation.ui.widgets.lists.row_list import RowList
from benchstation.ui.widgets.readout.action_button import ActionButton, same_key


class ChoiceList(RowList):
    """Rows of which one is chosen; it stays chosen while the rows stay."""

    def __init__(self, parent: QWidget | None = None) -> None:
        super().__init__("", parent=parent)
        self._shown: tuple[ChoiceRow, ...] = ()

    def show_rows(self, name: str, rows: tuple[ChoiceRow, ...], chosen: str) -> None:
        """Show these rows, ``chosen`` at first."""
        self.setAccessibleName(name)
        if rows == self._shown:
            return
        keep = self.chosen() or chosen
        keys = [row.key for row in rows]
        keep = keep if keep in keys else chosen
        self._shown = rows
        self.rows.replace(list(rows))
        if keep in keys:
            self.setCurrentIndex(self.rows.index(keys.index(keep), 0))

    def chosen(self) -> str:
        """Return the key of the row that is chosen, or empty."""
        index = self.currentIndex()
        return self._shown[index.row()].key if index.isValid() and self._shown else ""


class Card(QFrame):
    """One great way to go on."""

    chosen = Signal(str)

    def __init__(self, view: CardView, parent: QWidget | None = None) -> None:
        super().__init__(parent)
        set_role(self, "card")
        self.view = view
        box = down(self, (26, 22, 26, 22), 14)
        box.addWidget(label(view.title, "headline", wrap=True))
        box.addWidget(label(view.words, "large", wrap=True))
        box.addStretch(1)
        self.button = ActionButton()
        self.button.show_action(view.action)
        box.addWidget(self.button)
        self.button.clicked.connect(self._on_clicked)

    @Slot()
    def _on_clicked(self) -> None:
        self.chosen.emit(self.view.action.id)


class Cards(QWidget):
    """Cards side by side."""

    chosen = Signal(str)

    def __init__(self, parent: QWidget | None = None) -> None:
        super().__init__(parent)
        self.setObjectName("clear")
        self._row = across(self, spacing=16)
        self.cards: list[Card] = []
        self._shown: tuple[CardView, ...] = ()

    def show_cards(self, cards: tuple[CardView, ...]) -> None:
        """Show these cards."""
        if cards == self._shown:
            return
        self._shown = cards
        for old in self.cards:
            self._row.removeWidget(old)
            old.hide()
            old.deleteLater()
        self.cards = [Card(view, self) for view in cards]
        for card in self.cards:
            card.chosen.connect(self.chosen)
            self._row.addWidget(card, 1)

    def press_key(self, key: str) -> bool:
        """Do what is on this key; says whether there is something."""
        for view in self._shown:
            if same_key(key, view.action.key):
                if view.action.enabled:
                    self.chosen.emit(view.action.id)
                return True
        return False
