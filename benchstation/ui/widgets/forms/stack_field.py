"""An editor for a disc stack: rows from the piston, moved by buttons and keys, never dragged."""

import json

from PySide6.QtCore import Qt, Signal, Slot
from PySide6.QtGui import QFocusEvent, QKeyEvent, QResizeEvent
from PySide6.QtWidgets import (
    QBoxLayout,
    QGridLayout,
    QHBoxLayout,
    QLabel,
    QSizePolicy,
    QVBoxLayout,
    QWidget,
)

from benchstation.screens.model.elements import ActionView, FieldView, StackView
from benchstation.ui.shell.labels import label, set_role
from benchstation.ui.shell.layouts import across
from benchstation.ui.shell.text_scale import px
from benchstation.ui.widgets.drawings.stack_drawing import StackDrawing, size_of
from benchstation.ui.widgets.forms.fields import ENTER, TextField
from benchstation.ui.widgets.forms.stack_line import CELLS, rows_in
from benchstation.ui.widgets.readout.action_button import ActionButton
from benchstation.ui.widgets.readout.primary_readout import MarkedLines

HEADS = ("Diameter", "Thickness", "Count")
SPECIFIED, SIDE_BY_SIDE_PX = "specified", 560
MOST_ROWS = 60
IN_ONE_LINE = "a row or more at once: 40 x 0.2 x 2; 38 x 0.15 x 1"
ADD, REMOVE, UP, DOWN = "add", "remove", "up", "down"
_MOVES = (
    (ADD, "Add", "Insert"),
    (REMOVE, "Remove", "Alt+Delete"),
    (UP, "Up", "Alt+Up"),
    (DOWN, "Down", "Alt+Down"),
)
_KEYS = {Qt.Key.Key_Delete: REMOVE, Qt.Key.Key_Up: UP, Qt.Key.Key_Down: DOWN}
GOES_ON, IN_WORDS = "Enter continues, ↓ edits", "Enter continues, Down edits"
_DIGITS = {Qt.Key.Key_1: 0, Qt.Key.Key_2: 1, Qt.Key.Key_3: 2}


class Cell(TextField):
    """One number of a row."""

    moved = Signal(str)
    """What is to be done with the row."""
    began = Signal(int)
    """The stack is to start from this one of those that are known."""
    stepped = Signal(int)
    """The row above (-1) or below (1) is wanted."""
    entered = Signal()

    def __init__(self, place: int, column: int, parent: QWidget | None = None) -> None:
        super().__init__(parent)
        self.place, self.column = place, column
        set_role(self, "cell")

    def focusInEvent(self, event: QFocusEvent) -> None:
        """Mark this row as the one being edited."""
        super().focusInEvent(event)
        self.entered.emit()

    def keyPressEvent(self, event: QKeyEvent) -> None:
        """Take the keys of rows; the rest is typing."""
        alt = bool(event.modifiers() & Qt.KeyboardModifier.AltModifier)
        key = Qt.Key(event.key())
        if key == Qt.Key.Key_Insert:
            self.moved.emit(ADD)
        elif alt and key in _KEYS:
            self.moved.emit(_KEYS[key])
        elif event.modifiers() == Qt.KeyboardModifier.ControlModifier and key in _DIGITS:
            self.began.emit(_DIGITS[key])
        elif key in (Qt.Key.Key_Up, Qt.Key.Key_Down) and not alt:
            self.stepped.emit(-1 if key == Qt.Key.Key_Up else 1)
        else:
            super().keyPressEvent(event)


class Whole(QLabel):
    """Where the keyboard rests on a stack that stands: Enter goes on, past all of its cells."""

    finished = Signal()
    stepped = Signal(int)
    """The rows below (1) or what stands before (-1) is wanted."""
    began = Signal(int)

    def __init__(self, parent: QWidget | None = None) -> None:
        super().__init__(GOES_ON, parent)
        self.setFocusPolicy(Qt.FocusPolicy.StrongFocus)
        self.setTextFormat(Qt.TextFormat.PlainText)
        self.setWordWrap(True)
        self.setSizePolicy(QSizePolicy.Policy.Ignored, QSizePolicy.Policy.Preferred)
        self.setAccessibleName(f"the whole stack. {IN_WORDS}")
        set_role(self, "whole")

    def keyPressEvent(self, event: QKeyEvent) -> None:
        """Go on, into the rows, or begin anew; the rest is the page's."""
        key = Qt.Key(event.key())
        if key in ENTER:
            if not event.isAutoRepeat():
                self.finished.emit()
        elif key in (Qt.Key.Key_Up, Qt.Key.Key_Down):
            self.stepped.emit(-1 if key == Qt.Key.Key_Up else 1)
        elif event.modifiers() == Qt.KeyboardModifier.ControlModifier and key in _DIGITS:
            self.began.emit(_DIGITS[key])
        else:
            event.ignore()


