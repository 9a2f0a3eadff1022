from PIL import Image

from benchstation.app import _camera
from benchstation.demo.picture import HIGH, WIDE, demo_png
from benchstation.domain.photos import PNG, photo_of


def test_it_is_a_png_that_others_decode(tmp_path):
    path = tmp_path / "p.png"
    path.write_bytes(demo_png(3))
    with Image.open(path) as picture:
        picture.load()
        assert (picture.format, picture.size) == ("PNG", (WIDE, HIGH))
        assert len(picture.getcolors(WIDE * HIGH)) > 100


def test_the_same_seed_gives_the_same_picture_and_another_one_another():
    assert demo_png(1) == demo_png(1)
    assert demo_png(1) != demo_png(2)


def test_the_demonstrations_camera_has_a_picture_to_take(tmp_path):
    (path,) = _camera(tmp_path, 7).iterdir()
    assert photo_of(path.read_bytes(), path.name).media_type == PNG
