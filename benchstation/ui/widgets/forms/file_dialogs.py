"""The system's own dialogs for a specification's file; a path may be typed instead of them."""

from pathlib import Path

from PySide6.QtCore import QStandardPaths
from PySide6.QtWidgets import QFileDialog, QWidget

from benchstation.ui.widgets.forms.specification_text import file_name

FILTER = "Specifications (*.toml);;All files (*)"


def _documents() -> str:
    return QStandardPaths.writableLocation(QStandardPaths.StandardLocation.DocumentsLocation)


def ask_to_open(parent: QWidget) -> str:
    """Return the file that a person chose, empty for none."""
    path, _ = QFileDialog.getOpenFileName(parent, "Read a specification", _documents(), FILTER)
    return path


def ask_to_save(parent: QWidget, source: str) -> str:
    """Return where a person wants a text written, empty for nowhere.

    The dialog itself asks before a file that is there is replaced.
    """
    place = str(Path(_documents()) / file_name(source))
    path, _ = QFileDialog.getSaveFileName(parent, "Write the specification", place, FILTER)
    return path
