"""Terms of a computation: what, how much, and where it comes from."""

from PySide6.QtCore import QRect, QSize, Qt
from PySide6.QtGui import QColor, QFont, QFontMetrics, QPainter, QPaintEvent
from PySide6.QtWidgets import QSizePolicy, QWidget

from benchstation.screens.model.elements import TermGroup, TermView
from benchstation.ui.shell.labels import broken, frame, label, palette_of, sized, widest_part
from benchstation.ui.shell.layouts import clear, down
from benchstation.ui.shell.text_scale import px
from benchstation.ui.shell.theme import BODY_PX, SMALL_PX

GAP, TALLEST, WIDEST_PX = 10, 10_000, 720
"""A value stands no farther from its name than the eye follows."""
WRAP = int(Qt.TextFlag.TextWordWrap)
Boxes = tuple[QRect, QRect, QRect, int]


class Term(QWidget):
    """One term. Name and value share a line where they can, else the value has one of its own."""

    def __init__(self, parent: QWidget | None = None) -> None:
        super().__init__(parent)
        self.shown: TermView | None = None
        self._measured: dict[tuple[int, str, int], Boxes] = {}
        # Not fixed: a hint from another width would cut what needs more lines in this one.
        policy = QSizePolicy(QSizePolicy.Policy.Ignored, QSizePolicy.Policy.Minimum)
        policy.setHeightForWidth(True)
        self.setSizePolicy(policy)

    def show_term(self, term: TermView) -> None:
        """Show a term; does nothing when it is the one that stands there."""
        if term == self.shown:
            return
        self.shown = term
        self._measured.clear()
        source = f", {term.source}" if term.source else ""
        self.setAccessibleName(f"{term.label}: {term.value}{source}")
        self.updateGeometry()
        self.update()

    def _fonts(self) -> tuple[QFont, QFont, QFont]:
        strong = self.shown is not None and self.shown.strong
        font = self.font()
        return (
            sized(font, BODY_PX),
            sized(font, BODY_PX, bold=strong),
            sized(font, SMALL_PX),
        )

    def _words(self, width: int) -> tuple[str, str, str]:
        """Return name, value and source with breaks in what is wider than this width."""
        term, fonts = self.shown, self._fonts()
        if term is None:
            return "", "", ""
        name, value, source = (
            broken(words, QFontMetrics(font), width)
            for words, font in zip((term.label, term.value, term.source), fonts, strict=True)
        )
        return name, value, source

    def words_fit(self) -> bool:
        """Return True when every part stands whole in its place."""
        width = min(self.width(), px(WIDEST_PX))
        return all(
            widest_part(words, QFontMetrics(font)) <= width
            for words, font in zip(self._words(width), self._fonts(), strict=True)
        )

    def boxes(self, width: int) -> Boxes:
        """Return the places of name, value and source in this width, and the whole height."""
        # A layout asks for the same few widths again and again.
        key = width, self.font().key(), px(BODY_PX)
        if key not in self._measured:
            self._measured[key] = self._measure(width)
        return self._measured[key]

    def _measure(self, width: int) -> Boxes:
        term = self.shown
        if term is None:
            return QRect(), QRect(), QRect(), 0
        width = min(width, px(WIDEST_PX))
        name_font, value_font, small = (QFontMetrics(font) for font in self._fonts())
        name_words, value_words, source_words = self._words(width)
        line = name_font.lineSpacing()
        value_width = value_font.horizontalAdvance(term.value)
        name_width = name_font.horizontalAdvance(term.label)
        if name_width + GAP + value_width <= width:
            name = QRect(0, 2, width - value_width - GAP, line)
            value = QRect(width - value_width - 1, 2, value_width + 1, line)
        else:
            high = name_font.boundingRect(0, 0, width, TALLEST, WRAP, name_words).height()
            name = QRect(0, 2, width, high)
            high = value_font.boundingRect(0, 0, width, TALLEST, WRAP, value_words).height()
            value = QRect(0, name.bottom() + 1, width, high)
        low = max(name.bottom(), value.bottom()) + 1
        high = small.boundingRect(0, 0, width, TALLEST, WRAP, source_words).height()
        source = QRect(0, low, width, high if term.source else 0)
        return name, value, source, low + source.height() + 3

    def hasHeightForWidth(self) -> bool:
        """Return True: long words take more lines."""
        return True

    def heightForWidth(self, width: int) -> int:
        """Return the height in this width."""
        return self.boxes(width)[3]

    def sizeHint(self) -> QSize:
        """Ask for a usual width."""
        return QSize(240, self.heightForWidth(max(self.width(), 120)))

    def paintEvent(self, event: QPaintEvent) -> None:
        """Draw name, value and source."""
        term = self.shown
        if term is None:
            return
        painter, palette = QPainter(self), palette_of(self)
        name, value, source, _ = self.boxes(self.width())
        fonts = self._fonts()
        words_of = self._words(min(self.width(), px(WIDEST_PX)))
        right = int(Qt.AlignmentFlag.AlignRight)
        for font, ink, box, flags, words in (
            (fonts[0], palette.quiet, name, WRAP, words_of[0]),
            (fonts[1], palette.text, value, WRAP | right, words_of[1]),
            (fonts[2], palette.quiet, source, WRAP, words_of[2]),
        ):
            painter.setFont(font)
            painter.setPen(QColor(ink))
            painter.drawText(box, flags, words)


class Terms(QWidget):
    """Groups of terms."""

    def __init__(self, parent: QWidget | None = None) -> None:
        super().__init__(parent)
        self.setObjectName("clear")
        self._box = down(self, spacing=0)
        self._others: list[QWidget] = []
        self.terms: list[Term] = []
        self._shape: tuple[tuple[str, int], ...] | None = None

    def show_groups(self, groups: tuple[TermGroup, ...]) -> None:
        """Show groups; rows are made anew only when their number or titles change."""
        shape = tuple((group.title, len(group.terms)) for group in groups)
        if shape != self._shape:
            self._shape = shape
            self._build(groups)
        flat = [term for group in groups for term in group.terms]
        for row, term in zip(self.terms, flat, strict=True):
            row.show_term(term)

    def _build(self, groups: tuple[TermGroup, ...]) -> None:
        for widget in (*self._others, *self.terms):
            self._box.removeWidget(widget)
            widget.hide()
            widget.deleteLater()
        self._others, self.terms = [], []
        for count, group in enumerate(groups):
            if count:
                self._space(8)
                self._add(frame("rule"))
                self._space(8)
            if group.title:
                self._add(label(group.title, "strong", wrap=True))
            for _ in group.terms:
                self.terms.append(Term(self))
                self._box.addWidget(self.terms[-1])

    def _space(self, pixels: int) -> None:
        gap = clear()
        gap.setFixedHeight(pixels)
        self._add(gap)

    def _add(self, widget: QWidget) -> None:
        self._others.append(widget)
        self._box.addWidget(widget)
