"""Rows, columns and grounds that the window's parts are laid out in."""

from typing import TypeVar

from PySide6.QtWidgets import QBoxLayout, QHBoxLayout, QVBoxLayout, QWidget

Margins = tuple[int, int, int, int]
NO_MARGINS: Margins = (0, 0, 0, 0)
Box = TypeVar("Box", bound=QBoxLayout)


def clear(parent: QWidget | None = None) -> QWidget:
    """Return a widget without a ground of its own."""
    made = QWidget(parent)
    made.setObjectName("clear")
    return made


def across(
    inside: QWidget | None = None, margins: Margins = NO_MARGINS, spacing: int | None = None
) -> QHBoxLayout:
    """Return a row, of ``inside`` or to be put into another layout."""
    return _set(QHBoxLayout() if inside is None else QHBoxLayout(inside), margins, spacing)


def down(
    inside: QWidget | None = None, margins: Margins = NO_MARGINS, spacing: int | None = None
) -> QVBoxLayout:
    """Return a column, of ``inside`` or to be put into another layout."""
    return _set(QVBoxLayout() if inside is None else QVBoxLayout(inside), margins, spacing)


def _set(box: Box, margins: Margins, spacing: int | None) -> Box:
    box.setContentsMargins(*margins)
    if spacing is not None:
        box.setSpacing(spacing)
    return box