class StackField(QWidget):
    """The rows, what is done with them, and the stack drawn from the side."""

    finished = Signal()
    """Enter on the whole stack, or in a row that is empty."""
    started = Signal()
    """It stands as a known stack: whoever differs in nothing goes on."""
    backed = Signal()
    """Up from its top: the field before is wanted."""
    edited = Signal()

    def __init__(self, parent: QWidget | None = None) -> None:
        super().__init__(parent)
        self.setObjectName("clear")
        self.rows: list[list[Cell]] = []
        self._current = 0
        self._starts: tuple[tuple[str, str], ...] = ()
        self._row = across(self, spacing=14)
        left, right = QVBoxLayout(), QVBoxLayout()
        left.setSpacing(6)
        right.setSpacing(6)
        self.starts = QHBoxLayout()
        self.starts.setSpacing(6)
        self.start_buttons: list[ActionButton] = []
        right.addLayout(self.starts)
        self.whole = Whole(self)
        self.whole.finished.connect(self.finished)
        self.whole.began.connect(self._begin)
        self.whole.stepped.connect(self._on_stepped)
        right.addWidget(self.whole)
        buttons = QHBoxLayout()
        buttons.setSpacing(6)
        self.buttons = [self._button(*move) for move in _MOVES]
        for button in self.buttons:
            buttons.addWidget(button)
        left.addLayout(buttons)
        self._grid = QGridLayout()
        self._grid.setSpacing(4)
        for column, text in enumerate(HEADS):
            self._grid.addWidget(label(text, "small"), 0, column + 1)
        for column, stretch in enumerate((0, 3, 3, 2)):
            self._grid.setColumnStretch(column, stretch)
        self._numbers: list[QWidget] = []
        self.specified: list[QLabel] = []
        """What is specified, a label a row, beside the rows that are entered."""
        left.addLayout(self._grid)
        left.addWidget(label(IN_ONE_LINE, "small", wrap=True))
        left.addStretch(1)
        self.drawing = StackDrawing()
        self.words = MarkedLines()
        right.addWidget(self.words)
        right.addWidget(self.drawing, 1)
        self._row.addLayout(left, 1)
        self._row.addLayout(right, 1)
        self.edited.connect(self._aim)
        self._put([])

    def resizeEvent(self, event: QResizeEvent) -> None:
        """Put the drawing below the rows where both have no room beside each other."""
        way = QBoxLayout.Direction
        wide = self.width() >= px(SIDE_BY_SIDE_PX)
        self._row.setDirection(way.LeftToRight if wide else way.TopToBottom)

    def _button(self, move: str, text: str, key: str) -> ActionButton:
        button = ActionButton(quiet=True)
        button.show_action(ActionView(move, text, key))
        button.clicked.connect(self._on_button)
        return button

    # --- what goes in and out --------------------------------------------------------------------

    def text(self) -> str:
        """Return the rows as JSON; empty rows at the end are left out, and none is no text."""
        rows = self._texts()
        while rows and not any(rows[-1]):
            rows.pop()
        return json.dumps(rows) if rows else ""

    def setText(self, text: str) -> None:
        """Set the rows; a text that is none leaves one empty row."""
        try:
            found = json.loads(text or "[]")
        except ValueError:
            found = []
        found = found if isinstance(found, list) else []
        rows = [
            [*(str(cell) for cell in row[:CELLS]), *[""] * CELLS][:CELLS]
            for row in found
            if isinstance(row, list)
        ]
        if rows != self._texts():
            self._put(rows[:MOST_ROWS])

    def show_field(self, field: FieldView) -> None:
        """Show what the station says of the stack, and what it may start from."""
        if field.choices != self._starts:
            self._starts = field.choices
            self._show_starts()
        if field.stack is not None:
            self.show_stack(field.stack)

    def show_stack(self, view: StackView) -> None:
        """Draw the stack and say what differs."""
        self.drawing.show_stack(view)
        self._show_specified(view)
        self.words.show_lines(tuple((words, tone, "") for words, tone in view.lines))

    def _show_specified(self, view: StackView) -> None:
        words = [SPECIFIED, *map(size_of, view.specified)] if view.specified else []
        if words == [one.text() for one in self.specified]:
            return
        for old in self.specified:
            self._grid.removeWidget(old)
            old.deleteLater()
        self.specified = [label(said, "small") for said in words]
        for line, one in enumerate(self.specified):
            self._grid.addWidget(one, line, CELLS + 1)
            one.show()

    def _show_starts(self) -> None:
        while len(self.start_buttons) < len(self._starts):
            place = len(self.start_buttons)
            button = ActionButton(quiet=True)
            button.clicked.connect(self._on_start)
            self.start_buttons.append(button)
            self.starts.addWidget(button)
        for place, button in enumerate(self.start_buttons):
            there = place < len(self._starts)
            button.setVisible(there)
            if there:
                words = f"Start {self._starts[place][1]}"
                button.show_action(ActionView("start", words, f"Ctrl+{place + 1}"))

    # --- rows ------------------------------------------------------------------------------------

    def _texts(self) -> list[list[str]]:
        return [[cell.text().strip() for cell in row] for row in self.rows]

    def _put(self, texts: list[list[str]]) -> None:
        """Make the rows say these texts; there is always one to type into."""
        wanted = texts or [[""] * CELLS]
        while len(self.rows) > len(wanted):
            for cell in self.rows.pop():
                self._grid.removeWidget(cell)
                cell.deleteLater()
            number = self._numbers.pop()
            self._grid.removeWidget(number)
            number.deleteLater()
        while len(self.rows) < len(wanted):
            self._add_row()
        for row, words in zip(self.rows, wanted, strict=True):
            for cell, text in zip(row, words, strict=True):
                if cell.text() != text:
                    cell.setText(text)
        self._current = min(self._current, len(self.rows) - 1)
        self._aim()

    @Slot()
    def _aim(self) -> None:
        """Focus the first cell, or a complete stack as one."""
        stands = bool(self.text())
        if not stands and self.whole.hasFocus():
            self._focus(0, 0)
        self.whole.setVisible(stands)
        self.setFocusProxy(self.whole if stands else self.rows[0][0])

    def _add_row(self) -> None:
        place = len(self.rows)
        number = label(str(place + 1), "small")
        self._numbers.append(number)
        self._grid.addWidget(number, place + 1, 0)
        cells = []
        for column, head in enumerate(HEADS):
            cell = Cell(place, column, self)
            cell.setAccessibleName(f"{head.lower()}, row {place + 1}")
            cell.textEdited.connect(self.edited)
            cell.moved.connect(self._move)
            cell.began.connect(self._begin)
            cell.entered.connect(self._on_entered)
            cell.stepped.connect(self._on_stepped)
            cell.finished.connect(self._on_finished)
            self._grid.addWidget(cell, place + 1, column + 1)
            cell.show()
            cells.append(cell)
        self.rows.append(cells)

    @Slot()
    def _on_entered(self) -> None:
        cell = self.sender()
        if isinstance(cell, Cell):
            self._current = cell.place

    @Slot(int)
    def _on_stepped(self, by: int) -> None:
        cell = self.sender()
        place, column = (cell.place, cell.column) if isinstance(cell, Cell) else (-1, 0)
        if 0 <= place + by < len(self.rows):
            self._focus(place + by, column)
        elif by < 0 and place == 0 and self.text():
            self.whole.setFocus(Qt.FocusReason.OtherFocusReason)
        elif by < 0:
            self.backed.emit()

    @Slot()
    def _on_finished(self) -> None:
        """Move to the next cell; from the last one to a new row, from an empty row onward."""
        cell = self.sender()
        if not isinstance(cell, Cell):
            return
        place, column = cell.place, cell.column
        if rows := rows_in(cell.text()):
            self._put_rows(place, rows)
        elif not any(self._texts()[place]):
            self.finished.emit()
        elif column < CELLS - 1:
            self._focus(place, column + 1)
        elif place < len(self.rows) - 1:
            self._focus(place + 1, 0)
        else:
            self._move(ADD)

    def _put_rows(self, place: int, rows: list[list[str]]) -> None:
        """Put rows that were typed in one line in the place of this one, and begin a new one."""
        texts = self._texts()
        texts[place : place + 1] = rows
        self._put(texts[:MOST_ROWS])
        self.edited.emit()
        last = min(place + len(rows), MOST_ROWS) - 1
        if not all(self._texts()[last]):
            self._focus(last, self._texts()[last].index(""))
        elif last < len(self.rows) - 1:
            self._focus(last + 1, 0)
        else:
            self._current = last
            self._move(ADD)

    @Slot()
    def _on_button(self) -> None:
        for button, (move, _, _) in zip(self.buttons, _MOVES, strict=True):
            if button is self.sender():
                self._move(move)

    @Slot()
    def _on_start(self) -> None:
        for place, button in enumerate(self.start_buttons):
            if button is self.sender():
                self._begin(place)

    def _focus(self, place: int, column: int) -> None:
        self._current = place
        cell = self.rows[place][column]
        cell.setFocus(Qt.FocusReason.OtherFocusReason)
        cell.selectAll()

    @Slot(str)
    def _move(self, move: str) -> None:
        """Do something with the row that is worked on."""
        texts, at = self._texts(), self._current
        to = at
        if move == ADD and len(texts) < MOST_ROWS:
            to = at + 1
            texts.insert(to, [""] * CELLS)
        elif move == REMOVE:
            texts.pop(at)
            to = max(0, min(at, len(texts) - 1))
        elif move in (UP, DOWN):
            to = at + (-1 if move == UP else 1)
            if not 0 <= to < len(texts):
                return
            texts[at], texts[to] = texts[to], texts[at]
        self._put(texts)
        self._focus(to, 0)
        self.edited.emit()

    @Slot(int)
    def _begin(self, place: int) -> None:
        """Start from a stack that is known; a person then changes what is different."""
        if place < len(self._starts):
            self.setText(self._starts[place][0])
            self.edited.emit()
            self.setFocus(Qt.FocusReason.OtherFocusReason)
            self.started.emit()
