"""How many pixels a picture has, read from its header alone: nothing is decoded for it.

PNG: the first chunk, IHDR, of ISO/IEC 15948, 11.2.2. JPEG: the frame header of ITU-T T.81, B.2.2,
found by following the marker segments of B.1.1.4.
"""

from benchstation.quantities.notation import fixed

LARGEST_BYTES = 12_000_000
MOST_PIXELS = 60_000_000
"""A decoded picture takes four bytes a pixel: 240 MB."""
LONGEST_SIDE = 16_000
_PNG = b"\x89PNG\r\n\x1a\n"
_STARTS = frozenset(range(0xC0, 0xD0)) - {0xC4, 0xC8, 0xCC}
"""Start of frame, of every process; DHT, JPG and DAC lie among them."""
_ALONE = frozenset((0x01, *range(0xD0, 0xD9)))
"""Markers without a segment: TEM, RSTm, SOI."""
_SCAN, _END = 0xDA, 0xD9


def pixel_size(data: bytes) -> tuple[int, int] | None:
    """Return width and height of a PNG or JPEG; ``None`` where its header does not say them."""
    if data.startswith(_PNG):
        if data[12:16] != b"IHDR" or len(data) < 24:
            return None
        return int.from_bytes(data[16:20]), int.from_bytes(data[20:24])
    return _of_jpeg(data) if data.startswith(b"\xff\xd8") else None


def _of_jpeg(data: bytes) -> tuple[int, int] | None:
    at = 2
    while at + 4 <= len(data) and data[at] == 0xFF:
        marker = data[at + 1]
        if marker == 0xFF:  # any number of fill bytes may stand before a marker
            at += 1
        elif marker in _ALONE:
            at += 2
        elif marker in (_SCAN, _END):
            return None
        else:
            length = int.from_bytes(data[at + 2 : at + 4])
            if marker in _STARTS:
                if length < 8 or at + 9 > len(data):
                    return None
                return int.from_bytes(data[at + 7 : at + 9]), int.from_bytes(data[at + 5 : at + 7])
            at += 2 + max(2, length)
    return None


def why_not_drawn(width: int, height: int) -> str:
    """Return why a picture of this size is not decoded; empty: it is."""
    if width < 1 or height < 1:
        return "the picture's header does not say its size"
    if width * height > MOST_PIXELS or max(width, height) > LONGEST_SIDE:
        return (
            f"the picture has {width} × {height} pixels; at most "
            f"{fixed(MOST_PIXELS / 1e6, 0)} million and {LONGEST_SIDE} on a side are allowed"
        )
    return ""
