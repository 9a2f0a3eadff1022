"""Choosing a picture file: decoded before it is taken. Those on record stand below, small."""

from pathlib import Path

from PySide6.QtCore import QBuffer, QByteArray, QIODevice, QSize, Qt, Signal, Slot
from PySide6.QtGui import QImage, QImageReader, QPixmap
from PySide6.QtWidgets import QFileDialog, QGridLayout, QHBoxLayout, QLabel, QWidget

from benchstation.quantities.notation import fixed
from benchstation.screens.model.elements import (
    LARGEST_BYTES,
    ActionView,
    FieldView,
    PhotoView,
    Tone,
    why_not_drawn,
)
from benchstation.ui.shell.labels import label, set_tone
from benchstation.ui.shell.layouts import down
from benchstation.ui.widgets.forms.fields import TextField
from benchstation.ui.widgets.readout.action_button import ActionButton

THUMB_PX = 150
FILTER = "Pictures (*.jpg *.jpeg *.png)"
FORMS = (b"jpeg", b"jpg", b"png")
DAMAGED = "cannot be drawn: damaged or missing"


def decoded(reader: QImageReader, side: int) -> QImage | str:
    """Return the picture, turned as it was taken and no larger than ``side``, or why not."""
    reader.setAutoTransform(True)
    reader.setDecideFormatFromContent(True)
    if bytes(reader.format().data()) not in FORMS:
        return "this is no JPEG or PNG picture"
    size = reader.size()
    # Before anything of it is decoded; also for a picture that came in before there was a limit.
    why: str = why_not_drawn(size.width(), size.height()) if size.isValid() else ""
    if why:
        return why
    reader.setScaledSize(size.scaled(QSize(side, side), Qt.AspectRatioMode.KeepAspectRatio))
    image = reader.read()
    return "this picture cannot be decoded" if image.isNull() else image


def decoded_file(path: Path, side: int = THUMB_PX) -> QImage | str:
    """Decode a file; gives the words why not for one that is missing, large or no picture."""
    try:
        size = path.stat().st_size
    except OSError as error:
        return f"it cannot be read ({error.strerror})"
    if not path.is_file():
        return "this is no file"
    if size > LARGEST_BYTES:
        limit = f"at most {fixed(LARGEST_BYTES / 1e6, 0)} MB are allowed"
        return f"the picture has {fixed(size / 1e6, 1)} MB; {limit}"
    return decoded(QImageReader(str(path)), side)


def decoded_bytes(data: bytes, side: int = THUMB_PX) -> QImage | str:
    """Decode a picture that is on record."""
    if not data:
        return DAMAGED
    buffer = QBuffer()
    buffer.setData(QByteArray(data))
    buffer.open(QIODevice.OpenModeFlag.ReadOnly)
    found = decoded(QImageReader(buffer), side)
    return DAMAGED if isinstance(found, str) else found


class Thumbnail(QWidget):
    """One picture on record, small, with its words."""

    def __init__(self, photo: PhotoView, parent: QWidget | None = None) -> None:
        super().__init__(parent)
        self.setObjectName("clear")
        box = down(self, spacing=3)
        self.picture = QLabel()
        self.picture.setAccessibleName(f"photograph, {photo.words}")
        self.picture.setTextFormat(Qt.TextFormat.PlainText)
        found = decoded_bytes(photo.data)
        if isinstance(found, str):
            self.picture.setText(found)
            self.picture.setWordWrap(True)
            set_tone(self.picture, Tone.DANGER)
        else:
            self.picture.setPixmap(QPixmap.fromImage(found))
        self.setFixedWidth(THUMB_PX)
        words = label(photo.words, "small", wrap=True)
        box.addWidget(self.picture)
        box.addWidget(words)
        box.addStretch(1)


