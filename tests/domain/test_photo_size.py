"""A picture's size is read from its header, and a trap is refused before it is decoded."""

import struct

import pytest

from benchstation.demo.picture import demo_png
from benchstation.domain.photo_size import pixel_size, why_not_drawn
from benchstation.domain.photos import photo_of
from benchstation.domain.refusals import NotAllowedError
from tests.picture_headers import jpeg, png

# A quantization table and a comment, with a frame marker's bytes inside that mean nothing.
DQT = b"\xff\xdb" + struct.pack(">H", 67) + bytes(65)
COMMENT = b"\xff\xfe" + struct.pack(">H", 12) + b"\xff\xc0\x00\x11\x08\xff\xff\xff\xff\x03"
DHT = b"\xff\xc4" + struct.pack(">H", 21) + bytes(19)


@pytest.mark.parametrize("size", [(1, 1), (640, 480), (480, 640), (65535, 2), (20_000, 20_000)])
@pytest.mark.parametrize(
    "make",
    [
        png,
        jpeg,
        lambda w, h: jpeg(w, h, start=0xC2),
        lambda w, h: jpeg(w, h, before=DQT + COMMENT + DHT),
        lambda w, h: jpeg(w, h, before=b"\xff\xff" + DQT[1:]),
    ],
)
def test_the_header_says_the_size(make, size):
    assert pixel_size(make(*size)) == size


@pytest.mark.parametrize(
    "data",
    [
        b"",
        b"GIF89a",
        png(640, 480)[:20],
        b"\x89PNG\r\n\x1a\n" + bytes(30),
        jpeg(640, 480)[:24],
        b"\xff\xd8\xff\xd9",
        b"\xff\xd8\xff\xe0 picture \xff\xd9",
        b"\xff\xd8" + b"\xff\xda" + jpeg(640, 480)[2:],
        b"\xff\xd8" + b"\xff" * 100_000,
    ],
)
def test_a_header_that_says_none_is_none(data):
    assert pixel_size(data) is None


@pytest.mark.parametrize("make", [png, jpeg])
@pytest.mark.parametrize(
    ("size", "taken"),
    [
        ((4000, 3000), True),
        ((8000, 7500), True),
        ((16_000, 3000), True),
        ((20_000, 20_000), False),
        ((16_001, 10), False),
        ((8000, 7501), False),
        ((0, 10), False),
    ],
)
def test_a_trap_is_refused_in_words_before_anything_is_decoded(make, size, taken):
    if taken:
        assert photo_of(make(*size), "it").data
        return
    with pytest.raises(NotAllowedError, match=r"pixels; at most 60 million|does not say its size"):
        photo_of(make(*size), "it")


def test_a_picture_of_the_camera_is_taken():
    assert why_not_drawn(*pixel_size(demo_png(1))) == ""
