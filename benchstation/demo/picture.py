"""A small picture for the demonstration: a piston with its discs, drawn by rule, as PNG."""

import struct
import zlib

import numpy as np
from numpy.typing import NDArray

WIDE, HIGH = 480, 360
MAGIC = b"\x89PNG\r\n\x1a\n"


def demo_png(seed: int) -> bytes:
    """Return a PNG file (ISO/IEC 15948) that differs with ``seed`` in its light."""
    rows = np.mgrid[0:HIGH, 0:WIDE][0]
    light = 40 + 60 * rows / HIGH + (seed % 7) * 4
    picture = np.stack([light, light + 8, light + 14], axis=-1)
    _block(picture, 150, 200, 190, (150, 156, 160))
    for count, half in enumerate((150, 150, 136, 120, 104, 88)):
        top = 206 + count * 14
        _block(picture, top, top + 10, half, (186 - 6 * count, 190 - 6 * count, 194 - 5 * count))
    _block(picture, 20, 340, 34, (128, 134, 140))
    return _png(np.clip(picture, 0, 255).astype(np.uint8))


def _block(
    picture: NDArray[np.float64], top: int, low: int, half: int, colour: tuple[int, int, int]
) -> None:
    middle = WIDE // 2
    shade = 1.0 - 0.45 * np.abs(np.linspace(-1.0, 1.0, 2 * half))
    picture[top:low, middle - half : middle + half] = shade[None, :, None] * np.array(colour)


def _png(picture: NDArray[np.uint8]) -> bytes:
    lines = b"".join(b"\0" + line.tobytes() for line in picture)
    header = struct.pack(">IIBBBBB", WIDE, HIGH, 8, 2, 0, 0, 0)
    return MAGIC + b"".join(
        _chunk(kind, data)
        for kind, data in ((b"IHDR", header), (b"IDAT", zlib.compress(lines, 6)), (b"IEND", b""))
    )


def _chunk(kind: bytes, data: bytes) -> bytes:
    checked = kind + data
    return struct.pack(">I", len(data)) + checked + struct.pack(">I", zlib.crc32(checked))