class Shelf(QWidget):
    """Pictures on record, side by side; hidden while there is none."""

    def __init__(self, *, columns: int, parent: QWidget | None = None) -> None:
        super().__init__(parent)
        self.setObjectName("clear")
        self._columns = columns
        self._shown: tuple[PhotoView, ...] = ()
        self._grid = QGridLayout(self)
        self._grid.setContentsMargins(0, 0, 0, 0)
        self._grid.setSpacing(12)
        self._grid.setColumnStretch(columns, 1)
        self.thumbnails: list[Thumbnail] = []
        self.hide()

    def show_photos(self, photos: tuple[PhotoView, ...]) -> bool:
        """Show these; says whether there are more than before."""
        self.setVisible(bool(photos))
        if photos == self._shown:
            return False
        more = len(photos) > len(self._shown)
        self._shown = photos
        for old in self.thumbnails:
            self._grid.removeWidget(old)
            old.hide()
            old.deleteLater()
        self.thumbnails = [Thumbnail(photo, self) for photo in photos]
        for place, thumbnail in enumerate(self.thumbnails):
            self._grid.addWidget(thumbnail, place // self._columns, place % self._columns)
            thumbnail.show()
        return more


class PhotoField(QWidget):
    """A path, a button that looks for one, what the file shows, and the pictures on record."""

    finished = Signal()
    edited = Signal()
    added = Signal()
    """One more picture is on record: what stands here is of the next one."""

    def __init__(self, parent: QWidget | None = None) -> None:
        super().__init__(parent)
        self.setObjectName("clear")
        self._sound = False
        box = down(self, spacing=8)
        row = QHBoxLayout()
        row.setSpacing(8)
        self.path = TextField()
        self.path.setPlaceholderText("path of a picture file")
        self.path.setAccessibleName("path of a picture file")
        self.browse = ActionButton(quiet=True)
        self.browse.show_action(ActionView("browse", "Look for a file", "Alt+F"))
        self.browse.setShortcut("Alt+F")
        self.browse.clicked.connect(self._on_browse)
        row.addWidget(self.path, 3)
        row.addWidget(self.browse, 1)
        box.addLayout(row)
        self.preview = QLabel()
        self.preview.setAccessibleName("the chosen picture")
        self.preview.hide()
        self.why_not = label("", "", wrap=True)
        self.why_not.hide()
        box.addWidget(self.preview)
        box.addWidget(self.why_not)
        self.shelf = Shelf(columns=4)
        box.addWidget(self.shelf)
        self.setFocusProxy(self.path)
        self.path.textChanged.connect(self._look)
        self.path.textEdited.connect(self.edited)
        self.path.finished.connect(self.finished)

    def text(self) -> str:
        """Return the path of a file that was decoded; nothing for any other."""
        return self.path.text().strip() if self._sound else ""

    def setText(self, text: str) -> None:
        """Set the path."""
        self.path.setText(text)

    @Slot()
    def _look(self) -> None:
        """Decode what is chosen and show it, or say why it is not taken."""
        text = self.path.text().strip()
        found = decoded_file(Path(text)) if text else ""
        self._sound = isinstance(found, QImage)
        self.preview.setVisible(self._sound)
        self.why_not.setVisible(bool(text) and not self._sound)
        if isinstance(found, QImage):
            self.preview.setPixmap(QPixmap.fromImage(found))
        elif text:
            self.why_not.setText(f"{Path(text).name}: {found}; it is not added.")
            set_tone(self.why_not, Tone.CAUTION)

    @Slot()
    def _on_browse(self) -> None:
        begin = str(Path(self.path.text()).parent) if self.path.text() else ""
        path, _ = QFileDialog.getOpenFileName(self, "Choose a picture", begin, FILTER)
        if path:
            self.path.setText(path)
            self.edited.emit()

    def show_field(self, field: FieldView) -> None:
        """Show the pictures on record."""
        if self.shelf.show_photos(field.photos):
            if self._sound:
                # What was chosen is on record now; the next one is chosen anew.
                self.path.clear()
            self.added.emit()
