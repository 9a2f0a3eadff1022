"""The structure of a printed page: what is a heading, a table, a figure, and what decoration.

Flowables drawn on a :class:`TaggedCanvas` mark their content (ISO 32000-1, 14.6 to 14.8) in the
order in which they are drawn, which is the reading order; ``archive`` writes the tree into a file.
"""

from collections.abc import Callable, Iterator, Sequence
from contextlib import contextmanager
from dataclasses import dataclass, field
from typing import Any, Final

from reportlab.lib.styles import ParagraphStyle
from reportlab.pdfgen.canvas import Canvas
from reportlab.platypus import Flowable, Paragraph, Table

from benchstation.reports.fonts import BODY, STRONG


@dataclass(slots=True)
class Element:
    """A part of the structure; its children are parts and places (page from 0, mark) of content."""

    tag: str
    children: list["Element | tuple[int, int]"] = field(default_factory=list)
    alternative: str = ""
    """What a figure shows, in words."""
    scope: str = ""
    """Of a header cell: ``Column`` or ``Row``."""


Footer = Callable[[Canvas, int, int], None]
"""Draws below a page, given its number and how many there are."""


class TaggedCanvas(Canvas):  # type: ignore[misc]
    """A canvas that keeps the structure of what is drawn, and numbers its pages at the end."""

    footer: Footer | None = None

    def __init__(self, *args: Any, **options: Any) -> None:
        """Begin with an empty structure."""
        self.structure = Element("Document")
        self._open = [self.structure]
        self._pages: list[dict[str, Any]] = []
        self._marks = 0
        super().__init__(*args, **options)

    @contextmanager
    def element(self, element: Element) -> Iterator[None]:
        """Let what is drawn be part of an element."""
        self._open[-1].children.append(element)
        self._open.append(element)
        yield
        self._open.pop()

    @contextmanager
    def content(self, element: Element) -> Iterator[None]:
        """Let what is drawn be the content of an element."""
        with self.element(element):
            element.children.append((len(self._pages), self._marks))
            self._code.append(f"/{element.tag} <</MCID {self._marks}>> BDC")
            self._marks += 1
            yield
            self._code.append("EMC")

    @contextmanager
    def decoration(self, kind: str = "Layout") -> Iterator[None]:
        """Let what is drawn be no content."""
        self._code.append(f"/Artifact <</Type /{kind}>> BDC")
        yield
        self._code.append("EMC")

    def setFont(self, name: str, size: float, leading: float | None = None) -> None:
        """Take a font that is embedded; the library names another before drawings and tables."""
        if name in (BODY, STRONG):
            super().setFont(name, size, leading)

    def showPage(self) -> None:
        """End a page; it is written when their number is known."""
        self._pages.append(dict(self.__dict__))
        self._marks = 0
        self._startPage()

    def save(self) -> None:
        """Write all pages, each with its footer."""
        pages = self._pages
        for number, page in enumerate(pages, 1):
            self.__dict__.update(page)
            if self.footer is not None:
                with self.decoration("Pagination"):
                    self.footer(self, number, len(pages))
            super().showPage()
        super().save()


class Text(Paragraph):  # type: ignore[misc]
    """A paragraph that says what it is; parts of one that was split are the same."""

    tag = "P"

    def drawOn(self, canvas: Any, x: float, y: float, _sW: float = 0) -> None:
        """Draw it as content."""
        if not isinstance(canvas, TaggedCanvas):
            super().drawOn(canvas, x, y, _sW)
            return
        with canvas.content(Element(self.tag)):
            super().drawOn(canvas, x, y, _sW)


class Title(Text):
    """The heading of the document."""

    tag = "H1"


class Heading(Text):
    """The heading of a part."""

    tag = "H2"


TAGS: Final[dict[str, type[Text]]] = {"title": Title, "head": Heading}
"""By the name of a style."""


def text_of(style: ParagraphStyle) -> type[Text]:
    """Return the kind of paragraph that a style stands for."""
    return TAGS.get(style.name, Text)


class Figure(Flowable):  # type: ignore[misc]
    """A drawing or picture with what it shows in words."""

    def __init__(self, inner: Flowable, alternative: str) -> None:
        super().__init__()
        self._inner, self._alternative = inner, alternative
        self.hAlign = getattr(inner, "hAlign", "LEFT")

    def wrap(self, width: float, height: float) -> tuple[float, float]:
        """Return the size of what is drawn."""
        self.width, self.height = self._inner.wrap(width, height)
        return self.width, self.height

    def draw(self) -> None:
        """Draw it as one piece of content."""
        with self.canv.content(Element("Figure", alternative=self._alternative)):
            self._inner.drawOn(self.canv, 0, 0)


def layout_table(rows: Sequence[Sequence[Any]], widths: Sequence[float], style: Any) -> Table:
    """Return a table that only places its cells: no table to a reader."""
    return Table(rows, colWidths=list(widths), style=style, renderCB=_Layout())


def data_table(
    rows: Sequence[Sequence[Any]], widths: Sequence[float], style: Any, *, heads: str = "Column"
) -> Table:
    """Return a table of data; ``heads``: whether its first row or its first column says of what."""
    options = {"repeatRows": 1} if heads == "Column" else {}
    return Table(
        rows,
        colWidths=list(widths),
        style=style,
        hAlign="LEFT",
        renderCB=_Data(heads),
        **options,
    )


class _Layout:
    """Marks backgrounds and lines as decoration. The library calls it as it draws a table."""

    def __init__(self) -> None:
        self._stack: list[Any] = []

    def __call__(self, table: Any, what: str, *args: Any) -> None:
        if not isinstance(table.canv, TaggedCanvas):
            return
        match what:
            case "startBG" | "startLines":
                self._begin(table.canv.decoration())
            case "endBG" | "endLines":
                self._end()
            case _:
                self.part(table.canv, what, args)

    def part(self, canvas: TaggedCanvas, what: str, args: tuple[Any, ...]) -> None:
        """Mark a row or a cell; a layout has neither."""

    def _begin(self, context: Any) -> None:
        context.__enter__()
        self._stack.append(context)

    def _end(self) -> None:
        self._stack.pop().__exit__(None, None, None)


class _Data(_Layout):
    def __init__(self, heads: str) -> None:
        super().__init__()
        self._heads, self._row = heads, 0

    def part(self, canvas: TaggedCanvas, what: str, args: tuple[Any, ...]) -> None:
        """Mark the table, its rows and cells."""
        match what:
            case "startTable":
                self._begin(canvas.element(Element("Table")))
            case "startRow":
                self._row = args[0]
                self._begin(canvas.element(Element("TR")))
            case "startCell":
                place = self._row if self._heads == "Column" else args[1]
                head = place == 0
                cell = Element("TH" if head else "TD", scope=self._heads if head else "")
                self._begin(canvas.element(cell))
            case _:
                self._end()
