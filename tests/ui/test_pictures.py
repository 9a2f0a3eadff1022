"""The README's pictures are drawn by one command, and are what the README names."""

import re

import pytest
from PIL import Image

from tests.import_reader import ROOT
from tests.ui.pictures import PLACE, SIZE, draw

SMALL_BYTES = 80_000
NAMED = re.findall(r"!\[[^\]]+\]\((\S+)\)", (ROOT / "README.md").read_text("utf-8"))


def test_the_readme_shows_each_picture_that_is_kept():
    assert [ROOT / name for name in NAMED] == [
        PLACE / f"{name}.png" for name in ("pour", "charge", "certificate")
    ]
    assert sorted(PLACE.iterdir()) == sorted(ROOT / name for name in NAMED)


@pytest.mark.parametrize("name", NAMED)
def test_a_picture_is_small_and_shows_something(name):
    file = ROOT / name
    assert file.stat().st_size <= SMALL_BYTES
    with Image.open(file) as picture:
        assert len(picture.convert("RGB").getcolors(10_000)) > 20
        assert picture.size == SIZE or picture.height > picture.width


@pytest.mark.soak
def test_the_pictures_are_drawn_by_the_program(qapp, tmp_path, capsys):
    draw(tmp_path)
    names = {line.partition(":")[0] for line in capsys.readouterr().out.splitlines()}
    assert names == {"pour.png", "charge.png", "certificate.png"}
    for name in names:
        assert (tmp_path / name).stat().st_size <= SMALL_BYTES
