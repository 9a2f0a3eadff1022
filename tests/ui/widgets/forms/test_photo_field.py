"""A picture is decoded before it is taken, and those on record are drawn or told."""

from dataclasses import replace

import pytest
from PySide6.QtCore import QBuffer, QIODevice
from PySide6.QtGui import QColor, QImage
from PySide6.QtTest import QTest
from PySide6.QtWidgets import QApplication, QFileDialog

from benchstation.demo.picture import HIGH, WIDE, demo_png
from benchstation.screens.model.elements import FieldKind, FieldView, PhotoView
from benchstation.ui.widgets.forms import photo_field
from benchstation.ui.widgets.forms.form import Form
from benchstation.ui.widgets.forms.photo_field import (
    DAMAGED,
    PhotoField,
    Thumbnail,
    decoded_bytes,
    decoded_file,
)
from tests.picture_headers import png

FIELD = FieldView("photo", "Piston", FieldKind.PHOTO, hint="JPEG or PNG")


@pytest.fixture
def picture(tmp_path):
    path = tmp_path / "p.png"
    path.write_bytes(demo_png(1))
    return path


@pytest.fixture
def field(shown):
    return shown(PhotoField(), size=(700, 500))


def test_a_sound_picture_is_shown_and_its_path_goes_back(field, picture):
    QTest.keyClicks(field.path, str(picture))
    assert field.preview.isVisible()
    assert field.preview.pixmap().width() == photo_field.THUMB_PX
    assert field.text() == str(picture)


def test_jpeg_is_taken_too(field, tmp_path):
    image = QImage(64, 48, QImage.Format.Format_RGB32)
    image.fill(QColor("red"))
    path = tmp_path / "p.jpg"
    assert image.save(str(path), "JPEG")
    field.setText(str(path))
    assert field.text() == str(path)


def test_a_picture_of_too_many_pixels_is_not_decoded(field, tmp_path):
    path = tmp_path / "trap"
    path.write_bytes(png(20_000, 20_000))
    assert "at most 60 million" in decoded_file(path)
    assert decoded_bytes(png(20_000, 20_000)) == DAMAGED
    field.setText(str(path))
    assert not field.preview.isVisible()


def test_what_cannot_be_decoded_is_refused_in_words(field, tmp_path, picture):
    text, bmp, garbled = tmp_path / "t.png", tmp_path / "b.png", tmp_path / "g.png"
    text.write_text("no picture")
    QImage(4, 4, QImage.Format.Format_RGB32).save(str(bmp), "BMP")
    data = bytearray(picture.read_bytes())
    data[20:40] = bytes(20)
    garbled.write_bytes(data)
    large = tmp_path / "l.png"
    large.write_bytes(picture.read_bytes() + bytes(12_000_000))
    for path, words in (
        (text, "no JPEG or PNG"),
        (bmp, "no JPEG or PNG"),
        (garbled, "cannot be decoded"),
        (large, "at most 12 MB"),
        (tmp_path / "none.png", "cannot be read"),
        (tmp_path, "no file"),
    ):
        field.setText(str(path))
        assert field.why_not.isVisible()
        assert words in field.why_not.text()
        assert path.name in field.why_not.text()
        assert field.text() == ""
        assert not field.preview.isVisible()
    field.setText("")
    assert not field.why_not.isVisible()


def test_a_file_is_looked_for_in_the_systems_own_window(field, picture, monkeypatch):
    monkeypatch.setattr(QFileDialog, "getOpenFileName", lambda *_: (str(picture), ""))
    field.browse.click()
    assert field.text() == str(picture)
    monkeypatch.setattr(QFileDialog, "getOpenFileName", lambda *_: ("", ""))
    field.browse.click()
    assert field.text() == str(picture), "leaving the window changes nothing"


def test_pictures_on_record_stand_below_and_damaged_ones_say_so(shown, picture):
    form = shown(Form(), size=(700, 500))
    form.show_fields("step", (FIELD,))
    form.rows[0].editor.setText(str(picture))
    on_record = (
        PhotoView("a" * 64, "piston, 6 kB", demo_png(1)),
        PhotoView("b" * 64, "gone, 6 kB", b""),
        PhotoView("c" * 64, "garbled, 6 kB", b"\x89PNG\r\n\x1a\nrest"),
    )
    form.show_fields("step", (replace(FIELD, photos=on_record),))
    QApplication.processEvents()
    first, second, third = form.rows[0].editor.shelf.thumbnails
    assert first.picture.pixmap().height() == round(photo_field.THUMB_PX * HIGH / WIDE)
    assert (second.picture.text(), third.picture.text()) == (DAMAGED, DAMAGED)
    assert form.rows[0].editor.text() == "", "what was added is no longer chosen"


def test_a_large_picture_is_decoded_small(shown):
    image = QImage(4000, 3000, QImage.Format.Format_RGB32)
    image.fill(QColor("blue"))
    buffer = QBuffer()
    buffer.open(QIODevice.OpenModeFlag.WriteOnly)
    image.save(buffer, "JPEG")
    found = decoded_bytes(bytes(buffer.data().data()))
    assert max(found.width(), found.height()) == photo_field.THUMB_PX
    thumbnail = shown(Thumbnail(PhotoView("d" * 64, "blue", bytes(buffer.data().data()))))
    assert "blue" in thumbnail.picture.accessibleName()
